/**
 * Two regions that obstruct one another when either is finished first are printed in turns, span of layers
 * by span of layers. Greedy: each region goes on as far as it can (found by bisection) before the other
 * takes over, so the head changes as rarely as such turns allow.
 */
import type { HindranceSearch } from './head-in-the-way.js';

/** Layers firstLayer .. lastLayer (both included) of one of the two. */
export interface Turn {
  readonly region: number;
  readonly firstLayer: number;
  readonly lastLayer: number;
}

/** @returns runs of both in turns, or undefined if both get stuck */
export function inTurns(
  ways: HindranceSearch,
  first: { readonly region: number; readonly layers: number },
  second: { readonly region: number; readonly layers: number },
): Turn[] | undefined {
  const pair = [first, second] as const;
  const done = [0, 0];
  const runs: Turn[] = [];
  let stuck = 0;
  for (let turn = 0; done[0]! < first.layers || done[1]! < second.layers; turn = 1 - turn) {
    const own = pair[turn]!;
    const other = pair[1 - turn]!;
    const from = done[turn]!;
    const to = furthest(ways, own.region, other.region, from, own.layers, done[1 - turn]!);
    if (to > from) {
      runs.push({ region: own.region, firstLayer: from, lastLayer: to - 1 });
      done[turn] = to;
      stuck = 0;
    } else if (++stuck === 2) return undefined;
  }
  return runs;
}

/** How far region i can be printed from a layer on while region j stands up to a layer, by halving. */
function furthest(
  ways: HindranceSearch,
  i: number,
  j: number,
  from: number,
  layers: number,
  until: number,
): number {
  // A layer higher up meets no more of the other than one below it, so the first layers decide; but
  // only what is asked is trusted.
  const free = (to: number): boolean => !ways.hindrance(i, j, { layers: [from, to], until });
  if (from >= layers) return from;
  if (free(layers) && staysOpen(ways, i, j, layers, until)) return layers;
  let low = from;
  let high = layers;
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (free(middle) && staysOpen(ways, i, j, middle, until)) low = middle;
    else high = middle;
  }
  return low;
}

/** True if the other region's next layer can still be printed once this one stands up to `to`. */
const staysOpen = (
  ways: HindranceSearch,
  i: number,
  j: number,
  to: number,
  until: number,
): boolean => !ways.hindrance(j, i, { layers: [until, until + 1], until: to });
