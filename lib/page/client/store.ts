/**
 * The state of the page: what the user has chosen and where the program stands; views listen and draw
 * what changed.
 */

export const MODES = {
  region: 'region',
  flow: 'flow',
  speed: 'speed',
  tilt: 'tilt of the head',
  height: 'height of the bead',
  pace: 'joint that sets the pace',
  finding: 'findings',
} as const;
export type ColourMode = keyof typeof MODES;

export interface PlayerState {
  /** s from the start of the program */
  time: number;
  playing: boolean;
  /** Program seconds per second. */
  rate: number;
  mode: ColourMode;
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

export type StateChange = Partial<PlayerState>;

export class Store {
  readonly state: PlayerState;
  readonly #listeners: ((state: PlayerState, change: StateChange) => void)[] = [];

  constructor(state: PlayerState) {
    this.state = state;
  }

  set(change: StateChange): void {
    for (const key of Object.keys(change) as (keyof PlayerState)[]) {
      if (this.state[key] === change[key]) delete change[key];
    }
    if (Object.keys(change).length === 0) return;
    Object.assign(this.state, change);
    for (const listener of this.#listeners) listener(this.state, change);
  }

  listen(listener: (state: PlayerState, change: StateChange) => void): void {
    this.#listeners.push(listener);
  }
}
