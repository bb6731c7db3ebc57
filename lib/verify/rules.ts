/**
 * What the check allows, in millimetres and layers and never as a share of the job: a fault of one
 * layer is as bad in a large part as in a small one.
 */
import { z } from 'zod';
import { BOUNDS } from '../base/bounds.js';

export const checkRules = z.strictObject({
  run: z.boolean().default(true).describe('read the program back and check it at the end of slice'),
  layer: z
    .number()
    .min(0.05)
    .max(1)
    .default(0.15)
    .describe(
      'share of its height by which the filament of one layer may be too much or too little for the room between its beads, 0.05 to 1',
    ),
  missing: z
    .number()
    .positive()
    .default(5)
    .describe('mm; length of bead that one layer may lack or have beyond the layers about it'),
  surface: z
    .number()
    .positive()
    .default(5)
    .describe(
      "mm2; connected area of the part's surface that may lie more than half a bead under or over where the material ends",
    ),
  tableGap: z
    .number()
    .positive()
    .default(0.1)
    .describe('mm; how far the first beads may be laid over the table, or pressed into it'),
  baseGap: z
    .number()
    .positive()
    .default(0.15)
    .describe('mm; how far the first beads of a region may lie over or in what carries them'),
  hang: z
    .number()
    .positive()
    .default(10)
    .describe(
      'mm; length of bead of one layer that may hang in the air where half of that layer does',
    ),
  hollow: z
    .number()
    .positive()
    .default(5)
    .describe(
      'mm; length of the first beads of a run that may lie over hollows where more than 10 % of them do',
    ),
  twice: z
    .number()
    .positive()
    .default(5)
    .describe('mm; length of bead laid over a bead of its own layer'),
  dry: z
    .number()
    .positive()
    .default(30)
    .describe('mm; way round a layer, as if laying, on which no filament is fed'),
  blob: z
    .number()
    .positive()
    .default(0.5)
    .describe('mm3; material that leaves the nozzle while the head stands still over the part'),
  widest: z
    .number()
    .min(1)
    .max(BOUNDS.beadBores)
    .default(4)
    .describe(
      `greatest width of a bead as its filament makes it, in bores of the nozzle, 1 to ${BOUNDS.beadBores}`,
    ),
});

export type CheckRules = z.output<typeof checkRules>;
