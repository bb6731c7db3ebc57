/** The settings of a job for its paths: beads, contours, caps, fill, brim, starts and links. */
import { z } from 'zod';
import { Fault } from '../base/fault.js';

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
          'mm; narrowest bead; places too narrow for it are left out and reported; auto: 0.75 of the nozzle diameter',
        ),
    })
    .prefault({})
    .describe('where a layer is narrow'),
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
    .prefault({})
    .describe('what is laid between contours and caps'),
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
    .prefault({})
    .describe('where closed beads start'),
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
    .prefault({})
    .describe('ways without material inside a layer'),
});

export type PathRules = z.output<typeof pathRules>;

/** Widest bead as a share of the nozzle's bore (common practice, no source). */
const WIDEST_BEAD = 2.5;

/**
 * The bead widths of the rules, checked against nozzle and layers.
 * @param thickness of the layers, mm
 * @returns width of a full bead and of the narrowest, mm
 * @throws Fault `paths/bad-bead`
 */
export function checkBeads(
  rules: PathRules,
  nozzleDiameter: number,
  thickness: Float64Array,
): { width: number; least: number } {
  const width = rules.bead === 'auto' ? 1.125 * nozzleDiameter : rules.bead;
  const least = rules.thin.least === 'auto' ? 0.75 * nozzleDiameter : rules.thin.least;
  const thickest = thickness.reduce((a, b) => Math.max(a, b), 0);
  const refuse = (key: string, value: number, limit: string): never => {
    throw new Fault('paths/bad-bead', `${key} is ${value} mm; the limit is ${limit}`, { key });
  };
  // A bead narrower than high would not be pressed on the layer below.
  if (width < thickest) {
    refuse('paths.bead', width, `at least the thickest layer, ${thickest} mm`);
  }
  if (width > WIDEST_BEAD * nozzleDiameter) {
    const most = `at most ${WIDEST_BEAD} of the ${nozzleDiameter} mm nozzle`;
    refuse('paths.bead', width, most);
  }
  if (least > width) refuse('paths.thin.least', least, `at most the bead width, ${width} mm`);
  return { width, least };
}
