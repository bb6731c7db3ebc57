/**
 * Units of length that part files use, and a guess when a part's size suggests that its unit is wrong.
 */
import type { Finding } from '../base/fault.js';
import type { Vec3 } from '../base/vector.js';

/** Millimetres a unit; the units of 3MF core 1.4, section 3.4. */
export const UNITS = {
  micron: 0.001,
  millimetre: 1,
  centimetre: 10,
  inch: 25.4,
  foot: 304.8,
  metre: 1000,
} as const;
export type Unit = keyof typeof UNITS;

/** Largest extents outside these, mm, are doubted (common practice for desk-sized machines, no source). */
const SMALLEST_PART = 1.5;
const LARGEST_PART = 1000;
/** What a guess should lead to, mm. */
const LIKELY = [10, 500] as const;

/** @param size extent along x, y, z as read, mm */
export function doubtfulUnit(size: Vec3): Finding | undefined {
  const extent = Math.max(...size);
  if (!(extent > 0) || !isDoubted(extent)) return undefined;
  const limit =
    extent < SMALLEST_PART ? `less than ${SMALLEST_PART} mm` : `more than ${LARGEST_PART} mm`;
  const guesses = likelyUnits(size).map(
    (name) => `${Number((extent * UNITS[name]).toPrecision(3))} mm if its unit is the ${name}`,
  );
  const guess = guesses.length > 0 ? ` It would measure ${guesses.join(', ')}.` : '';
  // As few digits as still show that it is beyond the limit.
  const shown = [3, 4, 5].map((n) => Number(extent.toPrecision(n))).find(isDoubted) ?? extent;
  return {
    code: 'mesh/unit-doubtful',
    severity: 'warning',
    message: `the part measures ${shown} mm, ${limit}; is its unit right?${guess}`,
  };
}

const isDoubted = (extent: number): boolean => extent < SMALLEST_PART || extent > LARGEST_PART;

/** Units that would give a part of this size, read as millimetres, a likely size. */
export function likelyUnits(size: Vec3): Unit[] {
  const extent = Math.max(...size);
  return (Object.keys(UNITS) as Unit[]).filter(
    (name) => extent * UNITS[name] >= LIKELY[0] && extent * UNITS[name] <= LIKELY[1],
  );
}
