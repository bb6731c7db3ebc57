/** Places of findings on the part. */
import type { Place } from '../base/fault.js';
import type { Vec3 } from '../base/vector.js';
import type { Trace } from './trace.js';
import { placeOf } from './walk.js';

/** A place on the part, with the line and time of the block that it concerns. */
export const placeOn = (trace: Trace, block: number, point: Vec3): Place => ({
  ...placeOf(trace, block),
  point: rounded(point),
  frame: 'part',
});

/** To a thousandth: finer digits of a place say nothing to anyone. */
export const rounded = (p: Vec3): Vec3 =>
  p.map((v) => Math.round(v * 1000) / 1000 + 0) as unknown as Vec3;
