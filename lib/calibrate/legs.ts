/**
 * The moves from one touch to the next: up along the head's axis, across with all joints at once, down to a
 * few millimetres over the next touch. Of several heights the lowest is taken over which everything keeps
 * clear; if none does, the head goes up to where the start lines leave it, the table turns under it there,
 * and it comes down again.
 *
 * A rotary joint that has play arrives at every touch from below: it overshoots below its value by its
 * take-up and then comes up to it, so that all readings lie on one side of the play. Where play itself is
 * measured, one joint is made to arrive from the side that the touch asks for.
 */
import { Fault } from '../base/fault.js';
import { DEG } from '../base/vector.js';
import type { Joint, Machine } from '../machine/machine.js';
import { type SearchWay, type TouchRoom, isFree } from './clear.js';
import { limitOf } from '../machine/inverse.js';
import type { CandidateTouch } from './touch-poses.js';

/** Heights that are tried beside the approach, mm over the touch. */
const LEG_HEIGHTS = [12, 25, 50, 80, 120];
/** How far a joint overshoots its value beyond twice its play, rad and mm. */
const PAST_VALUE = { rotary: 0.5 * DEG, linear: 1 } as const;

/** From which side a joint comes to its value at a touch. */
export interface Arrival {
  /** Index in `Machine.joints`. */
  readonly joint: number;
  readonly from: 'below' | 'above';
}

/** Joint values over a touch by a height, mm. */
export const over = ({ joints, down }: CandidateTouch, height: number): Float64Array =>
  joints.map((v, i) => v - height * down[i]!);

/**
 * @param from where the head stands, over the touch before (or at the ready values)
 * @returns joint values at the ends of the moves; the last is the approach over the touch
 * @throws Fault `calibrate/no-way`
 */
export function legTo(
  room: TouchRoom,
  from: { readonly at: Float64Array; readonly touch: CandidateTouch | undefined },
  next: CandidateTouch & { readonly arrive?: Arrival },
  number: number,
  { approach }: SearchWay,
): Float64Array[] {
  const { machine } = room;
  const end = over(next, approach);
  const heights = [approach, ...LEG_HEIGHTS.filter((h) => h > approach)];
  for (const height of heights) {
    const start = from.touch ? over(from.touch, height) : from.at;
    const high = over(next, height);
    const knots = [start, ...arrivals(machine, start, high, next.arrive), end];
    if (clear(room, from.at, knots)) return knots;
  }
  const still = (joints: Float64Array): Float64Array =>
    joints.map((v, i) => (machine.joints[i]!.kind === 'linear' ? machine.ready[i]! : v));
  for (const height of heights) {
    const [start, high] = [from.touch ? over(from.touch, height) : from.at, over(next, height)];
    const [left, turned] = [still(start), still(high)];
    const knots = [start, left, ...arrivals(machine, left, turned, next.arrive), high, end];
    if (clear(room, from.at, knots)) return knots;
  }
  throw new Fault(
    'calibrate/no-way',
    `no way that keeps clear leads to touch ${number} (${next.aim}); give the target more room, or ask for a lower tilt`,
  );
}

function clear(room: TouchRoom, at: Float64Array, knots: readonly Float64Array[]): boolean {
  return knots.every((knot, i) => {
    const before = knots[i - 1] ?? at;
    // Up from the touch before and down to the next, the tip is intentionally near its target.
    const touching = i === 0 || i === knots.length - 1;
    return isFree(room, before, knot, touching);
  });
}

/** Where a joint reverses so that it comes to its value from one side. */
export function pastOf(joint: Joint, value: number, from: Arrival['from']): number {
  const by = 2 * joint.backlash + PAST_VALUE[joint.kind];
  return from === 'below' ? value - by : value + by;
}

/**
 * Straight there, or past by the take-up first: the joint that is to arrive from a given side, and
 * every rotary joint with travel to spare that turns.
 */
function arrivals(
  machine: Machine,
  from: Float64Array,
  to: Float64Array,
  arrive: Arrival | undefined,
): Float64Array[] {
  const past = to.map((v, i) => {
    const joint = machine.joints[i]!;
    if (arrive?.joint === i) return pastOf(joint, v, arrive.from);
    if (joint.kind === 'linear' || v === from[i]) return v;
    const low = pastOf(joint, v, 'below');
    return limitOf(joint, low) === undefined ? low : v;
  });
  return past.some((v, i) => v !== to[i]) ? [past, to] : [to];
}
