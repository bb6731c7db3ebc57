/**
 * From one region to the next, as the joint values at the ends of straight joint moves. All candidate paths
 * (candidate-paths.ts) are sorted by the time they take, and the quickest that keeps every body clear for
 * its whole length and every joint inside its travel is taken; only if none does is a path searched by
 * sampling (rrt.ts). The head leaves and comes down along the build direction.
 */
import type { Scene } from '../../clearance/scene.js';
import type { Joint } from '../../machine/machine.js';
import type { Bulk } from './swept-bounds.js';
import { explore } from './rrt.js';
import { ClearMove, type MoveTrouble } from './clear-move.js';
import { trapezoid } from '../timing/trapezoid.js';
import { type CandidatePath, lifted, raised, candidatePaths } from './candidate-paths.js';

export interface Transfer {
  /** Joint values at the end of each move; the last is where the transfer leads. */
  readonly knots: readonly Float64Array[];
  /** What the transfer breaks; undefined if it keeps clear and inside all travel. */
  readonly trouble: MoveTrouble | undefined;
  /** Distance that is kept along the whole move, mm. */
  readonly kept: number;
}

/** Regions that a transfer leads from (-1 at the start of the job) and to. */
export interface TransferEnds {
  readonly from: number;
  readonly to: number;
}

/** Height over the clearance, over both ends, from which a path is searched by sampling, mm. */
const LEAVE = 2;

/**
 * @param start joint values with the tip where it last worked
 * @param end joint values with the tip where it is to work next
 * @param chordError of the tip against its path while it is led, mm
 */
export function planTransfer(
  scene: Scene,
  bulk: Bulk,
  start: Float64Array,
  end: Float64Array,
  chordError: number,
  ends: TransferEnds,
): Transfer {
  const { joints, clearance } = scene.setting.machine;
  const all = candidatePaths(bulk, start, end, chordError);
  const quickest = all
    .map((path) => ({ path, seconds: secondsOf(joints, start, path) }))
    .sort((x, y) => x.seconds - y.seconds);
  for (const share of CLEARANCE_SHARES) {
    const free = new ClearMove(scene, share);
    const kept = share * clearance;
    for (const { path } of quickest) {
      if (!troubleOf(free, start, path.knots, ends))
        return { knots: path.knots, trouble: undefined, kept };
    }
    const knots = searched(free, start, end, ends);
    if (knots) return { knots, trouble: undefined, kept };
  }
  // What is reported is what obstructs the path over everything.
  const { knots } = all.at(-1)!;
  return { knots, trouble: troubleOf(new ClearMove(scene), start, knots, ends), kept: 0 };
}

/** Shares of the clearance that are tried: where a run begins or ends too near, no path keeps all of it. */
const CLEARANCE_SHARES = [1, 0.5, 0.25];

function searched(
  free: ClearMove,
  start: Float64Array,
  end: Float64Array,
  { from, to }: TransferEnds,
): readonly Float64Array[] | undefined {
  const { machine } = free.scene.setting;
  const height = machine.clearance + LEAVE;
  const [high, over] = [lifted(machine, start, height), lifted(machine, end, height)];
  if (free.trouble(start, high, from) || free.trouble(end, over, to)) return undefined;
  const path = explore(free, high, over);
  return path && [high, ...path, over, end];
}

/** Leaves along the build direction until everything is on the other side of the tip. */
export function planRetreat(scene: Scene, bulk: Bulk, start: Float64Array, from: number): Transfer {
  const high = raised(bulk, start);
  const troubleWith = (free: ClearMove): MoveTrouble | undefined => free.trouble(start, high, from);
  for (const share of CLEARANCE_SHARES) {
    const trouble = troubleWith(new ClearMove(scene, share));
    if (!trouble) return { knots: [high], trouble, kept: share * bulk.machine.clearance };
  }
  return { knots: [high], trouble: troubleWith(new ClearMove(scene)), kept: 0 };
}

function troubleOf(
  free: ClearMove,
  start: Float64Array,
  knots: readonly Float64Array[],
  { from, to }: TransferEnds,
): MoveTrouble | undefined {
  for (const [i, knot] of knots.entries()) {
    const over = i === 0 ? from : i === knots.length - 1 ? to : undefined;
    const trouble = free.trouble(knots[i - 1] ?? start, knot, over);
    if (trouble) return trouble;
  }
  return undefined;
}

/** Time of a path that stops at every knot, or, where it is smooth, only at the ends of the curve; s. */
function secondsOf(
  joints: readonly Joint[],
  start: Float64Array,
  { knots, smooth }: CandidatePath,
): number {
  const pieces = smooth
    ? [knots.slice(0, 1), knots.slice(1, -1), knots.slice(-1)]
    : knots.map((k) => [k]);
  let before = start;
  let sum = 0;
  for (const piece of pieces) {
    if (piece.length === 0) continue;
    // At full speed of the slowest joint, and once up to speed and down again.
    let cruise = 0;
    let ramp = 0;
    for (const knot of piece) {
      const seconds = joints.map((j, i) => Math.abs(knot[i]! - before[i]!) / j.speed);
      const most = Math.max(...seconds);
      cruise += most;
      joints.forEach((j, i) => {
        if (most > 0) ramp = Math.max(ramp, ((seconds[i]! / most) * j.speed) / j.acceleration);
      });
      before = knot;
    }
    // A unit speed over `cruise` with the acceleration that takes `ramp` to reach it.
    if (cruise > 0) sum += trapezoid(cruise, 0, 0, 1, 1 / ramp).seconds;
  }
  return sum;
}
