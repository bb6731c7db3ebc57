/**
 * Inverse kinematics: joint values for a nozzle tip and a build direction in the part frame.
 *
 * The direction depends on the two rotary joints alone: seen from the part it is R(w1, t1) R(w2, t2) z,
 * where w1 is the axis nearer to the part and table joints count backwards. That is the problem of two
 * successive rotations about given axes (Paden-Kahan subproblem 2; Murray, Li, Sastry, A Mathematical
 * Introduction to Robotic Manipulation, 1994, ch. 3, from memory), solved here without the assumption
 * that the axes are perpendicular or meet, so that a measured machine takes the same path as an ideal
 * one. The linear joints then follow from a 3 x 3 system.
 *
 * On a measured machine the axes miss the squareness or the parallelism that would let them point
 * exactly along the axis nearer to the part: a hole of a degree or so stays around it, and with it
 * perhaps around the table normal. There the head stands as near to the wanted direction as it can; the
 * linear joints still bring the tip exactly to where it is wanted, so layers stay where they are.
 *
 * The textbook gets the height of the middle vector over the plane of the axes from 1 - a^2 - b^2 -
 * ..., which loses half its digits near the pole. The same number is a product of four sines of half
 * sums of angles (Heron's formula on the sphere), which keeps them.
 */
import { applyDirection } from '../base/frame.js';
import {
  DEG,
  type Vec3,
  add,
  angle,
  cross,
  dot,
  length,
  scale,
  sub,
  unit,
} from '../base/vector.js';
import { jointsOf } from './joint-chain.js';
import { linearMap, mapInto } from './linear.js';
import type { Joint, Machine } from './machine.js';

/** A joint that would have to leave its travel. Values in mm or rad. */
export interface Violation {
  /** Index in `Machine.joints`. */
  readonly joint: number;
  readonly value: number;
  readonly limit: number;
}

/** One way in which the joints bring the tip to a place and point along a direction. */
export interface JointSolution {
  /** Joint values in the order of `Machine.joints`, mm and rad. */
  readonly joints: Float64Array;
  /** True where one rotary joint is free; it then keeps the value it was near to. */
  readonly pole: boolean;
  readonly violations: readonly Violation[];
}

/** Only the rotary part of a solution; the linear values are those of `near`. */
export type RotarySolution = JointSolution;

/** Below this angle between middle vector and first axis the first joint is free, rad. */
const POLE = 1e-7;
/** Widest hole around the first axis that counts as a machine's error and not as its design, rad. */
const HOLE = 3 * DEG;
/** A direction this far outside of what the axes reach still counts as on the edge, rad. */
const REACH_ROUNDING = 1e-9;

interface RotaryPair {
  /** Indices in `Machine.joints`, the one nearer to the part first. */
  readonly first: number;
  readonly second: number;
  /** +1 if a rising value turns the direction about +axis as seen from the part, -1 for a table joint. */
  readonly sign1: number;
  readonly sign2: number;
  readonly w1: Vec3;
  readonly w2: Vec3;
}

/** The two rotary joints in the order in which they stand between part and head. */
export function rotaryPair(machine: Machine): RotaryPair {
  const rotary = jointsOf(machine, 'rotary');
  const table = rotary.filter((i) => machine.joints[i]!.carriesTable).reverse();
  const head = rotary.filter((i) => !machine.joints[i]!.carriesTable);
  const [first, second] = [...table, ...head];
  if (first === undefined || second === undefined) throw new Error('machine without rotary pair');
  const sign = (i: number): number => (machine.joints[i]!.carriesTable ? -1 : 1);
  return {
    first,
    second,
    sign1: sign(first),
    sign2: sign(second),
    w1: machine.joints[first]!.axis,
    w2: machine.joints[second]!.axis,
  };
}

const UP: Vec3 = [0, 0, 1];

/**
 * Rotary values for a unit build direction: none if the axes cannot point there, one at the edge of
 * the reach and at the pole, else two. Violations name joints that no winding brings inside their
 * travel.
 *
 * @param near current joint values; windings and the free joint at the pole follow them
 */
export function solveRotaries(
  machine: Machine,
  direction: Vec3,
  near: ArrayLike<number>,
): RotarySolution[] {
  const pair = rotaryPair(machine);
  const { w1, w2 } = pair;
  const d = applyDirection(machine.mount, direction);
  // The angles that decide reach: direction and w1, head and w2, the axes.
  const [a, b, g] = [angle(d, w1), angle(UP, w2), angle(w1, w2)];
  const hole = Math.abs(b - g);
  const behind = Math.abs(Math.PI - b - g);
  if (a + REACH_ROUNDING < hole && hole < HOLE) return [inHole(machine, pair, w1, near)];
  if (Math.PI - a + REACH_ROUNDING < behind && behind < HOLE) {
    return [inHole(machine, pair, scale(w1, -1), near)];
  }
  const product = [a + g - b, g - a + b, a + b + g, a + b - g]
    .map((x) => Math.sin(x / 2))
    .reduce((p, s) => p * s, 4);
  const outside = Math.max(hole - a, a - Math.PI + behind);
  if (outside > REACH_ROUNDING) return [];
  // Middle vector c: c.w1 = d.w1 and c.w2 = up.w2, of unit length.
  const w = dot(w1, w2);
  const square = 1 - w * w;
  const alpha = (Math.cos(a) - w * Math.cos(b)) / square;
  const beta = (Math.cos(b) - w * Math.cos(a)) / square;
  const flat = add(scale(w1, alpha), scale(w2, beta));
  const gamma = Math.sqrt(Math.max(0, product)) / square;
  const signs = gamma < POLE ? [0] : [1, -1];
  return signs.map((sign) => {
    const c = unit(add(flat, scale(cross(w1, w2), sign * gamma)));
    return solutionFor(machine, pair, d, c, near);
  });
}

/** The second joint brings the head as near to the pole of the first axis as it can; the first stays. */
function inHole(
  machine: Machine,
  pair: RotaryPair,
  pole: Vec3,
  near: ArrayLike<number>,
): RotarySolution {
  const joints = Float64Array.from(near);
  const violations: Violation[] = [];
  const t2 = turnBetween(pair.w2, UP, pole);
  place(machine, pair.second, pair.sign2 * t2, near, joints, violations);
  place(machine, pair.first, near[pair.first]!, near, joints, violations);
  return { joints, pole: true, violations };
}

function solutionFor(
  machine: Machine,
  pair: RotaryPair,
  d: Vec3,
  c: Vec3,
  near: ArrayLike<number>,
): RotarySolution {
  const joints = Float64Array.from(near);
  const violations: Violation[] = [];
  const pole = length(cross(pair.w1, c)) < POLE;
  const t2 = turnBetween(pair.w2, UP, c);
  place(machine, pair.second, pair.sign2 * t2, near, joints, violations);
  if (pole) {
    // At the pole the second joint alone must point at d; the first stays where it is.
    place(machine, pair.first, near[pair.first]!, near, joints, violations);
  } else {
    place(machine, pair.first, pair.sign1 * turnBetween(pair.w1, c, d), near, joints, violations);
  }
  return { joints, pole, violations };
}

/** The right-handed turn about unit `axis` that takes the plane of u to the plane of v, (-pi, pi]. */
function turnBetween(axis: Vec3, u: Vec3, v: Vec3): number {
  const pu = sub(u, scale(axis, dot(axis, u)));
  const pv = sub(v, scale(axis, dot(axis, v)));
  return Math.atan2(dot(axis, cross(pu, pv)), dot(pu, pv));
}

function place(
  machine: Machine,
  index: number,
  value: number,
  near: ArrayLike<number>,
  joints: Float64Array,
  violations: Violation[],
): void {
  const joint = machine.joints[index]!;
  const wound = nearestWinding(joint, value, near[index]!);
  joints[index] = wound;
  const limit = limitOf(joint, wound);
  if (limit !== undefined) violations.push({ joint: index, value: wound, limit });
}

const FULL_TURN = 2 * Math.PI;
/** Rounding that a travel limit forgives, mm and rad. */
export const TRAVEL_SLACK = 1e-9;

/** value + k turns, inside the travel if any is, of those the nearest to `near`, rad. */
export function nearestWinding(joint: Joint, value: number, near: number): number {
  const nearest = value + FULL_TURN * Math.round((near - value) / FULL_TURN);
  if (joint.least - TRAVEL_SLACK <= nearest && nearest <= joint.most + TRAVEL_SLACK) return nearest;
  const up = value + FULL_TURN * Math.ceil((joint.least - TRAVEL_SLACK - value) / FULL_TURN);
  const down = value + FULL_TURN * Math.floor((joint.most + TRAVEL_SLACK - value) / FULL_TURN);
  if (up > joint.most + TRAVEL_SLACK) return nearest;
  return nearest < joint.least ? up : down;
}

/** The limit that a joint value breaks, or undefined. */
export function limitOf(joint: Joint, value: number): number | undefined {
  if (value < joint.least - TRAVEL_SLACK) return joint.least;
  if (value > joint.most + TRAVEL_SLACK) return joint.most;
  return undefined;
}

/**
 * All joint values that bring the tip to `tip` (part frame, mm) with build direction `d` (unit, part
 * frame); see solveRotaries for their number. Solutions outside of a joint's travel are returned
 * too, with the joint named, so that the caller can say what stands in the way.
 *
 * @param near current joint values
 */
export function inverse(
  machine: Machine,
  tip: Vec3,
  d: Vec3,
  near: ArrayLike<number>,
): JointSolution[] {
  return solveRotaries(machine, d, near).flatMap((rotary): JointSolution[] => {
    const map = linearMap(machine, rotary.joints);
    if (!map) return [];
    const joints = rotary.joints;
    mapInto(map, tip[0], tip[1], tip[2], joints, 0);
    const violations = [...rotary.violations];
    for (const i of map.linear) {
      const limit = limitOf(machine.joints[i]!, joints[i]!);
      if (limit !== undefined) violations.push({ joint: i, value: joints[i]!, limit });
    }
    return [{ joints, pole: rotary.pole, violations }];
  });
}
