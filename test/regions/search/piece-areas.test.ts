/**
 * What each piece over a plane holds, worked out without a cut, against the piece that the cut makes: every
 * triangle of it says from which facet of the body it came.
 */
import { describe, expect, it } from 'vitest';
import { seeded } from '../../../lib/base/random.js';
import { type Vec3, dot, pointAt, unit } from '../../../lib/base/vector.js';
import type { Mesh } from '../../../lib/base/mesh.js';
import { areaNormals, bounds } from '../../../lib/mesh/measure.js';
import { hangingEdges } from '../../../lib/overhang/hanging-edges.js';
import { planeOf, siteOf, standsOnTable, takeOff } from '../../../lib/regions/search/cut-move.js';
import { pieceAreas } from '../../../lib/regions/search/piece-areas.js';
import { bodyFrom } from '../../../lib/regions/search/remaining-body.js';
import { arch, cuboid, icosphere, tShape, together } from '../../support/shapes.js';

const RULES = { theta: Math.PI / 4, foot: 0.1 };

describe.each([
  ['a T', () => tShape()],
  ['an arch', () => arch(20, 10, 15, 20, 12)],
  ['a ball', () => icosphere(10, 2)],
  ['two boxes', () => together(cuboid([10, 10, 20]), cuboid([8, 8, 30], [20, 0, 0]))],
] as const)('%s', (_, make: () => Mesh) => {
  const mesh = make();
  // Facet t bears the number -1 - t.
  const body = bodyFrom({ mesh, cut: Int32Array.from(mesh.triangles.subarray(0, mesh.triangles.length / 3), (_v, t) => -10 - t) }, RULES); // prettier-ignore

  it.each([1, 2, 3])('has the areas of the pieces that are cut off it (seed %i)', (seed) => {
    const random = seeded(seed);
    const { least, most } = bounds(mesh);
    let pieces = 0;
    for (let n = 0; n < 25; n++) {
      const normal = unit([random() - 0.5, random() - 0.5, random() - 0.3]);
      const inside = least.map((low, c) => low + (most[c]! - low) * random()) as unknown as Vec3;
      const site = siteOf(body.tagged, planeOf({ normal, offset: dot(inside, normal) }));
      if (!site) continue;
      const direction = unit([normal[0] + 0.2 * random(), normal[1], normal[2]]);
      const shares = pieceAreas(body, site.section, site.parts, site.caps, direction, RULES.theta);
      expect(shares).toHaveLength(site.parts.count);
      const edges = hangingEdges(body, body.edges, direction, RULES.theta);
      shares.forEach((share, p) => {
        if (!site.parts.ofCap.includes(p)) return;
        const chosen = new Uint8Array(site.parts.count);
        chosen[p] = 1;
        const { piece, contact } = takeOff(body.tagged, site, chosen, 7);
        const normals = areaNormals(piece.mesh);
        let [area, relieved, burden] = [0, 0, 0];
        piece.cut.forEach((id, t) => {
          if (id === 7) return;
          const facet = pointAt(normals, t);
          const mm2 = Math.hypot(...facet);
          area += mm2;
          if (body.upright.facets[-10 - id]) relieved += mm2;
          if (mm2 > 1e-9 && dot(facet, direction) < -(Math.SQRT1_2 + 1e-9) * mm2) burden += mm2;
        });
        expect(share.area).toBeCloseTo(area, 6);
        expect(share.relieved).toBeCloseTo(relieved, 6);
        expect(share.contact).toBeCloseTo(contact, 6);
        expect(share.lowest).toBeCloseTo(bounds(piece.mesh).least[2], 6);
        // Facets by their area; edges that hang, and what lies within 0.2 mm of the plane, come on top.
        expect(share.burden).toBeGreaterThan(burden - 1e-6);
        const near = [...site.section.height].some((h) => h < 0 && h > -0.2);
        if (edges.length === 0 && !near) expect(share.burden).toBeCloseTo(burden, 6);
        pieces++;
      });
    }
    expect(pieces).toBeGreaterThan(10);
  });
});

it('edges that hang cost 0.4 mm2 a mm, as far as they lie in the piece', () => {
  // A bar on its edge: its lowest edge of 20 mm lies level, its flanks lean by 45 degrees and hang no more.
  const bar = cuboid([10, 20, 10]);
  const turned = bar.vertices.map((_, i) => {
    const [x, y, z] = pointAt(bar.vertices, Math.floor(i / 3));
    return [(x - z) * Math.SQRT1_2, y, (x + z) * Math.SQRT1_2][i % 3]!;
  });
  const mesh = { ...bar, vertices: turned };
  const body = bodyFrom({ mesh, cut: new Int32Array(12).fill(-1) }, { theta: Math.PI / 4 + 1e-6, foot: -99 }); // prettier-ignore
  for (const y of [-7, 0, 4.5]) {
    const site = siteOf(body.tagged, { point: [0, y, 0], normal: [0, 1, 0] })!;
    const [share] = pieceAreas(body, site.section, site.parts, site.caps, [0, 0, 1], Math.PI / 4 + 1e-6); // prettier-ignore
    expect(share!.burden).toBeCloseTo(0.4 * (10 - y), 6);
    expect(share!.contact).toBeCloseTo(100, 9);
  }
});

it('what stands on the table comes down to its foot, each body of it; hollows do not count', () => {
  const tagged = (mesh: Mesh) => ({ mesh, cut: new Int32Array(mesh.triangles.length / 3) });
  const low = cuboid([4, 4, 4], [0, 0, 0.1]);
  const high = cuboid([4, 4, 4], [9, 0, 0.3]);
  expect(standsOnTable(tagged(low), 0.1)).toBe(true);
  expect(standsOnTable(tagged(low), 0.09)).toBe(false);
  expect(standsOnTable(tagged(together(low, high)), 0.2)).toBe(false);
  expect(standsOnTable(tagged(together(low, high)), 0.3)).toBe(true);
});
