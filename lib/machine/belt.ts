/**
 * Tension, stretch and turn of a toothed belt under a torque or force at the joint. Two equal spans, both
 * tight, act as two springs in parallel. Newton, millimetre, radian.
 */

import type { Machine } from './machine.js';

/** Spring of the two spans of a belt, N/mm. */
const springOf = ({ stiffness, span }: { stiffness: number; span: number }): number =>
  (2 * stiffness) / span;

/**
 * What holds joint j by its belts, N m/rad or N/mm; undefined where none of its drives has a belt.
 * Belts of several drives act side by side.
 */
export function beltStiffness({ joints, drives }: Machine, j: number): number | undefined {
  const rotary = joints[j]!.kind === 'rotary';
  const belts = (drives?.drives ?? []).flatMap(({ turns, belt }) =>
    belt && turns[j] !== 0 ? [belt] : [],
  );
  if (belts.length === 0) return undefined;
  return belts.reduce(
    (sum, belt) => sum + springOf(belt) * (rotary ? belt.radius! ** 2 / 1000 : 1),
    0,
  );
}

export interface Give {
  /** Difference of tension between the spans, N. */
  readonly tension: number;
  /** mm */
  readonly stretch: number;
  /** rad at the joint; 0 for a linear one. */
  readonly turn: number;
}

/**
 * @param load N m at a rotary joint (with `radius`, mm), or N at a linear one (radius undefined)
 * @param stiffness N of tension per unit of strain
 * @param span length of each of the two spans, mm
 */
export function beltGive(
  load: number,
  radius: number | undefined,
  stiffness: number,
  span: number,
): Give {
  const tension = radius === undefined ? Math.abs(load) : (1000 * Math.abs(load)) / radius;
  const stretch = tension / springOf({ stiffness, span });
  return { tension, stretch, turn: radius === undefined ? 0 : stretch / radius };
}
