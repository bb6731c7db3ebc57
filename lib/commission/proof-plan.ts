/**
 * The plan of a proof. First each joint moves a little, alone, at the ready place, where the head is far from
 * everything. Then, once that has gone as the file says, the tip stands at one place over the table in three
 * poses: with the turning joints at zero, and twice with both of them turned. Where it really stands is measured
 * on the table with a ruler and a square: signs and letters show in the steps, order, places and zeros of the
 * axes in the poses.
 *
 * The machine may be wrongly described, so each move of the poses is kept clear not only on the machine as the
 * file says, but on every machine that is off by one of the errors that the poses are to find: an axis 20 mm off,
 * a zero 10 deg off, the tip 20 mm off, two joints in the other order. On those only the head is followed, for how
 * cradle and frame lie to one another is as it was built, whatever the file says of their axes. Larger heights over the table and smaller
 * turns are tried until all of them are clear.
 */
import { Fault } from '../base/fault.js';
import { DEG, type Vec3, add, cross, scale, square } from '../base/vector.js';
import { type Watch, step } from '../base/watch.js';
import { firstClose } from '../clearance/convex/conservative-advancement.js';
import { settingOf, withTip } from '../clearance/scene.js';
import { limitOf } from '../machine/inverse.js';
import { jointsOf } from '../machine/joint-chain.js';
import { linearMap, mapInto } from '../machine/linear.js';
import type { Machine } from '../machine/machine.js';
import { type Sight, expectedSight } from './seen.js';
import {
  type OtherMachine,
  asWritten,
  orderedPairs,
  withOrder,
  withPoint,
  withTipAt,
  withZero,
} from './wrong-machines.js';

/** One joint that moves alone. */
export interface ProofStep {
  /** From 1. */
  readonly number: number;
  /** Index in `Machine.joints`. */
  readonly joint: number;
  /** mm or rad, from the ready place and back. */
  readonly by: number;
  readonly expected: Sight;
}

/** One set of joint values at which the tip stands at the one place. */
export interface ProofPose {
  /** From 1; the first has the turning joints at zero. */
  readonly number: number;
  /** mm and rad, in the order of `Machine.joints`. */
  readonly joints: Float64Array;
}

/** What a real machine is to do, slowly and cold, to prove its file. */
export interface ProofPlan {
  readonly machine: Machine;
  readonly steps: readonly ProofStep[];
  /** None where no poses keep clear, as on a machine whose file has Z the wrong way round: then `refused` says so. */
  readonly poses: readonly ProofPose[];
  readonly refused?: string;
  /** Where the tip stands over the table in all poses, part frame, mm. */
  readonly place: Vec3;
}

/** How far a joint moves alone. */
const STEP_MM = 10;
const STEP_TURN = 10 * DEG;
/** What one wrong value is taken to be off at most while the poses are run. */
export const WRONG_MM = 20;
const WRONG_TURN = 10 * DEG;
/** Turns of the joints that are tried, tilting and turning, deg, and heights of the tip over the face, mm. */
const POSE_TURNS = [
  [25, 60],
  [20, 50],
  [15, 40],
  [10, 30],
] as const;
const POSE_HEIGHTS = [60, 80, 100, 130, 160];

/**
 * Plans the proof of a machine file: each joint alone, then three poses in which the tip stands at one place.
 * @param watch hears how many poses have been tried, and can end the search
 * @throws Fault `prove/no-step` where a joint has too little travel to be seen moving
 */
export function planProof(machine: Machine, watch?: Watch): ProofPlan {
  const steps = machine.joints.map((_, j) => stepOf(machine, j));
  const machines = [
    clearing(asWritten(machine), false),
    ...wrongMachines(machine).map((wrong) => clearing(wrong, true)),
  ];
  const tries = POSE_TURNS.flatMap((turns) => POSE_HEIGHTS.map((height) => ({ turns, height })));
  for (const [i, { turns, height }] of tries.entries()) {
    step(watch, 'poses', i, tries.length);
    const place = placeOver(machine, height);
    const poses = posesAt(machine, place, turns);
    if (!poses || !machines.every((isClear) => isClear(machine.ready, poses))) continue;
    return {
      machine,
      steps,
      place,
      poses: poses.map((joints, k) => ({ number: k + 1, joints })),
    };
  }
  return {
    machine,
    steps,
    place: placeOver(machine, POSE_HEIGHTS[0]!),
    poses: [],
    refused: `there are no poses at ${POSE_HEIGHTS[0]} to ${POSE_HEIGHTS.at(-1)} mm over the table that keep clear with every axis up to ${WRONG_MM} mm off; if every step goes as the file says, raise the ready place, or correct travels and bodies ("tiltwright machine check" names what meets)`,
  };
}

function stepOf(machine: Machine, j: number): ProofStep {
  const joint = machine.joints[j]!;
  const size = joint.kind === 'rotary' ? STEP_TURN : STEP_MM;
  const by = [size, -size].find((b) => limitOf(joint, machine.ready[j]! + b) === undefined);
  if (by === undefined) {
    throw new Fault(
      'prove/no-step',
      `joint ${joint.letter} has no ${joint.kind === 'rotary' ? '10 deg' : '10 mm'} of travel on either side of its ready place`,
    );
  }
  return { number: j + 1, joint: j, by, expected: expectedSight(machine, machine.ready, j, by) };
}

/** Beside the turning axis, so that a turn moves it. */
function placeOver({ face }: Machine, height: number): Vec3 {
  const reach = face.shape === 'disc' ? face.radius : Math.min(...face.size) / 2;
  return [Math.round(reach / 3), Math.round(reach / 5), height];
}

/** Joint values of the three poses; undefined if one of them leaves a travel. */
function posesAt(
  machine: Machine,
  place: Vec3,
  [tilt, turn]: readonly [number, number],
): Float64Array[] | undefined {
  const [a, b] = jointsOf(machine, 'rotary') as [number, number];
  const first = { [a]: 0, [b]: 0 };
  const isTilt = Math.abs(machine.joints[a]!.axis[2]) < Math.abs(machine.joints[b]!.axis[2]);
  const [tilting, turning] = isTilt ? [a, b] : [b, a];
  const set = (t: number, c: number): Record<number, number> => ({
    [tilting]: t * DEG,
    [turning]: c * DEG,
  });
  // The second pose turns the other way where the travel allows it.
  for (const values of [
    [first, set(tilt, turn), set(-tilt, 2 * turn)],
    [first, set(tilt, turn), set(tilt / 2, -turn)],
    [first, set(tilt, turn), set(tilt / 2, 2 * turn)],
    [first, set(-tilt, turn), set(-tilt / 2, -turn)],
    [first, set(-tilt, -turn), set(-tilt / 2, -2 * turn)],
    [first, set(tilt, -turn), set(tilt / 2, -2 * turn)],
  ]) {
    const poses = values.map((v) => poseAt(machine, place, v));
    if (poses.every((p) => p !== undefined)) return poses;
  }
  return undefined;
}

function poseAt(
  machine: Machine,
  [x, y, z]: Vec3,
  rotary: Readonly<Record<number, number>>,
): Float64Array | undefined {
  const joints = Float64Array.from(machine.joints, (_, i) => rotary[i] ?? 0);
  const map = linearMap(machine, joints);
  if (!map) return undefined;
  mapInto(map, x, y, z, joints, 0);
  return joints.every((v, i) => limitOf(machine.joints[i]!, v) === undefined) ? joints : undefined;
}

/** From the ready place to a pose: the joints that turn do so first, at the ready place of the slides. */
export function wayTo(
  { joints }: Machine,
  ready: Float64Array,
  pose: Float64Array,
): [Float64Array, Float64Array] {
  return [ready.map((v, i) => (joints[i]!.kind === 'rotary' ? pose[i]! : v)), pose];
}

/** Whether one machine keeps clear in all moves of the poses; or only its head. */
function clearing(
  { machine, values }: OtherMachine,
  headOnly: boolean,
): (ready: Float64Array, poses: readonly Float64Array[]) => boolean {
  const setting = settingOf(machine);
  const { bodies } = setting;
  const pairs = withTip(setting.pairs, bodies).filter(
    ({ body }) => !headOnly || body === bodies.wholeHead,
  );
  const keepsClear = (from: Float64Array, to: Float64Array): boolean =>
    pairs.every(
      (pair) => !firstClose(machine, setting.search, pair, values(from), values(to), setting.still),
    );
  return (ready, poses) => {
    const ways = poses.map((pose) => wayTo(machine, ready, pose));
    // Each pose is left the way that it was reached.
    return ways.every(
      ([turned, pose], i) =>
        keepsClear(ways[i - 1]?.[0] ?? ready, turned) && keepsClear(turned, pose),
    );
  };
}

/** Machines that are off by one of the errors that the poses are to find. */
function wrongMachines(machine: Machine): OtherMachine[] {
  const right = asWritten(machine);
  const out = orderedPairs(machine).map((j) => withOrder(right, j));
  const sides = [WRONG_MM, -WRONG_MM];
  for (const j of jointsOf(machine, 'rotary')) {
    const { axis, point } = machine.joints[j]!;
    const u = square(axis);
    for (const way of [u, cross(axis, u)]) {
      for (const by of sides) out.push(withPoint(right, j, add(point, scale(way, by))));
    }
    for (const by of [WRONG_TURN, -WRONG_TURN]) out.push(withZero(right, j, by));
  }
  for (const way of [
    [1, 0, 0],
    [0, 1, 0],
    [0, 0, 1],
  ] as Vec3[]) {
    for (const by of sides) out.push(withTipAt(right, add(machine.tip, scale(way, by))));
  }
  return out;
}
