/** What a job says about regions. */
import { z } from 'zod';

export const regionRules = z.strictObject({
  overhang: z
    .number()
    .min(5)
    .max(85)
    .default(45)
    .describe(
      'deg; steepest self-supporting angle from the build direction (45 is common practice)',
    ),
  pose: z
    .enum(['given', 'free'])
    .default('given')
    .describe(
      'given: the part stands as it is; free: resting poses are tried, the given one among them',
    ),
  most: z.int().min(1).max(64).default(16).describe('largest number of regions'),
  tilt: z
    .number()
    .min(0)
    .max(180)
    .default(180)
    .describe('deg; largest tilt, where the machine allows more'),
  contact: z
    .number()
    .min(0)
    .default(4)
    .describe('mm2; least contact of a region with what it stands on'),
  oblique: z
    .boolean()
    .default(true)
    .describe(
      'whether a cut plane may lean, by up to 35 deg, against the build direction of its region',
    ),
  beam: z
    .int()
    .min(1)
    .max(32)
    .default(4)
    .describe('how many unfinished plans are kept at each step'),
  children: z
    .int()
    .min(1)
    .max(64)
    .default(10)
    .describe('how many cuts are tried exactly on each of them'),
  directions: z
    .int()
    .min(20)
    .max(2000)
    .default(220)
    .describe('even directions over the sphere to try'),
});

export type RegionRules = z.output<typeof regionRules>;
