/**
 * A touch as it happens: from joint values above a target the linear joints carry the tip down the head's
 * own axis until it meets the target. The same code plans on the machine as drawn and simulates a machine
 * with errors, which then stops elsewhere.
 */
import type { Vec3 } from '../base/vector.js';
import { forward } from '../machine/forward.js';
import { linearMap } from '../machine/linear.js';
import type { Machine } from '../machine/machine.js';
import type { DeviatedMachine } from './effect.js';
import { type Aim, kindOf, distanceLeft } from './targets.js';

/** Rounds of Newton's rule; over a face one does, over a ball four. */
const NEWTON_ROUNDS = 20;
const CONTACT_ACCURACY = 1e-10;

/** Change of all joint values for 1 mm of tip along the head's axis, machine as drawn. */
export function downward(machine: Machine, joints: ArrayLike<number>): Float64Array | undefined {
  const map = linearMap(machine, joints);
  if (!map) return undefined;
  const d = forward(machine, joints).direction;
  const out = new Float64Array(joints.length);
  map.linear.forEach((joint, k) => {
    const row = map.matrix.subarray(4 * k, 4 * k + 3) as unknown as Vec3;
    out[joint] = -(row[0] * d[0] + row[1] * d[1] + row[2] * d[2]);
  });
  return out;
}

/**
 * Joint values at which tip and target touch; undefined if the tip misses the target.
 * @param down joint values for 1 mm down
 */
export function contact(
  { machine, targets, flat, stands, slack }: DeviatedMachine,
  aim: Aim,
  from: ArrayLike<number>,
  down: ArrayLike<number>,
): Float64Array | undefined {
  const target = targets.find((t) => t.kind === kindOf(aim));
  if (!target) return undefined;
  const joints = Float64Array.from(from);
  for (let round = 0; round < NEWTON_ROUNDS; round++) {
    const left = distanceLeft(machine, flat, aim, target, stands.told(joints, slack));
    if (!Number.isFinite(left)) return undefined;
    for (let i = 0; i < joints.length; i++) joints[i]! += left * down[i]!;
    if (Math.abs(left) < CONTACT_ACCURACY) return joints;
  }
  return undefined;
}
