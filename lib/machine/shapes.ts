/** Simple solids as the machine file gives them. Millimetres. */
import { z } from 'zod';
import type { Mesh } from '../base/mesh.js';
import type { Vec3 } from '../base/vector.js';

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
  radius: z.number().positive().describe('mm'),
});

export const solidFile = z.discriminatedUnion('shape', [boxFile, cylinder]);

/** A closed mesh, for what boxes and cylinders do not tell. */
export const meshFile = z.strictObject({
  shape: z.literal('mesh'),
  vertices: z.array(triple).min(4).describe('mm'),
  triangles: z
    .array(z.tuple([z.int().min(0), z.int().min(0), z.int().min(0)]))
    .min(4)
    .describe('three vertices each, counted from 0, counter-clockwise seen from outside; closed'),
});

export type MeshSolid = { readonly shape: 'mesh'; readonly mesh: Mesh };

export type Solid =
  | { readonly shape: 'box'; readonly from: Vec3; readonly to: Vec3 }
  | { readonly shape: 'cylinder'; readonly from: Vec3; readonly to: Vec3; readonly radius: number };
