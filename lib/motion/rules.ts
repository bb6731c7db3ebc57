/** What a job may say about motion. Lengths mm, speeds mm/s of the nozzle tip over the part. */
import { z } from 'zod';
import type { Machine } from '../machine/machine.js';

const positive = z.number().positive();
const speed = (value: number, of: string): z.ZodDefault<z.ZodNumber> =>
  positive.default(value).describe(`mm/s; ${of}`);

export const motionRules = z.strictObject({
  speed: z
    .strictObject({
      contour: speed(35, 'outer contours'),
      innerContour: speed(50, 'contours inside the outer one'),
      thin: speed(30, 'thin walls laid as single beads'),
      cap: speed(45, 'closed layers at exposed faces'),
      fill: speed(60, 'fill'),
      brim: speed(30, 'brim'),
      link: speed(120, 'moves inside a region without material'),
      transfer: speed(120, 'moves between regions'),
    })
    .prefault({})
    .describe('upper bounds; joints, flow and least layer time may ask for less'),
  lift: z
    .number()
    .min(0)
    .default(0.6)
    .describe('mm; how far the tip rises before a link that leaves the layer'),
  wipe: z
    .number()
    .min(0)
    .default(2)
    .describe(
      'mm; how far the drawn-back nozzle goes back over the bead just laid before it leaves a region, so that its drop stays there',
    ),
  chordError: positive
    .default(0.01)
    .describe(
      'mm; how far the tip may leave its path between two blocks while a rotary axis turns',
    ),
  cornerDeviation: positive
    .default(0.05)
    .describe('mm; how far the machine may round a corner, which sets the speed it keeps there'),
  outOfTravel: z
    .enum(['refuse', 'report'])
    .default('refuse')
    .describe(
      'a joint that would leave its travel or break another of its limits ends the job before a program is written, or becomes a finding of severity error with the line of the program',
    ),
  touch: z
    .enum(['refuse', 'report'])
    .default('refuse')
    .describe(
      'two bodies that would touch, or a transfer for which no free way is found, end the job, or become a finding of severity error',
    ),
  tooNear: z
    .enum(['refuse', 'report'])
    .default('report')
    .describe(
      'two bodies that would come nearer than the clearance without touching end the job, or become a finding of severity warning',
    ),
});

export type MotionRules = z.infer<typeof motionRules>;

/**
 * The machine with the clearance on which everything is planned: what the controller may cut off the
 * corners of the program comes on top of what is to be kept.
 */
export const withRounding = (machine: Machine, { cornerDeviation }: MotionRules): Machine => ({
  ...machine,
  clearance: machine.clearance + cornerDeviation,
});
