/** What the person has chosen and where the program stands; views listen and draw what changed. */

export const MODES = {
  region: 'region',
  flow: 'flow',
  speed: 'speed',
  pace: 'joint that sets the pace',
  finding: 'findings',
} as const;
export type Mode = keyof typeof MODES;

export interface State {
  /** s from the start of the program */
  time: number;
  playing: boolean;
  /** Program seconds a second. */
  rate: number;
  mode: Mode;
  /** What stands still on the screen. */
  still: 'part' | 'frame';
  /** Only the layer that is being laid. */
  alone: boolean;
  moves: boolean;
  machine: boolean;
  skin: 'hidden' | 'clear' | 'error';
  /** Index in the list of findings, -1 for none. */
  finding: number;
}

export type Change = Partial<State>;

export class Store {
  readonly state: State;
  readonly #listeners: ((state: State, change: Change) => void)[] = [];

  constructor(state: State) {
    this.state = state;
  }

  set(change: Change): void {
    for (const key of Object.keys(change) as (keyof State)[]) {
      if (this.state[key] === change[key]) delete change[key];
    }
    if (Object.keys(change).length === 0) return;
    Object.assign(this.state, change);
    for (const listener of this.#listeners) listener(this.state, change);
  }

  listen(listener: (state: State, change: Change) => void): void {
    this.#listeners.push(listener);
  }
}
