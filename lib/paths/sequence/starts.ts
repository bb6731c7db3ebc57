/** Where a closed bead starts. The choice depends on the loop and the layer's number alone. */
import { type Frame, applyDirection } from '../../base/frame.js';
import type { PathRules } from '../rules.js';

export interface StartRule {
  readonly rule: PathRules['start']['rule'];
  /** Unit direction away from the viewer in the layer plane. */
  readonly away: readonly [number, number];
}

/** A turn to the right of less than this is no corner, rad (20 deg, our own choice). */
const CORNER = Math.PI / 9;
/** Share of a full turn between the starts of neighbouring layers: they never line up. */
const GOLDEN = (Math.sqrt(5) - 1) / 2;

/** Seen along the build direction every side is alike: then away is +x of layer space. */
export function startRule(rules: PathRules['start'], layerFromPart: Frame): StartRule {
  const [x, y] = applyDirection(layerFromPart, rules.view);
  const length = Math.hypot(x, y);
  const clear = length > 1e-6 * Math.hypot(...rules.view);
  return { rule: rules.rule, away: clear ? [-x / length, -y / length] : [1, 0] };
}

/** @param width bead width, mm: the reach within which turns make one corner */
export function startPoint(
  xy: Float64Array,
  start: StartRule,
  layer: number,
  width: number,
): number {
  switch (start.rule) {
    case 'concave': {
      const corner = sharpestConcave(xy, width);
      return corner >= 0 ? corner : farthest(xy, start.away);
    }
    case 'hidden':
      return farthest(xy, start.away);
    case 'spread': {
      const turn = 2 * Math.PI * ((layer * GOLDEN) % 1);
      return farthest(xy, [Math.cos(turn), Math.sin(turn)]);
    }
  }
}

/**
 * The point around which the loop turns most to the right, -1 if no place is a corner. A corner that
 * was set off is an arc of several small turns: so turns within `reach` (mm along the loop) on both
 * sides are summed, nearer ones counting more, which also finds the middle of the arc.
 */
function sharpestConcave(xy: Float64Array, reach: number): number {
  const n = xy.length / 2;
  const turn = new Float64Array(n);
  const step = new Float64Array(n);
  for (let i = 0; i < n; i++) {
    const j = (i + 1) % n;
    turn[i] = -turnAt(xy, (i + n - 1) % n, i, j);
    step[i] = Math.hypot(xy[2 * j]! - xy[2 * i]!, xy[2 * j + 1]! - xy[2 * i + 1]!);
  }
  let best = -1;
  let most = CORNER;
  for (let i = 0; i < n; i++) {
    if (turn[i]! <= 0) continue;
    let sum = turn[i]!;
    for (let k = i, gone = step[k]!; gone < reach; gone += step[k]!) {
      k = (k + 1) % n;
      sum += turn[k]! * (1 - gone / reach);
    }
    for (let k = (i + n - 1) % n, gone = step[k]!; gone < reach; gone += step[k]!) {
      sum += turn[k]! * (1 - gone / reach);
      k = (k + n - 1) % n;
    }
    if (sum > most + 1e-9) {
      most = sum;
      best = i;
    }
  }
  return best;
}

/** Angle by which a loop turns left at point b, rad. */
export function turnAt(xy: Float64Array, a: number, b: number, c: number): number {
  const ux = xy[2 * b]! - xy[2 * a]!;
  const uy = xy[2 * b + 1]! - xy[2 * a + 1]!;
  const vx = xy[2 * c]! - xy[2 * b]!;
  const vy = xy[2 * c + 1]! - xy[2 * b + 1]!;
  return Math.atan2(ux * vy - uy * vx, ux * vx + uy * vy);
}

function farthest(xy: Float64Array, [dx, dy]: readonly [number, number]): number {
  let best = 0;
  let most = -Infinity;
  for (let i = 0; i < xy.length / 2; i++) {
    const reach = xy[2 * i]! * dx + xy[2 * i + 1]! * dy;
    if (reach > most + 1e-9) {
      most = reach;
      best = i;
    }
  }
  return best;
}
