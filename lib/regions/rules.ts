/** The settings of a job for its regions. */
import { z } from 'zod';
import { steerRules } from './requests/steer.js';

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
  pedestal: z
    .number()
    .min(0)
    .max(100)
    .default(0)
    .describe(
      'mm; the part is lifted on columns of this height under its foot, printed first and sawn off later, so that the head gets under it; they enclose as much of the foot as carries the part; 0 for none',
    ),
  steady: z
    .number()
    .min(0)
    .max(45)
    .default(2)
    .describe(
      'deg; how far the part, not held by anything, must be able to tip in a pose that is chosen for it; on a pedestal 0 will do',
    ),
  most: z.int().min(1).max(64).default(12).describe('largest number of regions'),
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
    .describe(
      'mm2; least contact of a region with what it stands on, and of the first layer with the table',
    ),
  hold: z
    .strictObject({
      force: z
        .number()
        .min(0)
        .default(2)
        .describe(
          'N; sideways push of the head at the top of a piece, which its base must carry together with its own weight lying on its side',
        ),
      stress: z
        .number()
        .positive()
        .default(10)
        .describe('MPa; greatest bending stress in the base, across the layers'),
      table: z
        .number()
        .positive()
        .default(2)
        .describe(
          'MPa; greatest tension between the first layer and the table (no source: it depends on table, material and temperatures; pull a test piece off yours)',
        ),
      density: z
        .number()
        .positive()
        .optional()
        .describe('g/cm3, for the weight; left out: that of the material'),
    })
    .prefault({})
    .describe('whether a piece holds on to what it stands on'),
  footing: z
    .enum(['refuse', 'pedestal', 'report'])
    .default('refuse')
    .describe(
      'what is done where the part would not hold on to the table. refuse: the job ends; pedestal: it is put on a pedestal of 3 mm; report: it is planned all the same, with an error among the findings',
    ),
  foot: z
    .number()
    .min(0)
    .max(2)
    .default(0.2)
    .describe('mm; what lies wholly within this height of the table face rests on it'),
  lean: z
    .number()
    .min(0)
    .max(60)
    .default(35)
    .describe(
      'deg; how far a cut plane may lean against the build direction of its region; 0 keeps all cuts square to it',
    ),
  worth: z
    .number()
    .min(0)
    .default(0.2)
    .describe('mm2; a cut that relieves less than this is not made'),
  tolerance: z
    .number()
    .min(0)
    .max(0.05)
    .default(0.003)
    .describe(
      'share of the surface that may hang in a region where the search is not strict; the best plan is kept',
    ),
  effort: z
    .int()
    .min(1)
    .max(10_000)
    .default(90)
    .describe('how many unfinished plans each search goes on from'),
  children: z.int().min(1).max(64).default(8).describe('how many cuts are made on each of them'),
  directions: z
    .int()
    .min(20)
    .max(2000)
    .default(220)
    .describe('even directions over the sphere to try'),
  poses: z
    .int()
    .min(1)
    .max(64)
    .default(24)
    .describe('how many resting poses are tried when the pose is free'),
  detail: z
    .int()
    .min(500)
    .max(100_000)
    .default(4000)
    .describe('triangles of the simplified part on which the search works'),
  steer: steerRules.prefault({}).describe('what is asked of the plan'),
});

export type RegionRules = z.output<typeof regionRules>;
