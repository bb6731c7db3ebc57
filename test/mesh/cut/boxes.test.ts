/**
 * Planes through solids made of boxes, at whole coordinates, so that many pass exactly through corners, edges
 * and faces. What lies under a plane and the area of the cut are known: the volume of a slab of a cuboid by
 * inclusion and exclusion over its corners (Marichal and Mossinghoff, Slices, slabs, and sections of the unit
 * hypercube, Online J. Analytic Combinatorics 3, 2008), added up over the boxes of the solid.
 */
import { describe, expect, it } from 'vitest';
import type { Mesh } from '../../../lib/base/mesh.js';
import { next } from '../../../lib/base/mesh.js';
import { seeded } from '../../../lib/base/random.js';
import { type Vec3, dot, length, pointAt, scale, unit } from '../../../lib/base/vector.js';
import { capsOf } from '../../../lib/mesh/cut/caps.js';
import { type TaggedMesh, cut, cutAlong, uncut } from '../../../lib/mesh/cut/cut.js';
import { piecesAbove } from '../../../lib/mesh/cut/pieces-above.js';
import { sectionOf } from '../../../lib/mesh/cut/section.js';
import { extruded } from '../../../lib/mesh/make-solids.js';
import { areaNormals, massOf } from '../../../lib/mesh/measure.js';
import { turnedOver } from '../../../lib/mesh/repair/orient.js';
import { joined } from '../../../lib/mesh/shells.js';
import { cuboid, upright } from '../../support/shapes.js';

/** Least corner, size, and what it counts: -1 takes away. */
type Box = readonly [low: Vec3, size: Vec3, sign?: -1];

const solidOf = ([low, [a, b, c], sign]: Box): Mesh => {
  const mesh = cuboid([a, b, c], [low[0] + a / 2, low[1] + b / 2, low[2]]);
  return sign === undefined ? mesh : turnedOver(mesh);
};

/** Volume of a box where n . x < t, and its derivative by t over |n|: the area of the section. */
function under([low, size]: Box, n: Vec3, t: number): { volume: number; area: number } {
  let rest = t - dot(low, n);
  const axes: number[] = [];
  let whole = 1;
  for (let c = 0; c < 3; c++) {
    if (n[c] === 0) whole *= size[c]!;
    else axes.push(Math.abs(n[c]!) * size[c]!);
    whole /= n[c] === 0 ? 1 : Math.abs(n[c]!);
    // A falling coordinate is counted from the other side.
    if (n[c]! < 0) rest -= n[c]! * size[c]!;
  }
  const k = axes.length;
  let volume = 0;
  let area = 0;
  for (let corner = 0; corner < 1 << k; corner++) {
    const at = axes.reduce((sum, a, i) => sum + ((corner >> i) & 1) * a, 0);
    const odd = axes.reduce((sum, _, i) => sum + ((corner >> i) & 1), 0) % 2;
    const over = Math.max(0, rest - at);
    volume += (odd ? -1 : 1) * over ** k;
    area += (odd ? -1 : 1) * (over > 0 ? over ** (k - 1) : 0);
  }
  const factorial = [1, 1, 2, 6];
  return {
    volume: (volume * whole) / factorial[k]!,
    area: (area * whole * length(n)) / factorial[k - 1]!,
  };
}

const total = (boxes: readonly Box[], n: Vec3, t: number): { volume: number; area: number } => {
  const sum = { volume: 0, area: 0 };
  for (const box of boxes) {
    const one = under(box, n, t);
    sum.volume += (box[2] ?? 1) * one.volume;
    sum.area += (box[2] ?? 1) * one.area;
  }
  return sum;
};

/** Closed, oriented, no facet with two equal corners, no vertex that nothing uses; volume and cut faces. */
function check({ mesh, cut: tags }: TaggedMesh, volume: number, facing: Vec3, area: number): void {
  const { triangles: t, twins } = mesh;
  expect(tags).toHaveLength(t.length / 3);
  for (let h = 0; h < t.length; h++) {
    const g = twins[h]!;
    if (g < 0 || twins[g] !== h || t[g] !== t[next(h)] || t[next(g)] !== t[h] || t[h] === t[g]) {
      expect.fail(`half-edge ${h}`);
    }
  }
  expect(new Set(t).size).toBe(mesh.vertices.length / 3);
  expect(massOf(mesh).volume).toBeCloseTo(volume, 6);
  const normals = areaNormals(mesh);
  let cutArea = 0;
  tags.forEach((id, k) => {
    if (id < 0) return;
    const n = pointAt(normals, k);
    cutArea += dot(n, facing);
    // Along the plane, whichever way round; slivers without area have no normal.
    expect(Math.abs(dot(n, facing))).toBeCloseTo(length(n), 6);
  });
  expect(cutArea).toBeCloseTo(area, 6);
}

const outline = [[0, 0], [6, 0], [6, 2], [4, 2], [4, 6], [2, 6], [2, 2], [0, 2]] as const; // prettier-ignore
const ring = [[[0, 0], [6, 0], [6, 6], [0, 6]], [[2, 2], [2, 4], [4, 4], [4, 2]]] as const; // prettier-ignore

const solids: [string, () => Mesh, Box[]][] = [
  ['a box', () => solidOf([[0, 0, 0], [4, 5, 6]]), [[[0, 0, 0], [4, 5, 6]]]], // prettier-ignore
  [
    'a hollow box',
    () => joined([solidOf([[0, 0, 0], [6, 6, 6]]), solidOf([[2, 2, 2], [2, 2, 2], -1])]), // prettier-ignore
    [[[0, 0, 0], [6, 6, 6]], [[2, 2, 2], [2, 2, 2], -1]], // prettier-ignore
  ],
  [
    'a T upside down',
    () => upright(outline, 4),
    [[[0, -2, 0], [6, 4, 2]], [[2, -2, 2], [2, 4, 4]]], // prettier-ignore
  ],
  [
    'a square frame',
    () => extruded(ring, 3),
    [[[0, 0, 0], [6, 6, 3]], [[2, 2, 0], [2, 2, 3], -1]], // prettier-ignore
  ],
  [
    'two boxes',
    () => joined([solidOf([[0, 0, 0], [2, 2, 4]]), solidOf([[4, 1, 1], [2, 3, 2]])]), // prettier-ignore
    [[[0, 0, 0], [2, 2, 4]], [[4, 1, 1], [2, 3, 2]]], // prettier-ignore
  ],
];

describe.each(solids)('%s', (_, make, boxes) => {
  const mesh = make();
  const tags = Int32Array.from({ length: mesh.triangles.length / 3 }, (_, t) => -1 - t);
  const whole = massOf(mesh).volume;

  it.each([1, 2])('has the volumes and faces of the closed form, 40 planes (seed %i)', (seed) => {
    const random = seeded(seed);
    for (let i = 0; i < 40; i++) {
      const some = (): number => Math.floor(5 * random()) - 2;
      const n: Vec3 = i % 4 === 0 ? ([[1, 0, 0], [0, -1, 0], [0, 0, 1]] as Vec3[])[i % 3]! : [some(), some(), some()]; // prettier-ignore
      if (length(n) === 0) continue;
      const point = [0, 1, 2].map(() => Math.floor(7 * random())) as unknown as Vec3;
      const t = dot(n, point);
      const { volume } = total(boxes, n, t);
      const normal = unit(n);
      const halves = cut({ mesh, cut: tags }, { point, normal }, 5);
      const crossed = boxes.some((box) => {
        const own = under(box, n, t).volume;
        return own > 1e-9 && own < box[1][0] * box[1][1] * box[1][2] - 1e-9;
      });
      // Between two boxes a plane may pass by, or touch one of them.
      if (crossed) expect(halves).toBeDefined();
      if (volume < 1e-9 || volume > whole - 1e-9) expect(halves).toBeUndefined();
      if (!halves) continue;
      // In a face of the solid the area jumps: the cut is as large as what goes on to both sides.
      const besides = [1e-7, -1e-7].map((by) => total(boxes, n, t + by).area);
      const { contact } = halves;
      if (Math.abs(besides[0]! - besides[1]!) < 1e-3) expect(contact).toBeCloseTo(besides[0]!, 4);
      else expect(contact).toBeLessThan(Math.min(...besides) + 1e-4);
      check(halves.piece, whole - volume, scale(normal, -1), contact);
      check(halves.rest, volume, normal, contact);
      // Each facet of the skin keeps its number, in parts that add up to its area.
      const sums = new Float64Array(tags.length);
      for (const half of [halves.piece, halves.rest]) {
        const normals = areaNormals(half.mesh);
        half.cut.forEach((id, k) => {
          if (id < 0) sums[-1 - id]! += length(pointAt(normals, k));
        });
      }
      const areas = areaNormals(mesh);
      sums.forEach((sum, k) => expect(sum).toBeCloseTo(length(pointAt(areas, k)), 6));
    }
  });
});

describe('heights and caps', () => {
  const frame = extruded(ring, 3);

  it('of a frame: one cap with a hole, its area and the middle of its outline', () => {
    const section = sectionOf(frame, { point: [0, 0, 1], normal: [0, 0, 1] })!;
    section.height.forEach((h, v) => {
      expect(h).toBe(frame.vertices[3 * v + 2]! - 1);
      expect(section.above[v]).toBe(h >= 0 ? 1 : 0);
    });
    const caps = capsOf(section);
    expect(caps).toHaveLength(1);
    expect(caps[0]!.loops).toHaveLength(2);
    expect(caps[0]!.area).toBeCloseTo(32, 9);
    caps[0]!.middle.forEach((x, c) => expect(x).toBeCloseTo([3, 3, 1][c]!, 9));
  });

  it('belong to the smallest outline around them where frames stand in frames', () => {
    // Squares of side 20, 16, 12, 8, 4 about one middle, outer and inner in turn.
    const shells = [20, 16, 12, 8, 4].map(
      (side, i) =>
      solidOf([[-side / 2, -side / 2, 0], [side, side, 20], ...(i % 2 ? ([-1] as const) : [])] as Box), // prettier-ignore
    );
    const normal = unit([0.1, 0.2, 1]);
    const section = sectionOf(joined(shells), { point: [0, 0, 10], normal })!;
    const areas = capsOf(section).map((cap) => cap.area * normal[2]);
    expect(areas.sort((a, b) => a - b).map((a) => Number(a.toFixed(6)))).toEqual([16, 80, 144]);
  });

  it('have the middle of a trapezium where its centre of area is', () => {
    // Parallel sides 6 and 2, 3 apart: h (a + 2 b) / (3 (a + b)) = 1.25 above the longer one.
    const mesh = extruded([[[0, 0], [6, 0], [2, 3], [0, 3]]], 4); // prettier-ignore
    const [cap] = capsOf(sectionOf(mesh, { point: [0, 0, 2], normal: [0, 0, 1] })!);
    expect(cap!.middle[1]).toBeCloseTo(1.25, 9);
    expect(cap!.middle[2]).toBeCloseTo(2, 12);
  });
});

describe('pieces above a plane', () => {
  /** A bar of 14 x 2 x 2 with teeth of 2 x 2 and these heights on it, 2 mm apart. */
  const comb = (heights: readonly number[]): Mesh => {
    const top = heights.flatMap((h, i): [number, number][] => [
      [4 * i, 2],
      [4 * i, 2 + h],
      [4 * i + 2, 2 + h],
      [4 * i + 2, 2], // prettier-ignore
    ]);
    const end = 4 * heights.length - 2;
    // Points in the corner between bar and tooth at both ends are in a line and left out.
    return upright([[0, 0], [end, 0], ...top.reverse().slice(1, -1)], 2);
  };

  it('are taken off in every choice of them, each with its own volume and face', () => {
    const heights = [3, 1, 4, 2];
    const mesh = comb(heights);
    const plane = { point: [0, 0, 2.5] as Vec3, normal: [0, 0, 1] as Vec3 };
    const section = sectionOf(mesh, plane)!;
    const caps = capsOf(section);
    const solid = uncut(mesh);
    const { count, of, ofCap } = piecesAbove(solid, section, caps);
    expect(count).toBe(4);
    expect(caps).toHaveLength(4);
    const toothOf = Array.from({ length: count }, (_, piece) => {
      const v = of.indexOf(piece);
      return Math.floor(mesh.vertices[3 * v]! / 4);
    });
    caps.forEach((cap, i) => expect(Math.floor(cap.middle[0] / 4)).toBe(toothOf[ofCap[i]!]));
    const whole = massOf(mesh).volume;
    for (let choice = 1; choice < 16; choice++) {
      const taken = Uint8Array.from(of, (p) => (p >= 0 && (choice >> p) & 1 ? 1 : 0));
      const { piece, rest, contact } = cutAlong(solid, section, caps, 0, taken);
      const volume = toothOf.reduce(
        (sum, tooth, p) => sum + ((choice >> p) & 1) * 4 * (heights[tooth]! - 0.5),
        0,
      );
      const faces = 4 * [0, 1, 2, 3].filter((p) => (choice >> p) & 1).length;
      expect(contact).toBeCloseTo(faces, 9);
      check(piece, volume, [0, 0, -1], faces);
      check(rest, whole - volume, [0, 0, 1], faces);
    }
  });

  it('keep their hollows, and bodies that the plane does not meet are pieces of their own', () => {
    const parts: Box[] = [
      [[0, 0, 0], [10, 10, 10]], // prettier-ignore
      [[3, 3, 6], [2, 2, 2], -1], // prettier-ignore
      [[20, 0, 6], [4, 4, 4]], // prettier-ignore
      [[21, 1, 7], [2, 2, 2], -1], // prettier-ignore
      // Right over the first, so that a ray up from its hollow goes on to this one.
      [[2, 2, 12], [5, 5, 3]], // prettier-ignore
      [[30, 0, 0], [4, 4, 4]], // prettier-ignore
    ];
    const mesh = joined(parts.map(solidOf));
    const section = sectionOf(mesh, { point: [0, 0, 5], normal: [0, 0, 1] })!;
    const caps = capsOf(section);
    const { count, of, ofCap } = piecesAbove(uncut(mesh), section, caps);
    expect(count).toBe(3);
    of.forEach((p, v) => expect(p >= 0).toBe(mesh.vertices[3 * v + 2]! > 5));
    const pieceOf = (k: number): Set<number> =>
      new Set(of.subarray(8 * k, 8 * k + 8).filter((p) => p >= 0));
    const piece = parts.map((_, k) => pieceOf(k));
    piece.forEach((set, k) => expect([...set]).toHaveLength(k === 5 ? 0 : 1));
    expect(piece[1]).toEqual(piece[0]);
    expect(piece[3]).toEqual(piece[2]);
    expect(new Set([piece[0], piece[2], piece[4]].map((s) => [...s!][0])).size).toBe(3);
    expect([...ofCap]).toEqual([...piece[0]!]);
  });
});
