/**
 * Keyboard shortcuts of the page as a whole and of the view. Typing in a field or on a button keeps its
 * own meaning.
 */
import type { Player } from './player.js';
import type { SceneView } from './scene.js';
import type { Store } from './store.js';
import { MODES, type ColourMode } from './store.js';

export const KEYS: readonly (readonly [string, string])[] = [
  ['Space', 'play, pause'],
  ['← →', 'one block back, on'],
  ['↑ ↓ or Page up, Page down', 'one layer on, back'],
  ['Home, End', 'begin, end'],
  ['F', 'next finding (with Shift the one before)'],
  ['C', 'next way of colouring'],
  ['O', 'this layer alone'],
  ['M', 'moves without material'],
  ['A, D, W, S', 'turn the view'],
  ['+ −', 'nearer, farther'],
  ['0', 'look at the whole part'],
];

const KEY_TURN = Math.PI / 24;

export function listenKeys(
  store: Store,
  player: Player,
  view: SceneView | undefined,
  jumps: number[],
): void {
  const { state } = store;
  const finding = (by: number): void => {
    if (jumps.length === 0) return;
    const at = jumps.indexOf(state.finding);
    const next = at < 0 ? (by > 0 ? 0 : jumps.length - 1) : (at + by + jumps.length) % jumps.length;
    store.set({ finding: jumps[next]! });
  };
  const modes = Object.keys(MODES) as ColourMode[];
  const actions: Readonly<Record<string, (event: KeyboardEvent) => void>> = {
    ' ': () => player.toggle(),
    ArrowLeft: () => player.step(-1),
    ArrowRight: () => player.step(1),
    ArrowUp: () => player.stepLayer(1),
    ArrowDown: () => player.stepLayer(-1),
    PageUp: () => player.stepLayer(1),
    PageDown: () => player.stepLayer(-1),
    Home: () => player.seek(0),
    End: () => player.seek(Infinity),
    f: () => finding(1),
    F: () => finding(-1),
    c: () => store.set({ mode: modes[(modes.indexOf(state.mode) + 1) % modes.length]! }),
    o: () => store.set({ alone: !state.alone }),
    m: () => store.set({ moves: !state.moves }),
    a: () => view?.orbit(-KEY_TURN, 0),
    d: () => view?.orbit(KEY_TURN, 0),
    w: () => view?.orbit(0, -KEY_TURN),
    s: () => view?.orbit(0, KEY_TURN),
    '+': () => view?.orbit(0, 0, 0.85),
    '=': () => view?.orbit(0, 0, 0.85),
    '-': () => view?.orbit(0, 0, 1 / 0.85),
    '0': () => view?.home(),
  };
  document.addEventListener('keydown', (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || takesKeys(event.target, event.key))
      return;
    const action = actions[event.key];
    if (!action) return;
    event.preventDefault();
    action(event);
  });
}

/** Keys that move through the page or a control are its own, unless the view has the focus. */
const MOVES = /^(Arrow|Page|Home|End)/;

function takesKeys(target: EventTarget | null, key: string): boolean {
  if (!(target instanceof HTMLElement)) return false;
  if (target.closest('select, input[type=text]')) return true;
  if (target.closest('input[type=range]')) return MOVES.test(key);
  if (target.closest('button, summary, input')) return key === ' ' || MOVES.test(key);
  return MOVES.test(key) && target.id !== 'canvas';
}
