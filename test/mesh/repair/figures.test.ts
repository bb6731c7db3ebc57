/** The figures of an inspection, of small solids with planted faults whose counts and places are known. */
import { describe, expect, it } from 'vitest';
import { meshFrom, scaled } from '../../../lib/mesh/build.js';
import type { Mesh } from '../../../lib/mesh/mesh.js';
import { inspect } from '../../../lib/mesh/repair/inspect.js';
import { turnedOver } from '../../../lib/mesh/repair/orient.js';
import { joined } from '../../../lib/mesh/shells.js';
import { cuboid, hollowSphere, pipe, torus } from '../../support/shapes.js';

const box = cuboid([20, 30, 40]);
const found = (mesh: Mesh): string[] => inspect(mesh).findings.map((f) => f.code);

describe('figures', () => {
  it('of a cuboid: its faces 20 x 30, 30 x 40 and 40 x 20 mm, twice each', () => {
    const i = inspect(box);
    expect(i).toMatchObject({
      triangles: 12,
      vertices: 8,
      size: [20, 30, 40],
      closed: true,
      shells: 1,
      inwardShells: 0,
      insideOut: false,
      genus: 0,
      edges: { open: 0, flipped: 0, crowded: 0 },
      flatFacets: 0,
      crossing: { pairs: 0, complete: true },
      findings: [],
    });
    expect(i.area).toBeCloseTo(5200, 9);
    expect(i.volume).toBeCloseTo(24000, 9);
    expect(i.thin).toMatchObject({ below: 0.8, samples: 2000, hits: 0 });
    expect(i.thin.least).toBeCloseTo(20, 9);
  });

  it.each([
    ['a ring', torus(20, 5, 12, 8), 1, 1, 0],
    ['a pipe', pipe(10, 8, 5, 12), 1, 1, 0],
    ['a hollow ball', hollowSphere(10, 8, 12), 0, 2, 1],
    ['two rings and a box', joined([torus(20, 5, 12, 8), torus(60, 5, 12, 8), box]), 2, 3, 0],
  ])('of %s: handles, shells and those that face inwards', (_, mesh, genus, shells, inwards) => {
    expect(inspect(mesh)).toMatchObject({
      closed: true,
      genus,
      shells,
      inwardShells: inwards,
      insideOut: false,
    });
  });

  it('of two boxes with a common corner vertex: no handle', () => {
    // Genus 0 each; the vertex that they share is taken apart before Euler's formula is used.
    const v = [...cuboid([2, 2, 2]).vertices, ...cuboid([2, 2, 2], [2, 2, 2]).vertices];
    const t = [...cuboid([2, 2, 2]).triangles, ...cuboid([2, 2, 2]).triangles.map((u) => u + 8)];
    const places = Array.from({ length: 16 }, (_, i) => v.slice(3 * i, 3 * i + 3).join());
    const mesh = meshFrom(
      Float64Array.from(v),
      Uint32Array.from(t, (u) => places.indexOf(places[u]!)),
    );
    expect(new Set(mesh.triangles).size).toBe(15);
    expect(inspect(mesh)).toMatchObject({ closed: true, genus: 0, shells: 2 });
  });

  it('of nothing', () => {
    const i = inspect(meshFrom(new Float64Array(0), new Uint32Array(0)));
    expect(i).toMatchObject({ size: [0, 0, 0], closed: false, shells: 0, volume: 0, area: 0 });
    expect(i.genus).toBeUndefined();
    expect(i.thin).toMatchObject({ samples: 0, hits: 0, least: undefined });
  });
});

describe('faults', () => {
  it('inside out, but no open mesh is', () => {
    expect(inspect(turnedOver(box))).toMatchObject({ insideOut: true, inwardShells: 1 });
    expect(found(turnedOver(box))).toEqual(['mesh/inside-out']);
    const open = turnedOver(meshFrom(box.vertices, box.triangles.slice(3)));
    expect(inspect(open).insideOut).toBe(false);
  });

  it('open, flipped and crowded edges, with a place that lies on one', () => {
    const t = box.triangles;
    const open = inspect(meshFrom(box.vertices, t.slice(3)));
    expect(open).toMatchObject({ closed: false, edges: { open: 3, flipped: 0, crowded: 0 } });
    expect(open.genus).toBeUndefined();
    const at = open.findings[0]!.at as { point: readonly number[] };
    const corners = [...t.slice(0, 3)].map((v) => [...box.vertices.slice(3 * v, 3 * v + 3)]);
    expect(corners).toContainEqual([...at.point]);
    const flipped = inspect(meshFrom(box.vertices, Uint32Array.of(t[1]!, t[0]!, ...t.slice(2))));
    expect(flipped).toMatchObject({ closed: false, edges: { open: 0, flipped: 3, crowded: 0 } });
    expect(flipped.findings[0]).toMatchObject({ code: 'mesh/flipped-facet', severity: 'error' });
    const crowded = inspect(meshFrom(box.vertices, Uint32Array.of(...t, ...t.slice(0, 3))));
    expect(crowded).toMatchObject({ closed: false, edges: { open: 0, flipped: 0, crowded: 3 } });
    expect(crowded.findings[0]).toMatchObject({ code: 'mesh/crowded-edge', severity: 'error' });
    expect([open, flipped, crowded].map((i) => i.findings[0]!.message.split(' ')[0])).toEqual(
      ['3', '3', '3'], // prettier-ignore
    );
  });

  it.each([
    [[0, 0, 0, 1, 2, 3, 2, 4, 6], 1],
    [[0, 0, 0, 1, 2, 3, 2, 4, 7], 0],
    [[0, 0, 0, 1, 2, 3, 2, 5, 6], 0],
    [[0, 0, 0, 1, 2, 3, 3, 4, 6], 0],
    [[5, 1, 0, 5, 1, 0, 2, 4, 7], 1],
    [[1, 0, 0, 2, 0, 0, 3, 1, 0], 0],
    [[0, 1, 0, 0, 2, 0, 0, 3, 1], 0],
    [[0, 0, 1, 0, 0, 2, 1, 0, 3], 0],
  ])('a facet with corners %j: %i without area', (corners, count) => {
    const mesh = meshFrom(Float64Array.from(corners), Uint32Array.of(0, 1, 2));
    expect(inspect(mesh).flatFacets).toBe(count);
    expect(found(mesh).includes('mesh/flat-facets')).toBe(count > 0);
  });

  it('facets that cross: a bar through a plate', () => {
    const mesh = joined([cuboid([30, 30, 5]), cuboid([3, 4, 30], [0.5, 0.7, -10])]);
    const all = inspect(mesh);
    expect(all.crossing.complete).toBe(true);
    // Four edges of the bar, through two faces; which facets of each meet there depends on their diagonals.
    expect(all.crossing.pairs).toBeGreaterThanOrEqual(8);
    expect(all.findings[0]).toMatchObject({ code: 'mesh/self-crossing', severity: 'warning' });
    expect(all.findings[0]!.message).toMatch(new RegExp(`^${all.crossing.pairs} pairs`));
    const some = inspect(mesh, undefined, { crossingLimit: 2 });
    expect(some.crossing).toMatchObject({ pairs: 2, complete: false });
    expect(some.findings[0]!.message).toMatch(/^at least 2 pairs/);
  });

  it('thin walls: a sheet of 0.5 mm, by the rays and the limit that are asked for', () => {
    const sheet = cuboid([50, 50, 0.5]);
    const i = inspect(sheet, undefined, { samples: 300 });
    expect(i.thin.samples).toBe(300);
    expect(i.thin.least).toBeCloseTo(0.5, 9);
    // 2 x 2500 of 5100 mm2 face each other 0.5 mm apart.
    expect(i.thin.hits / 300).toBeCloseTo(5000 / 5100, 2);
    expect(i.findings[0]).toMatchObject({ code: 'mesh/thin', severity: 'warning' });
    expect(found(cuboid([50, 50, 0.9]))).toEqual([]);
    expect(inspect(sheet, undefined, { thinBelow: 0.4 }).findings).toEqual([]);
  });

  it('a doubtful unit: a box of 1.2 mm', () => {
    expect(found(scaled(box, 0.03))).toContain('mesh/unit-doubtful');
  });

  it('no solid, where the second opinion says so of a closed mesh', () => {
    const kernel = { judge: () => ({ accepted: false, why: 'for a reason' }) } as never;
    expect(inspect(box, kernel).findings).toEqual([
      { code: 'mesh/not-solid', severity: 'error', message: 'for a reason' },
    ]);
    const open = inspect(meshFrom(box.vertices, box.triangles.slice(3)), kernel);
    expect(open.findings.map((f) => f.code)).toEqual(['mesh/open-edges']);
  });
});
