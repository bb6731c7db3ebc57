/** What a job says about paths: beads, contours, caps, fill, brim, starts and links. */
import { z } from 'zod';

const autoOr = (least: z.ZodNumber): z.ZodUnion<readonly [z.ZodLiteral<'auto'>, z.ZodNumber]> =>
  z.union([z.literal('auto'), least]);

export const pathRules = z.strictObject({
  bead: autoOr(z.number().positive())
    .default('auto')
    .describe('mm; bead width; auto: 1.125 of the nozzle diameter'),
  contours: z.int().min(1).max(20).default(2).describe('beads along each edge of a layer, 1 to 20'),
  thin: z
    .strictObject({
      split: z
        .boolean()
        .default(true)
        .describe(
          'where a layer is too narrow for its contours, share its width evenly among fewer beads',
        ),
      least: autoOr(z.number().positive())
        .default('auto')
        .describe(
          'mm; narrower places are left out and reported; auto: 0.75 of the nozzle diameter',
        ),
    })
    .prefault({}),
  cap: z
    .number()
    .min(0)
    .default(0.8)
    .describe('mm; thickness of the closed layers under and over exposed faces; 0: none'),
  fill: z
    .strictObject({
      pattern: z
        .enum(['lines', 'triangles', 'gyroid'])
        .default('lines')
        .describe(
          'lines: one direction a layer, crossed by the next; triangles: three directions in every layer; gyroid: a curved wall that leans with height',
        ),
      density: z.number().min(0).max(1).default(0.15).describe('share of the space filled, 0 to 1'),
      angle: z.number().default(45).describe('deg; direction of lines and caps in the layer plane'),
    })
    .prefault({}),
  overlap: z
    .number()
    .min(0)
    .max(0.5)
    .default(0.25)
    .describe('share of the bead width by which fill and caps run into the contours, 0 to 0.5'),
  brim: z
    .number()
    .min(0)
    .default(0)
    .describe('mm; width of the flat rim around the first layer on the table; 0: none'),
  start: z
    .strictObject({
      rule: z
        .enum(['concave', 'hidden', 'spread'])
        .default('concave')
        .describe(
          'where closed beads start: on the sharpest concave corner (hidden if there is none), away from the viewer, or spread around',
        ),
      view: z
        .tuple([z.number(), z.number(), z.number()])
        .default([0, -1, 0])
        .describe('direction from the part to the viewer, part frame'),
    })
    .prefault({}),
  link: z
    .strictObject({
      longest: z
        .number()
        .min(0)
        .default(40)
        .describe(
          'mm; longest way without material inside a layer that is gone without drawing back',
        ),
    })
    .prefault({}),
});

export type PathRules = z.output<typeof pathRules>;
