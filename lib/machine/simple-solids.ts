/** Simple solids as the machine file gives them. Millimetres. */
import { z } from 'zod';
import type { Mesh } from '../base/mesh.js';
import type { Vec3 } from '../base/vector.js';
import { type BoxTree } from '../mesh/bvh.js';
import { UNITS, type Unit } from '../mesh/units.js';
import type { HeadPoint } from './outline.js';

import { LONGEST_PATH } from './text-lengths.js';

const triple = z.tuple([z.number(), z.number(), z.number()]);

export const boxFile = z.strictObject({
  shape: z.literal('box'),
  from: triple.describe('least corner, mm'),
  to: triple.describe('greatest corner, mm'),
});

const cylinder = z.strictObject({
  shape: z.literal('cylinder'),
  from: triple.describe('centre of one end, mm'),
  to: triple.describe('centre of the other end, mm'),
  radius: z.number().positive().describe('of the cylinder, mm'),
});

export const solidFile = z.discriminatedUnion('shape', [boxFile, cylinder]);

/** A closed mesh, for shapes that boxes and cylinders do not describe. */
export const meshFile = z.strictObject({
  shape: z.literal('mesh'),
  vertices: z.array(triple).min(4).describe('points of the surface, mm'),
  triangles: z
    .array(z.tuple([z.int().min(0), z.int().min(0), z.int().min(0)]))
    .min(4)
    .describe('three vertices each, counted from 0, counter-clockwise seen from outside; closed'),
});

/** A closed mesh in a file of its own. It is put in place of its name before a machine is read. */
export const namedMesh = z.strictObject({
  shape: z.literal('file'),
  name: z
    .string()
    .max(LONGEST_PATH)
    .regex(
      /^(?![/\\])(?!.*(^|[/\\])\.\.([/\\]|$))(?!.*:).+$/,
      'a file in the folder of the machine file or below it',
    )
    .describe(
      'STL, OBJ, PLY, 3MF, GLB or STEP, beside the machine file; closed, nothing in it is healed',
    ),
  unit: z
    .enum(Object.keys(UNITS) as [Unit, ...Unit[]])
    .optional()
    .describe('of an STL, OBJ or PLY file, which states none; the others state their own'),
});

/** A closed mesh in either way. */
export const closedMesh = z.discriminatedUnion('shape', [meshFile, namedMesh]);

export type MeshSolid = { readonly shape: 'mesh'; readonly mesh: Mesh };

/** A closed mesh of the head, relative to the tip. */
export interface HeadMesh {
  readonly tree: BoxTree;
  /** Turned about the head's axis. */
  readonly outline: readonly HeadPoint[];
}

export type Solid =
  | { readonly shape: 'box'; readonly from: Vec3; readonly to: Vec3 }
  | { readonly shape: 'cylinder'; readonly from: Vec3; readonly to: Vec3; readonly radius: number };
