/**
 * The settings of a job for its layers. `checkThickness` enforces the bounds that depend on the nozzle:
 * a layer is 0.1 to 0.75 of the nozzle diameter thick (Etienne, Ray, Panozzo, Hornus, Wang, Martinez,
 * McMains, Alexa, Wyvill, Lefebvre, ACM Transactions on Graphics 38(4), 2019).
 */
import { z } from 'zod';
import { Fault } from '../base/fault.js';

const positive = z.number().positive();

/** What the lattice under a field is made of. */
export const curvedLattice = z.strictObject({
  lattice: positive
    .optional()
    .describe(
      'mm; edge of the cubes of the lattice that holds the field, and walls thinner than this are refused; left out: 1 in small parts, up to 2 in larger ones and more in large ones, finer where a wall or a gap is narrower than two of them',
    ),
});

export const layerRules = z.strictObject({
  thickness: positive
    .default(0.2)
    .describe(
      'mm; greatest layer thickness: the layers of a region share its height evenly and are at most 0.1% thicker than this',
    ),
  first: positive.default(0.2).describe('mm; thickness of the first layer on the table'),
  bridge: z
    .number()
    .min(0)
    .max(200)
    .default(0)
    .describe(
      'mm; longest span that your machine lays straight across between two supported ends, as measured (see the test pieces); what is bridged does not count as hanging and its beads run along the span; 0: none',
    ),
  adapt: z
    .strictObject({
      cusp: positive
        .optional()
        .describe(
          'mm; largest stair step, measured square to the surface; layers are thinned where the surface leans to hold it; left out: all layers alike',
        ),
      least: positive
        .optional()
        .describe('mm; thinnest layer when thinning; left out: 0.1 of the nozzle diameter'),
      exempt: z
        .number()
        .min(0)
        .max(0.5)
        .default(0.02)
        .describe('share of the surface at a height that may exceed the stair step, 0 to 0.5'),
      change: z
        .number()
        .min(0.02)
        .max(1)
        .default(0.2)
        .describe(
          'by how much of its thickness a layer may differ from its neighbour when thinning, 0.02 to 1; the first layer apart',
        ),
    })
    .prefault({})
    .describe('thinner layers where the surface leans'),
  interface: z
    .strictObject({
      press: z
        .number()
        .min(0)
        .max(0.5)
        .default(0.1)
        .describe(
          'share by which the first layer on an interface is thinner than the others, so that the nozzle presses it on; 0 to 0.5',
        ),
      mostFlow: z
        .number()
        .min(1)
        .max(2)
        .default(1.3)
        .describe('greatest flow factor with which the hollows of an interface are filled, 1 to 2'),
    })
    .prefault({})
    .describe('where a region is laid on another'),
  form: z
    .enum(['auto', 'flat', 'field'])
    .default('auto')
    .describe(
      'flat: every region has flat layers; field: the part is one piece of curved layers, the level sets of a field that grows from the table; auto: flat, and curved where flat layers leave too much hanging, or stairs on skin to follow, and curved ones are clear, better and not much slower',
    ),
  curved: z
    .strictObject({
      ...curvedLattice.shape,
      tilt: z
        .number()
        .min(0)
        .max(180)
        .default(90)
        .describe('deg; largest tilt of growth, where the machine allows more'),
      lean: z
        .number()
        .min(0)
        .max(15)
        .default(5)
        .describe(
          'deg; how far the head may lean from the growth so that it turns less, over fill twice as far; costs the radius of the nozzle flat times its sine in height',
        ),
      follow: z
        .number()
        .min(0)
        .max(45)
        .default(0)
        .describe('deg; skin that is level to within this is followed by the layers; 0: none'),
      thinnest: z
        .number()
        .min(0.2)
        .max(1)
        .default(0.5)
        .describe('least thickness of a curved layer, as a share of layers.thickness'),
      thickest: z
        .number()
        .min(1)
        .max(3)
        .default(1.5)
        .describe(
          'greatest thickness of a curved layer, as a share of layers.thickness; the nozzle may allow less',
        ),
      better: z
        .number()
        .min(0)
        .max(1)
        .default(0.75)
        .describe(
          'with auto: curved layers may leave at most this share of what flat ones leave hanging in the open',
        ),
      slower: z
        .number()
        .min(1)
        .default(2.5)
        .describe('with auto: curved layers may take at most this many times as long as flat ones'),
    })
    .prefault({})
    .describe('curved layers'),
});

export type LayerRules = z.infer<typeof layerRules>;

/** Least and greatest layer thickness as shares of the nozzle diameter. */
export const LEAST_SHARE = 0.1;
export const MOST_SHARE = 0.75;

/**
 * Checks the thicknesses of the rules against the nozzle.
 * @returns the thinnest and the greatest layer thickness, mm
 * @throws Fault `layers/too-thick`, `layers/too-thin`, `layers/bad-range`
 */
export function checkThickness(
  rules: LayerRules,
  nozzleDiameter: number,
): { least: number; most: number } {
  const least = rules.adapt.least ?? LEAST_SHARE * nozzleDiameter;
  const asked: [string, number][] = [
    ['layers.thickness', rules.thickness],
    ['layers.first', rules.first],
    ['layers.adapt.least', least],
  ];
  for (const [key, value] of asked) {
    const most = MOST_SHARE * nozzleDiameter;
    if (value > most * (1 + 1e-9)) {
      throw new Fault(
        'layers/too-thick',
        `${key} is ${value} mm; the limit is ${show(most)} mm (${MOST_SHARE} of the ${nozzleDiameter} mm nozzle)`,
        { key },
      );
    }
    const thin = LEAST_SHARE * nozzleDiameter;
    if (value < thin * (1 - 1e-9)) {
      throw new Fault(
        'layers/too-thin',
        `${key} is ${value} mm; the limit is ${show(thin)} mm (${LEAST_SHARE} of the ${nozzleDiameter} mm nozzle)`,
        { key },
      );
    }
  }
  if (least > rules.thickness * (1 + 1e-9)) {
    throw new Fault(
      'layers/bad-range',
      `layers.adapt.least is ${least} mm; the limit is layers.thickness, ${rules.thickness} mm`,
      { key: 'layers.adapt.least' },
    );
  }
  return { least, most: rules.thickness };
}

const show = (value: number): string => String(Number(value.toPrecision(6)));

/** Least thickness, mm: adapted layers are never thinner, layers of equal height hardly. */
export function thinnest(rules: LayerRules, nozzleDiameter: number): number {
  const { cusp, least } = rules.adapt;
  return cusp === undefined ? rules.thickness / 1.5 : (least ?? LEAST_SHARE * nozzleDiameter);
}
