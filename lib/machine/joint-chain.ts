/**
 * The joint chain as rigid frames between part, machine and head (product of exponentials; Brockett
 * 1984, from memory). Each joint moves what it carries along or about its axis as that axis stands with
 * all joints at zero, so a chain is the product of its joints' motions from the frame outwards. Joint
 * values are in the order of `Machine.joints`, mm and rad.
 */
import {
  type Frame,
  compose,
  identity,
  precede,
  precedeByShift,
  shift,
  turnInto,
} from '../base/frame.js';
import { scale } from '../base/vector.js';
import type { Joint, Machine } from './machine.js';

/** Indices in `Machine.joints` of the linear and of the rotary joints. */
export function jointsOf(machine: Pick<Machine, 'joints'>, kind: Joint['kind']): number[] {
  return machine.joints.flatMap((j, i) => (j.kind === kind ? [i] : []));
}

/** Shift along the axis of a rotary joint at a value, mm: the first harmonic of its run-out. */
export const runOutAt = ({ runOut }: Joint, value: number): number =>
  runOut[0] * (Math.cos(value) - 1) + runOut[1] * Math.sin(value);

/** The motion, relative to all joints at zero, of what hangs behind joint `index` (and is carried by it). */
export function carriedBy(machine: Machine, joints: ArrayLike<number>, index: number): Frame {
  if (index < 0) return identity();
  return chain(machine, joints, machine.joints[index]!.carriesTable, index);
}

const side = (machine: Machine, joints: ArrayLike<number>, table: boolean): Frame =>
  chain(machine, joints, table, machine.joints.length - 1);

/** The joints of one side up to number `last`, one after the other. */
function chain(machine: Machine, joints: ArrayLike<number>, table: boolean, last: number): Frame {
  const frame = identity();
  let turned: Frame | undefined;
  for (let i = 0; i <= last; i++) {
    const joint = machine.joints[i]!;
    if (joint.carriesTable !== table) continue;
    const value = joints[i]!;
    if (joint.kind === 'linear') {
      precedeByShift(frame, scale(joint.axis, value));
      continue;
    }
    turned = turnInto(turned ?? identity(), joint.axis, value, joint.point);
    const by = runOutAt(joint, value);
    if (by !== 0) for (let c = 0; c < 3; c++) turned[12 + c]! += by * joint.axis[c]!;
    precede(frame, turned);
  }
  return frame;
}

/** Machine points from part points with all joints at zero: where the table face is. */
export const faceFrame = (machine: Pick<Machine, 'origin' | 'mount'>): Frame =>
  compose(shift(machine.origin), machine.mount);

/** Machine points from part points. */
export function machineFromPart(machine: Machine, joints: ArrayLike<number>): Frame {
  return compose(side(machine, joints, true), faceFrame(machine));
}

/** Machine points from head points; the head frame has its origin in the nozzle tip, +Z up the head. */
export function machineFromHead(machine: Machine, joints: ArrayLike<number>): Frame {
  return compose(side(machine, joints, false), shift(machine.tip));
}
