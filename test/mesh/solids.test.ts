/** Solids made by turning, extruding and bending, their shells and their finer meshes: closed forms throughout. */
import { describe, expect, it } from 'vitest';
import { seeded } from '../../lib/base/random.js';
import { DEG, type Vec2, type Vec3, length, pointAt, sub } from '../../lib/base/vector.js';
import { meshFrom } from '../../lib/mesh/build.js';
import { bent, circle, extruded, leaned, revolved, rod, step } from '../../lib/mesh/make-solids.js';
import { bounds, massOf, sizeOf, surfaceArea } from '../../lib/mesh/measure.js';
import { type Mesh, next } from '../../lib/mesh/mesh.js';
import { boxPairs, diagonal, joined, shellsOf, splitShells } from '../../lib/mesh/shells.js';
import { splitLongEdges } from '../../lib/mesh/split-edges.js';
import { UNITS, doubtfulUnit, likelyUnits } from '../../lib/mesh/units.js';
import { cuboid, icosphere, torus } from '../support/shapes.js';

const closed = (mesh: Mesh): void => {
  expect(mesh.twins.includes(-1)).toBe(false);
  expect(new Set(mesh.triangles).size).toBe(mesh.vertices.length / 3);
};
const near = (a: Vec3, b: Vec3): void => a.forEach((x, c) => expect(x).toBeCloseTo(b[c]!, 9));
/** Area of a regular n-gon of radius 1. */
const gon = (n: number): number => (n / 2) * Math.sin((2 * Math.PI) / n);

describe('circles', () => {
  it('have their corners on the circle, evenly, counter-clockwise; quarters are exact', () => {
    for (const n of [3, 4, 6, 8, 10]) {
      circle(2, n, [5, -3]).forEach(([x, y], k) => {
        const a = (2 * Math.PI * k) / n;
        expect(x).toBeCloseTo(5 + 2 * Math.cos(a), 12);
        expect(y).toBeCloseTo(-3 + 2 * Math.sin(a), 12);
      });
    }
    const quarters = [[1, 0], [0, 1], [-1, 0], [0, -1]] as const; // prettier-ignore
    for (let k = -9; k < 9; k++) expect(step(2 * k, 8)).toEqual(quarters[(k + 12) % 4]);
  });
});

describe('solids', () => {
  it('turned: the polygon turned about Z has areas of n-gons in place of circles', () => {
    // A cylinder of radius 3, a bore of radius 1, and a cone on its tip.
    const tube: Vec2[] = [[1, 0], [3, 0], [3, 5], [1, 5]]; // prettier-ignore
    const tubeMesh = revolved([tube], 12);
    closed(tubeMesh);
    expect(massOf(tubeMesh).volume).toBeCloseTo(5 * 8 * gon(12), 9);
    const double = revolved([[[0, 0], [2, 3], [0, 6]], [[0, 4], [0.5, 3], [0, 2]]], 8); // prettier-ignore
    closed(double);
    expect(massOf(double).volume).toBeCloseTo(gon(8) * (4 * 2 - 0.25 * (2 / 3)), 9);
    expect(shellsOf(double).count).toBe(2);
  });

  it('extruded: area of the outline less its holes, times the height', () => {
    const mesh = extruded(
      [
        [[0, 0], [9, 0], [9, 7], [4, 2], [0, 7]], // prettier-ignore
        circle(0.5, 5, [1, 1]).reverse(),
        circle(0.7, 6, [7, 2]).reverse(),
      ],
      4,
    );
    closed(mesh);
    // Shoelace: 63 less the triangle under the notch of 9 x 5 / 2.
    const area = 63 - 22.5 - 0.25 * gon(5) - 0.49 * gon(6);
    expect(massOf(mesh).volume).toBeCloseTo(4 * area, 9);
    near(bounds(mesh).least, [0, 0, 0]);
    near(bounds(mesh).most, [9, 7, 4]);
  });

  it.each([
    [90, 0],
    [90, 1.5],
    [60, 1.5],
    [180, 1],
    [45, 0], // prettier-ignore
  ])('bent by %d degrees with a bore of %d: ends, section and Pappus', (deg, bore) => {
    const [bend, radius, around, pieces] = [20, 3, 16, 90];
    const mesh = bent(bend, radius, bore, deg * DEG, around, pieces);
    closed(mesh);
    const area = gon(around) * (radius * radius - bore * bore);
    // Pappus: the area times the way of its middle; of a chain of chords, sin d of each piece instead of d.
    const way = bend * pieces * Math.sin((deg * DEG) / pieces);
    expect(massOf(mesh).volume / (area * way)).toBeCloseTo(1, 3);
    // Ends flat on z = 0 about the origin, and square to the axis where it has turned by the sweep.
    const end: Vec3 = [bend * (1 - Math.cos(deg * DEG)), 0, bend * Math.sin(deg * DEG)];
    const axis: Vec3 = [Math.sin(deg * DEG), 0, Math.cos(deg * DEG)];
    let [first, last] = [0, 0];
    for (let v = 0; v < mesh.vertices.length / 3; v++) {
      const p = pointAt(mesh.vertices, v);
      const q = sub(p, end);
      if (Math.abs(p[2]) < 1e-9 && p[0] < bend) first = Math.max(first, length(p));
      const along = q[0] * axis[0] + q[2] * axis[2];
      if (Math.abs(along) < 1e-9 && length(q) < bend) last = Math.max(last, length(q));
    }
    expect(first).toBeCloseTo(radius, 9);
    expect(last).toBeCloseTo(radius, 9);
  });

  it('a rod between two heights, and leaned over', () => {
    const mesh = rod(2, -3, 7, 8);
    closed(mesh);
    expect(massOf(mesh).volume).toBeCloseTo(10 * 4 * gon(8), 9);
    near(massOf(mesh).centre, [0, 0, 2]);
    near(sizeOf(mesh), [4, 4, 10]);
    // The middle is 2 along the axis: leaned by 30 degrees towards +Y, lifted to 5.
    near(massOf(leaned(mesh, 30, 90, 5)).centre, [0, 1, 5 + Math.sqrt(3)]);
    near(massOf(leaned(mesh, 90, 180, 1)).centre, [-2, 0, 1]);
  });
});

describe('edges split until none is too long', () => {
  const longest = (m: Mesh): number =>
    m.triangles.reduce((most, v, h) => {
      const gap = sub(pointAt(m.vertices, v), pointAt(m.vertices, m.triangles[next(h)]!));
      return Math.max(most, length(gap));
    }, 0);

  it.each([
    ['a box', () => cuboid([4, 3, 2]), [10, 5, 3, 1.2, 0.7]],
    ['a ball', () => icosphere(3, 1), [1.5, 1, 0.6]],
    ['a ring', () => torus(6, 2, 9, 5), [3, 1.7, 1]],
    ['a long bar', () => cuboid([20, 1, 1]), [25, 6, 2.5, 0.9]],
  ] as const)('of %s: closed, of the same area and volume', (_, make, bound) => {
    const mesh = make();
    for (const most of bound) {
      const fine = splitLongEdges(mesh, most);
      closed(fine);
      expect(longest(fine)).toBeLessThanOrEqual(most);
      if (longest(mesh) > most) expect(longest(fine)).toBeGreaterThan(0.25 * most);
      expect(massOf(fine).volume).toBeCloseTo(massOf(mesh).volume, 9);
      expect(surfaceArea(fine)).toBeCloseTo(surfaceArea(mesh), 9);
      // Each edge that is halved adds a vertex and two facets (Euler), and the old vertices stay in place.
      const grown = (fine.vertices.length - mesh.vertices.length) / 3;
      expect(fine.triangles.length / 3).toBe(mesh.triangles.length / 3 + 2 * grown);
      expect(fine.vertices.subarray(0, mesh.vertices.length)).toEqual(mesh.vertices);
    }
  });

  it('leaves alone what is short enough: an edge exactly as long as the bound stays', () => {
    const box = cuboid([3, 4, 12]);
    expect(splitLongEdges(box, Math.hypot(4, 12))).toBe(box);
    expect(splitLongEdges(box, Math.hypot(4, 12) - 1e-6)).not.toBe(box);
  });

  it('divides along the shorter diagonal: a halved trapezium has no worse edges than its sides', () => {
    // Of the sides 6, 8, 10 those over 7 are halved: the diagonals left are 6 to the middle of 8, or of 10.
    const v = Float64Array.of(0, 0, 0, 6, 0, 0, 0, 8, 0, 2, 2, -5);
    for (const turned of [0, 1, 2]) {
      const front = [0, 1, 2].map((i) => (i + turned) % 3);
      const mesh = meshFrom(v, Uint32Array.of(...front, 1, 0, 3, 2, 1, 3, 0, 2, 3));
      const fine = splitLongEdges(mesh, 7.9);
      const flat = new Set<string>();
      for (let h = 0; h < fine.triangles.length; h++) {
        const [p, q] = [fine.triangles[h]!, fine.triangles[next(h)]!].map((u) => pointAt(fine.vertices, u)); // prettier-ignore
        if (p![2] === 0 && q![2] === 0)
          flat.add([p, q].map((x) => x!.slice(0, 2).join()).join(' '));
      }
      // From (0, 0) to (3, 4) is 5; from (6, 0) to (0, 4) is more than 7.
      expect(flat.has('0,0 3,4') && flat.has('3,4 0,0')).toBe(true);
      expect(flat.has('6,0 0,4')).toBe(false);
    }
  });
});

describe('shells', () => {
  it('are split off with their own vertices, in the order of their facets, and joined again', () => {
    const parts = [cuboid([1, 2, 3]), icosphere(2, 1), cuboid([2, 2, 2], [9, 9, 9])];
    const all = joined(parts);
    expect(shellsOf(all).count).toBe(3);
    splitShells(all).forEach((shell, i) => {
      closed(shell);
      expect(shell.triangles).toHaveLength(parts[i]!.triangles.length);
      expect(massOf(shell).volume).toBeCloseTo(massOf(parts[i]!).volume, 12);
      near(massOf(shell).centre, massOf(parts[i]!).centre);
    });
    expect(splitShells(parts[0]!)[0]).toBe(parts[0]);
    expect(diagonal(parts[0]!)).toBeCloseTo(Math.sqrt(14), 12);
    expect(diagonal(meshFrom(new Float64Array(0), new Uint32Array(0)))).toBe(0);
  });

  it('joined keep their open edges', () => {
    const open = meshFrom(new Float64Array(9), Uint32Array.of(0, 1, 2));
    const both = joined([cuboid([1, 1, 1]), open, open]);
    expect([...both.twins.subarray(36)]).toEqual([-1, -1, -1, -1, -1, -1]);
    expect([...both.triangles.subarray(36)]).toEqual([8, 9, 10, 11, 12, 13]);
    expect(shellsOf(both).count).toBe(3);
  });

  it.each([1, 2, 3, 4])(
    'pairs of boxes that overlap or touch, counted by all pairs (seed %i)',
    (seed) => {
      const random = seeded(seed);
      const spread = [[9, 3, 3], [3, 9, 3], [3, 3, 9], [6, 6, 6]][seed - 1]!; // prettier-ignore
      const boxes = Array.from({ length: 30 }, () => {
        const [x, y, z] = spread.map((s) => Math.floor(s * random())) as [number, number, number];
        const size = [0, 1, 2].map(() => 1 + Math.floor(2 * random())) as unknown as Vec3;
        return cuboid(size, [x + size[0] / 2, y + size[1] / 2, z]);
      });
      let pairs = 0;
      boxes.forEach((a, i) =>
        boxes.slice(0, i).forEach((b) => {
          const [p, q] = [bounds(a), bounds(b)];
          if ([0, 1, 2].every((c) => p.least[c]! <= q.most[c]! && q.least[c]! <= p.most[c]!))
            pairs++;
        }),
      );
      expect(boxPairs(boxes, 1e6)).toBe(pairs);
      expect(boxPairs(boxes, pairs)).toBe(pairs);
      expect(boxPairs(boxes, 4)).toBe(5);
    },
  );
});

describe('units', () => {
  it('are those of 3MF core 1.4, section 3.4', () => {
    expect(UNITS).toEqual({ micron: 0.001, millimetre: 1, centimetre: 10, inch: 25.4, foot: 304.8, metre: 1000 }); // prettier-ignore
  });

  it.each([
    [[1.49, 0.1, 0.2], 'less than 1.5 mm', ['centimetre', 'inch', 'foot']],
    [[0.1, 0.02, 0.05], 'less than 1.5 mm', ['foot', 'metre']],
    [[1.5, 0.1, 0.1], undefined, ['centimetre', 'inch', 'foot']],
    [[3, 1000, 2], undefined, []],
    [[3, 4, 1010], 'more than 1000 mm', []],
    [[3, 4, 1001], 'more than 1000 mm', []],
    [[1001, 20000, 3], 'more than 1000 mm', ['micron']],
    [[0, 0, 0], undefined, []],
  ] as const)('a part of %j mm', (size, why, likely) => {
    const finding = doubtfulUnit(size);
    if (!why) expect(finding).toBeUndefined();
    else {
      expect(finding).toMatchObject({ code: 'mesh/unit-doubtful', severity: 'warning' });
      expect(finding!.message).toContain(`${Math.max(...size)} mm, ${why}`);
      for (const unit of likely) {
        const mm = Number((Math.max(...size) * UNITS[unit]).toPrecision(3));
        expect(finding!.message).toContain(`${mm} mm if its unit is the ${unit}`);
      }
      expect(finding!.message.includes('It would measure')).toBe(likely.length > 0);
    }
    expect(likelyUnits(size)).toEqual(likely);
  });

  it('are likely from 10 to 500 mm, both included', () => {
    expect(likelyUnits([10, 1, 1])).toContain('millimetre');
    expect(likelyUnits([9.99, 1, 1])).not.toContain('millimetre');
    expect(likelyUnits([500, 1, 1])).toContain('millimetre');
    expect(likelyUnits([500.1, 1, 1])).not.toContain('millimetre');
  });
});
