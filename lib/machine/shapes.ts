/** Simple solids as the machine file gives them. Millimetres. */
import { z } from 'zod';
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

export type Solid =
  | { readonly shape: 'box'; readonly from: Vec3; readonly to: Vec3 }
  | { readonly shape: 'cylinder'; readonly from: Vec3; readonly to: Vec3; readonly radius: number };
