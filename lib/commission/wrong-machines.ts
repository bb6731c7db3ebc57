/**
 * The machine of a file, described in another way: an axis at another place, a zero elsewhere, the tip elsewhere,
 * two joints of a chain in the other order. Each takes the joint values of the file's machine, as a program tells
 * them.
 */
import { forward } from '../machine/forward.js';
import type { Vec3 } from '../base/vector.js';
import type { Joint, Machine } from '../machine/machine.js';

export interface OtherMachine {
  readonly machine: Machine;
  /** Joint values in its order from those of the file's machine. */
  readonly values: (joints: ArrayLike<number>) => Float64Array;
}

const same = (joints: ArrayLike<number>): Float64Array => Float64Array.from(joints);

/** As the file says. */
export const asWritten = (machine: Machine): OtherMachine => ({ machine, values: same });

const withJoint = (
  { machine, values }: OtherMachine,
  j: number,
  change: Partial<Joint>,
): OtherMachine => ({
  machine: {
    ...machine,
    joints: machine.joints.map((joint, i) => (i === j ? { ...joint, ...change } : joint)),
  },
  values,
});

/** The axis of joint `j` through another point, mm. */
export const withPoint = (other: OtherMachine, j: number, point: Vec3): OtherMachine =>
  withJoint(other, j, { point });

/** The tip elsewhere with all joints at zero, mm. */
export const withTipAt = ({ machine, values }: OtherMachine, tip: Vec3): OtherMachine => ({
  machine: { ...machine, tip },
  values,
});

/** Joint `j` stands at `by` (rad) where it says zero. */
export const withZero = (
  { machine, values }: OtherMachine,
  j: number,
  by: number,
): OtherMachine => ({
  machine,
  values: (joints) => {
    const out = values(joints);
    out[j]! += by;
    return out;
  },
});

/** Joints `j` and `j + 1` of one chain, the outer first, exchanged. */
export function withOrder({ machine, values }: OtherMachine, j: number): OtherMachine {
  const to = (i: number): number => (i === j ? j + 1 : i === j + 1 ? j : i);
  return {
    machine: {
      ...machine,
      joints: machine.joints.map((_, i) => machine.joints[to(i)]!),
      ready: machine.ready.map((_, i) => machine.ready[to(i)]!),
      obstacles: machine.obstacles.map((o) => ({ ...o, carriedBy: to(o.carriedBy) })),
    },
    values: (joints) => {
      const own = values(joints);
      return own.map((_, i) => own[to(i)]!);
    },
  };
}

/** Outer joints of neighbours in a chain whose order makes a difference: at least one of the two turns. */
export const orderedPairs = ({ joints }: Machine): number[] =>
  joints.flatMap((joint, j) => {
    const next = joints[j + 1];
    if (!next || next.carriesTable !== joint.carriesTable) return [];
    return joint.kind === 'linear' && next.kind === 'linear' ? [] : [j];
  });

/** Where the tip really stands over the table where the file's machine has these joint values, part frame, mm. */
export const tipOf = ({ machine, values }: OtherMachine, joints: ArrayLike<number>): Vec3 =>
  forward(machine, values(joints)).tip;
