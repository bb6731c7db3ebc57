/**
 * The job: which part, on which machine, of which material, and the rules of every stage. The file
 * names its part, machine and material by path; whoever reads it (command line, service) brings the
 * bytes. The schema is also published as JSON Schema, and every leaf of it is a command line flag.
 */
import { z } from 'zod';
import { layerRules } from '../layers/rules.js';
import { aNote, aPath, anAddress } from '../machine/text-lengths.js';
import { UNITS, type Unit } from '../mesh/units.js';
import { motionRules } from '../motion/rules.js';
import { pathRules } from '../paths/rules.js';
import { regionRules } from '../regions/rules.js';
import { checkRules } from '../verify/rules.js';

export const placeRules = z.strictObject({
  unit: z
    .enum(Object.keys(UNITS) as [Unit, ...Unit[]])
    .optional()
    .describe(
      'unit of an STL, OBJ or PLY file, millimetre if left out; 3MF, GLB and STEP files state their own',
    ),
  strict: z
    .boolean()
    .default(false)
    .describe('refuse a part that would need healing, with what is wrong in it'),
  deviation: z
    .number()
    .min(0.001)
    .max(1)
    .default(0.01)
    .describe('mm; greatest distance of the triangles from the surfaces of a STEP file'),
  scale: z.number().positive().default(1).describe('even scale about the origin'),
  height: z
    .number()
    .positive()
    .optional()
    .describe('mm; scaled evenly, after scale, so that the part as given is this high'),
  up: z
    .enum(['x', '-x', 'y', '-y', 'z', '-z'])
    .default('z')
    .describe('axis of the file that points up on the table'),
  turn: z.number().default(0).describe('deg; turned about the table normal, once it is upright'),
  at: z
    .tuple([z.number(), z.number()])
    .default([0, 0])
    .describe('mm; where the middle of the part stands on the table'),
});
export type PlaceRules = z.infer<typeof placeRules>;

/** Schema of a job file; `parse(jobFile, value, 'job')` fills in the standard values. */
export const jobFile = z.strictObject({
  $schema: anAddress.optional(),
  note: aNote.optional().describe('free text'),
  part: aPath.optional().describe('path of the mesh: STL, OBJ, PLY, 3MF, GLB or STEP'),
  machine: aPath.optional().describe('path of the machine file'),
  material: aPath.optional().describe('path of the material file'),
  place: placeRules.prefault({}).describe('how the part as given is brought onto the table'),
  regions: regionRules.prefault({}).describe('how the part is split'),
  layers: layerRules.prefault({}).describe('how regions are sliced'),
  paths: pathRules.prefault({}).describe('what is laid in a layer'),
  motion: motionRules.prefault({}).describe('how the machine moves'),
  check: z
    .preprocess((value) => (typeof value === 'boolean' ? { run: value } : value), checkRules)
    .prefault({})
    .describe('how the program is held against what it is to be; false: not at all'),
  glb: z
    .boolean()
    .default(false)
    .describe(
      'write regions/regions.glb and layers.glb, the regions and the planned beads for any viewer of glTF',
    ),
  page: z
    .boolean()
    .default(true)
    .describe(
      'write report.html, a page that shows and plays the program, and preview.png; they are made of what the check reads, so there are none without it',
    ),
});

/** A job with all its settings. */
export type Job = z.output<typeof jobFile>;
