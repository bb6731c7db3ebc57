/**
 * Length of the tip's path over the part while all joints move linearly from one set of values to the next:
 * what F measures on a controller that counts the tip. Rotary motion is divided into steps of at most one
 * degree; the chords are then short of the arc by less than 2e-5 of it (step^2 / 24).
 */
import { forwardInto } from '../machine/forward.js';
import type { Machine } from '../machine/machine.js';

const TIP_TURN_STEP = Math.PI / 180;

/** @param from,to joint values in the order of Machine.joints, mm and rad. @returns mm */
export function tipLength(
  machine: Machine,
  from: ArrayLike<number>,
  to: ArrayLike<number>,
): number {
  const n = machine.joints.length;
  let turn = 0;
  machine.joints.forEach((joint, i) => {
    if (joint.kind === 'rotary') turn = Math.max(turn, Math.abs(to[i]! - from[i]!));
  });
  const pieces = Math.max(1, Math.ceil(turn / TIP_TURN_STEP));
  const joints = new Float64Array(n);
  const pose = new Float64Array(6);
  forwardInto(machine, from, 0, pose);
  let [x, y, z] = pose as unknown as [number, number, number];
  let sum = 0;
  for (let k = 1; k <= pieces; k++) {
    for (let i = 0; i < n; i++) joints[i] = from[i]! + ((to[i]! - from[i]!) * k) / pieces;
    forwardInto(machine, joints, 0, pose);
    sum += Math.hypot(pose[0]! - x, pose[1]! - y, pose[2]! - z);
    x = pose[0]!;
    y = pose[1]!;
    z = pose[2]!;
  }
  return sum;
}

/** Below this length the tip counts as standing still, mm. */
export const STILL_TIP = 1e-6;
