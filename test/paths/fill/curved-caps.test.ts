/** Caps of curved layers against discs: which places must be straight follows from how far the cap below reaches. */
import { beforeAll, expect, test } from 'vitest';
import { type PolygonKernel, loadPolygonKernel } from '../../../lib/kernel/polygon.js';
import { curvedCaps } from '../../../lib/paths/fill/curved-caps.js';
import type { Exposure } from '../../../lib/paths/fill/exposed-caps.js';
import { type Bead, volumeOf } from '../../../lib/paths/layer-bead.js';
import { type LayerSection, layerSection, sizesOf } from '../../../lib/paths/layer-section.js';
import { pathRules } from '../../../lib/paths/rules.js';
import { type Polygons, area, noPolygons } from '../../../lib/polygon/polygons.js';
import { polygonsFrom } from '../../support/polygons.js';
import { type Loop, circle, hole } from '../flat.js';

const [WIDTH, HEIGHT] = [0.45, 0.2];
let kernel: PolygonKernel;
beforeAll(async () => {
  kernel = await loadPolygonKernel();
});

const below = polygonsFrom([circle(14)]);
const cap = polygonsFrom([circle(12), hole(circle(6))]);

function bedOf(loops: readonly Loop[], density = 0.2): { beads: Bead[]; section: LayerSection } {
  const section = layerSection({
    layer: 1,
    middle: 0.3,
    loops: below,
    sizes: sizesOf(WIDTH, 0.3, HEIGHT),
    start: { rule: 'spread', away: [1, 0] },
    rules: pathRules.parse({ fill: { density } }),
    kernel,
  });
  const closed: Polygons = loops.length > 0 ? polygonsFrom(loops) : noPolygons;
  const exposed: Exposure = { of: () => closed };
  return { beads: curvedCaps(section, cap, below, exposed, 1), section };
}

/** Least and greatest distance of a bead's points from the origin. */
const reachOf = ({ xy }: Bead): [number, number] => {
  const all = Array.from({ length: xy.length / 2 }, (_, i) =>
    Math.hypot(xy[2 * i]!, xy[2 * i + 1]!),
  );
  return [Math.min(...all), Math.max(...all)];
};
const isRing = (bead: Bead): boolean => {
  const [least, most] = reachOf(bead);
  return bead.closed && most - least < 0.05;
};

test('all rings where the cap lies on one that was closed below, or steps in by less than a bead', () => {
  for (const inner of [5, 6, 6.3]) {
    const { beads } = bedOf([circle(13), hole(circle(inner))]);
    expect(beads.length).toBeGreaterThan(10);
    expect(beads.every(isRing)).toBe(true);
  }
});

test('straight where the cap begins over the fill, and half a spacing beyond it, rings on the rest', () => {
  const { beads, section } = bedOf([circle(13), hole(circle(9))]);
  const edge = 9 + section.sizes.spacing / 2;
  const [rings, straight] = [beads.filter(isRing), beads.filter((b) => !isRing(b))];
  expect(rings.length).toBeGreaterThanOrEqual(Math.floor((12 - edge) / section.sizes.spacing) - 1);
  for (const ring of rings) expect(reachOf(ring)[0]).toBeGreaterThan(edge - 0.05);
  expect(straight.length).toBeGreaterThan(0);
  for (const bead of straight) expect(reachOf(bead)[1]).toBeLessThan(edge + 0.05);
  // Nothing is lost or laid twice.
  expect(volumeOf(beads, HEIGHT) / HEIGHT / area(cap)).toBeCloseTo(1, 1);
});

test('no straight ones over a layer without gaps, and none where nothing is below', () => {
  expect(bedOf([], 1).beads.every(isRing)).toBe(true);
  const { section } = bedOf([]);
  const beads = curvedCaps(section, cap, noPolygons, { of: () => noPolygons }, 1);
  expect(beads.every(isRing)).toBe(true);
});

test('what lies over the contours below is held by them', () => {
  // Contours of 1.1 mm leave fill within a radius of 5.9 mm below; the cap begins at 6.
  const { section } = bedOf([]);
  const beads = curvedCaps(section, cap, polygonsFrom([circle(7)]), { of: () => noPolygons }, 1.1);
  expect(beads.every(isRing)).toBe(true);
});
