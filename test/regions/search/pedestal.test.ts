/** The pedestal against volumes in closed form. */
import { beforeAll, describe, expect, it } from 'vitest';
import { Fault } from '../../../lib/base/fault.js';
import { type SolidKernel, loadSolidKernel } from '../../../lib/kernel/solid.js';
import { bounds, massOf } from '../../../lib/mesh/measure.js';
import { onPedestal } from '../../../lib/regions/search/pedestal.js';
import { bunny69k, scaledToHeight, subdivide, yUp } from '../../support/open-meshes.js';
import { cuboid, pipe } from '../../support/shapes.js';

let kernel: SolidKernel;
beforeAll(async () => {
  kernel = await loadSolidKernel();
});

/**
 * A bench top of 40 x 30 x 6 mm on two legs of 6 x 6 x 10 mm, 15 mm to each side. On 15 mm there are two
 * columns of 36 mm2 and a plate of 1.2 mm: the rectangle of 36 x 6 mm around them grown by a 16-gon of
 * radius 3 mm (A + P r + 8 r^2 sin 22.5 deg), less the columns.
 */
const PART = 40 * 30 * 6 + 2 * 36 * 10;
const PLATE = 36 * 6 + 84 * 3 + 8 * 9 * Math.sin(Math.PI / 8) - 2 * 36;

describe('a pedestal', () => {
  for (const times of [0, 1, 3]) {
    it(`under two legs, facets divided ${times} times: volume and height`, () => {
      let part = kernel.unite([
        cuboid([40, 30, 6], [0, 0, 10]),
        cuboid([6, 6, 10.5], [15, 0, 0]),
        cuboid([6, 6, 10.5], [-15, 0, 0]),
      ]);
      for (let i = 0; i < times; i++) part = subdivide(part);
      const lifted = onPedestal(part, 15, 0.2);
      expect(lifted.twins.includes(-1)).toBe(false);
      expect(massOf(lifted).volume).toBeCloseTo(PART + 2 * 36 * 15 + 1.2 * PLATE, 1);
      expect(bounds(lifted).least[2]).toBeCloseTo(0, 5);
      expect(bounds(lifted).most[2]).toBeCloseTo(31, 5);
    });
  }

  /*
   * A pipe of 24 corners, radii 10 and 6. The plate is its outer outline grown by the 16-gon: by Minkowski's
   * formula A(P) + A(Q) + the sum over the edges of P of their length times the support of Q along their
   * normals, which lie 0 deg (every third) or 7.5 deg beside a corner of Q: 3 mm times the cosine.
   */
  it('stands hollow under a pipe, and the solid kernel takes it for one solid', () => {
    const lifted = onPedestal(pipe(10, 6, 20, 24), 15, 0.2);
    const { accepted, genus, volume } = kernel.judge(lifted);
    expect(accepted).toBe(true);
    // The plate closes the pipe below.
    expect(genus).toBe(0);
    const annulus = 12 * (10 ** 2 - 6 ** 2) * Math.sin(Math.PI / 12);
    const edge = 2 * 10 * Math.sin(Math.PI / 24);
    const grown =
      12 * 10 ** 2 * Math.sin(Math.PI / 12) +
      8 * edge * 3 * (1 + 2 * Math.cos(Math.PI / 24)) +
      8 * 3 ** 2 * Math.sin(Math.PI / 8);
    expect(volume).toBeCloseTo(annulus * (20 + 15) + 1.2 * (grown - annulus), 2);
  });

  it('lifts a scanned figure to one solid of the same height and more volume', () => {
    const part = scaledToHeight(yUp(bunny69k()), 100);
    const lifted = onPedestal(part, 15, 0.05);
    const judged = kernel.judge(lifted);
    expect(judged.accepted).toBe(true);
    expect(judged.volume).toBeGreaterThan(massOf(part).volume);
    expect(bounds(lifted).most[2]).toBeCloseTo(bounds(part).most[2] + 15, 6);
  });

  it('is refused where the part ends below the height of the foot', () => {
    expect(() => onPedestal(cuboid([10, 10, 0.1]), 15, 0.2)).toThrow(Fault);
  });
});
