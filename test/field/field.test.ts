/**
 * Curved layers against closed forms: what needs nothing stays flat, cones and cylinders unroll, spheres keep
 * their thickness, and what hangs under flat layers is carried by curved ones. Directions are taken from
 * differences of the map's own heights, apart from the gradients that the field is built of.
 */
import { describe, expect, test } from 'vitest';
import { DEG, type Vec3 } from '../../lib/base/vector.js';
import { distanceFrom, footprintSources } from '../../lib/field/distance.js';
import {
  type FieldMap,
  foldsOf,
  growthAt,
  layerPoint,
  metricAt,
  partPoint,
} from '../../lib/field/field-map.js';
import { growerOf } from '../../lib/field/growth.js';
import type { GrowthRules } from '../../lib/field/growth-rules.js';
import { type Lattice, latticeOf } from '../../lib/field/lattice.js';
import type { Mesh } from '../../lib/mesh/mesh.js';
import { sheetsOf } from '../../lib/field/sheets.js';
import { layFlat } from '../../lib/field/lay-flat.js';
import { atNodes, oneToOne } from '../support/fields.js';
import { cuboid, cylinder, frustum, mushroom, upright } from '../support/shapes.js';

const free: GrowthRules = {
  overhang: 45 * DEG,
  follow: 0,
  mostTilt: () => 90 * DEG,
  stretch: [0.67, 2],
};
const heights = (lattice: Lattice): Float64Array => atNodes(lattice, (p) => p[2]);
const grown = (lattice: Lattice, rules: GrowthRules): FieldMap => {
  const distance = distanceFrom(lattice, footprintSources(lattice, 0.25));
  const { values } = growerOf(lattice, distance, rules)(heights(lattice));
  return layFlat(lattice, values);
};

/** Direction of growth by central differences of the height in layer space. */
function upAt(map: FieldMap, p: Vec3, step: number): Vec3 | undefined {
  const middle = layerPoint(map, p);
  if (!middle) return undefined;
  const d: number[] = [];
  for (let c = 0; c < 3; c++) {
    // One-sided where the other side is off the lattice.
    const [a = middle, b = middle] = [-step, step].map((off) =>
      layerPoint(map, p.map((x, i) => x + (i === c ? off : 0)) as unknown as Vec3),
    );
    d.push((b[2] - a[2]) / (a === middle || b === middle ? step : 2 * step));
  }
  const long = Math.hypot(...d);
  return [d[0]! / long, d[1]! / long, d[2]! / long];
}

/** Points a spacing and a half inside the box of a lattice's skin, on a grid. */
function* inner(lattice: Lattice, step: number): Generator<Vec3> {
  const { points } = lattice.skin;
  const edge = (c: number, pick: (...x: number[]) => number): number => {
    let out = points[c]!;
    for (let i = c; i < points.length; i += 3) out = pick(out, points[i]!);
    return out;
  };
  const off = 1.5 * lattice.spacing;
  const [lo, hi] = [Math.min, Math.max].map((pick) => [0, 1, 2].map((c) => edge(c, pick))) as [
    number[],
    number[],
  ];
  for (let x = lo[0]! + off; x < hi[0]! - off; x += step) {
    for (let y = lo[1]! + off; y < hi[1]! - off; y += step) {
      for (let z = lo[2]! + off; z < hi[2]! - off; z += step) yield [x, y, z];
    }
  }
}

describe.each([
  ['a box', cuboid([16, 12, 20])],
  ['a cylinder', cylinder(8, 20)],
  ['a cone that narrows', frustum(10, 6, 12)],
  ['a cone that widens by 30 deg', frustum(6, 6 + 12 * Math.tan(30 * DEG), 12)],
])('%s that flat layers carry', (_, part) => {
  test.each([2, 1.3])('has flat layers, at %d mm', (spacing) => {
    const lattice = latticeOf(part, spacing);
    const { values, turned } = growerOf(lattice, heights(lattice), free)(heights(lattice));
    expect(turned).toBe(0);
    values.forEach((g, i) => expect(g).toBeCloseTo(lattice.nodes[3 * i + 2]!, 9));
    const map = layFlat(lattice, values);
    lattice.nodes.forEach((x, i) => expect(map.layerNodes[i]).toBeCloseTo(x, 6));
  });
});

describe('layers that are cones unroll', () => {
  const tilt = 30 * DEG;
  // A block beside the axis, so that the sheets need not be cut open.
  const lattice = latticeOf(cuboid([16, 16, 12], [24, 0, 0]), 1.5);
  const growth = atNodes(
    lattice,
    ([x, y, z]) => z * Math.cos(tilt) + Math.hypot(x, y) * Math.sin(tilt),
  );
  const map = layFlat(lattice, growth);

  test('with a direction that leans out by the angle of the cone', () => {
    let n = 0;
    for (const p of inner(lattice, 1.9)) {
      const r = Math.hypot(p[0], p[1]);
      const d = growthAt(map, p)!;
      const exact = [(Math.sin(tilt) * p[0]) / r, (Math.sin(tilt) * p[1]) / r, Math.cos(tilt)];
      const cosine = d.reduce((sum, x, c) => sum + x * exact[c]!, 0);
      expect(Math.acos(Math.min(1, cosine)) / DEG).toBeLessThan(0.3);
      n++;
    }
    expect(n).toBeGreaterThan(100);
  });

  test('with thickness as given and lengths kept in the sheet', () => {
    for (const p of inner(lattice, 1.9)) {
      const { thickness, stretch } = metricAt(map, p)!;
      expect(Math.abs(thickness - 1)).toBeLessThan(0.02);
      // Each cone unrolls without stretch. Carried along the direction of growth from cone to cone, without
      // sliding, a circle about the axis grows by sin(tilt) of the way: 6 mm of 24 over the block, half of it to
      // each side. What is laid flat lies between the two.
      expect(stretch[0]).toBeGreaterThan(1 - 3 / 24);
      expect(stretch[1]).toBeLessThan(1 + 3 / 24);
    }
  });
});

test('layers about a core of radius r0 are stretched by r0 / r around it, and not along it', () => {
  const r0 = 14;
  const lattice = latticeOf(cuboid([16, 16, 12], [24, 0, 0]), 1);
  const growth = atNodes(lattice, ([x, y]) => Math.hypot(x, y) - r0);
  const u = atNodes(lattice, ([x, y]) => r0 * Math.atan2(y, x));
  const v = atNodes(lattice, ([, , z]) => z);
  const map = oneToOne(lattice, growth, { u, v });
  for (const p of inner(lattice, 2.3)) {
    const { thickness, stretch, sheet } = metricAt(map, p)!;
    const r = Math.hypot(p[0], p[1]);
    // Gradients are those of chords, up to half a spacing off the place.
    expect(Math.abs(thickness - 1)).toBeLessThan(0.02);
    expect(Math.abs(stretch[0] - r0 / r)).toBeLessThan(0.03);
    expect(Math.abs(stretch[1] - 1)).toBeLessThan(0.02);
    expect(Math.abs(Math.sqrt(sheet[0]) - r0 / r)).toBeLessThan(0.03);
    expect(Math.abs(sheet[2] - 1)).toBeLessThan(0.02);
  }
});

test('layers that are spheres keep their thickness, and growth points away from the centre', () => {
  const lattice = latticeOf(cuboid([30, 30, 10]), 1.5);
  const centre: Vec3 = [0, 0, -55];
  const away = (p: Vec3): number =>
    Math.hypot(p[0] - centre[0], p[1] - centre[1], p[2] - centre[2]);
  const growth = atNodes(lattice, away);
  const map = layFlat(lattice, growth);
  for (const p of inner(lattice, 2.6)) {
    const d = growthAt(map, p)!;
    const r = away(p);
    const cosine = p.reduce((sum, x, c) => sum + (d[c]! * (x - centre[c]!)) / r, 0);
    expect(Math.acos(Math.min(1, cosine)) / DEG).toBeLessThan(0.5);
    expect(Math.abs(metricAt(map, p)!.thickness - 1)).toBeLessThan(0.02);
  }
});

describe.each([
  ['a cone on its end that leans out by 60 deg', coneFlank(), 1.5],
  ['a mushroom', mushroom(6, 18, 14, 8), 1.5],
])('%s', (_, part, spacing) => {
  const lattice = latticeOf(part, spacing);
  const map = grown(lattice, free);
  const { points, normals, areas } = lattice.skin;
  const limit = -Math.sin(45 * DEG);
  const sum = (keep: (s: number) => boolean): number =>
    areas.reduce((all, area, s) => all + (keep(s) ? area : 0), 0);
  const standing = (s: number): boolean => points[3 * s + 2]! < 0.2 && normals[3 * s + 2]! < -0.9;
  const flat = sum((s) => !standing(s) && normals[3 * s + 2]! < limit - 2e-3);
  const curved = sum((s) => {
    if (standing(s)) return false;
    const n = [0, 1, 2].map((c) => normals[3 * s + c]!) as unknown as Vec3;
    const p = [0, 1, 2].map((c) => points[3 * s + c]! - 0.02 * n[c]!) as unknown as Vec3;
    const d = upAt(map, p, 0.1);
    if (!d) throw new Error(`no layers at ${p.join(' ')}`);
    return n[0] * d[0] + n[1] * d[1] + n[2] * d[2] < limit - 2e-3;
  });

  test('hangs under flat layers, and hardly under curved ones', () => {
    expect(flat).toBeGreaterThan(300);
    expect(curved).toBeLessThan(0.1 * flat);
  });

  test('is mapped there and back', () => {
    for (let s = 0; s < areas.length; s += 11) {
      const p = [0, 1, 2].map((c) => points[3 * s + c]!) as unknown as Vec3;
      const back = partPoint(map, layerPoint(map, p)!)!;
      back.forEach((x, c) => expect(x).toBeCloseTo(p[c]!, 9));
    }
  });

  test('has layers two thirds to one and two thirds as thick, but for one place in a hundred', () => {
    const found: number[] = [];
    for (const p of inner(lattice, 1.7)) {
      const metric = metricAt(map, p);
      if (metric) found.push(metric.thickness);
    }
    found.sort((a, b) => a - b);
    expect(found.length).toBeGreaterThan(300);
    expect(found[Math.floor(0.01 * found.length)]).toBeGreaterThan(0.6);
    expect(found[Math.floor(0.99 * found.length)]).toBeLessThan(1.67);
  });
});

/** Stands on a disc of radius 8 and leans out by 60 deg from upright. */
function coneFlank(): Mesh {
  return frustum(8, 8 + 8 * Math.tan(60 * DEG), 8);
}

test('the machine tilts no farther than it can at each height over the table', () => {
  const lattice = latticeOf(coneFlank(), 1.5);
  const map = grown(lattice, { ...free, mostTilt: () => 8 * DEG });
  let [worst, most] = [0, 0];
  for (const p of inner(lattice, 1.7)) {
    const d = growthAt(map, p);
    if (!d) continue;
    const tilt = Math.acos(d[2]) / DEG;
    worst = Math.max(worst, tilt);
    most++;
  }
  expect(most).toBeGreaterThan(100);
  // Bounded in each tetrahedron; the field comes as near as a function can.
  expect(worst).toBeLessThan(11);
});

describe('layers that lie over each other at first', () => {
  // A square block with a level slit, in twisted layers: as saddles are flattened the two sides of the slit come together.
  const slit = 1.2;
  const block = upright(
    [
      [-12, -12],
      [12, -12],
      [12, -slit],
      [0, -slit],
      [0, slit],
      [12, slit],
      [12, 12],
      [-12, 12],
    ],
    6,
  );
  const lattice = latticeOf(block, 1);
  const growth = atNodes(lattice, ([x, y, z]) => z + 0.036 * x * y);

  test('are laid flat one to one by sheets that are stiffer there', () => {
    const even = new Float64Array(lattice.shape.length).fill(1);
    const sheets = sheetsOf(lattice, growth, even);
    expect(() => oneToOne(lattice, growth, sheets)).toThrow(/lie over others/);
    const map = layFlat(lattice, growth);
    expect(foldsOf(map)).toEqual({ turned: [], doubled: [] });
    for (const p of inner(lattice, 1.1)) {
      const inSlit = p[0] > 0 && Math.abs(p[2]) < slit;
      const q = layerPoint(map, p);
      if (inSlit || !q) continue;
      expect(q[2]).toBeCloseTo(p[2] + 0.036 * p[0] * p[1], 1);
      partPoint(map, q)!.forEach((x, c) => expect(x).toBeCloseTo(p[c]!, 2));
    }
  });
});

describe('a map that is not one to one is refused', () => {
  const lattice = latticeOf(cuboid([10, 10, 10]), 2);
  const u = atNodes(lattice, (p) => p[0]);
  const v = atNodes(lattice, (p) => p[1]);

  test('where layers turn over', () => {
    const growth = atNodes(lattice, (p) => Math.abs(p[2] - 5));
    expect(() => oneToOne(lattice, growth, { u, v })).toThrow(
      /layers fold over in \d+ of \d+ tetrahedra of the lattice, first at .* mm: none may/,
    );
  });

  test('where the sheet winds over itself', () => {
    // A long bar bent round more than once: each tetrahedron keeps its sense, the ends lie on each other.
    const bar = latticeOf(cuboid([60, 6, 6]), 2);
    const turn = (p: Vec3): number => (p[0] / 60) * 2.4 * Math.PI;
    const wound = {
      u: atNodes(bar, (p) => (20 - p[1]) * Math.sin(turn(p))),
      v: atNodes(bar, (p) => -(20 - p[1]) * Math.cos(turn(p))),
    };
    const growth = atNodes(bar, (p) => p[2]);
    expect(() => oneToOne(bar, growth, wound)).toThrow(
      /\d+ of \d+ tetrahedra of the lattice lie over others once layers are flat, first at .* mm: none may/,
    );
  });
});
