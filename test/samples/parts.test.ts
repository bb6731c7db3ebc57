/**
 * The sample parts against what is known of them without building them: sizes from their drawings,
 * handles counted by hand, volumes from closed forms or from counting points that lie inside, and
 * overhang from the formulas for leaning cylinders, rings and bends.
 */
import { readFileSync } from 'node:fs';
import { beforeAll, describe, expect, it, test } from 'vitest';
import { DEG } from '../../lib/base/vector.js';
import { loadSolidKernel } from '../../lib/kernel/solid.js';
import { areaNormals, bounds, massOf } from '../../lib/mesh/measure.js';
import type { Mesh } from '../../lib/mesh/mesh.js';
import { writeStl } from '../../lib/formats/write-mesh.js';
import { type PartName, partNames, parts } from '../../samples/parts.js';

interface Bounds {
  readonly least: number;
  readonly most: number;
}
interface Expected {
  readonly part: {
    readonly sizeMm: readonly number[];
    readonly volumeMm3: Bounds;
    readonly genus: number;
  };
  readonly unsupported: { readonly asPlacedMm2: Bounds };
  readonly regions: Bounds;
}

const expectedOf = (name: PartName): Expected =>
  JSON.parse(
    readFileSync(new URL(`../../samples/${name}/expected.json`, import.meta.url), 'utf8'),
  ) as Expected;

const meshes = {} as Record<PartName, Mesh>;
beforeAll(async () => {
  const kernel = await loadSolidKernel();
  for (const name of partNames) meshes[name] = parts[name](kernel);
});

const inBounds = (value: number, { least, most }: Bounds): void => {
  expect(value).toBeGreaterThanOrEqual(least);
  expect(value).toBeLessThanOrEqual(most);
};

describe.each(partNames)('%s', (name) => {
  const expected = expectedOf(name);

  it('is closed, in one piece, with the handles counted by hand (Euler: V - E + F = 2 - 2 g)', () => {
    const { vertices, triangles, twins } = meshes[name];
    expect(twins).not.toContain(-1);
    expect(pieces(meshes[name])).toBe(1);
    const chi = vertices.length / 3 - triangles.length / 2 + triangles.length / 3;
    expect(chi).toBe(2 - 2 * expected.part.genus);
  });

  it('has the size of its drawing and a flat foot on z = 0 under its middle', () => {
    const { least, most } = bounds(meshes[name]);
    expected.part.sizeMm.forEach((mm, c) => expect(most[c]! - least[c]!).toBeCloseTo(mm, 2));
    for (const mm of expected.part.sizeMm.slice(0, 2)) inBounds(mm, { least: 40, most: 90 });
    inBounds(expected.part.sizeMm[2]!, { least: 5, most: 90 });
    expect(least[2]).toBe(0);
    expect(areaAtFoot(meshes[name])).toBeGreaterThan(500);
  });

  it('has a volume within its bounds', () => {
    inBounds(massOf(meshes[name]).volume, expected.part.volumeMm3);
  });

  it('hangs over by the area of the formulas, as placed, at 45 deg', () => {
    inBounds(hanging(meshes[name]), expected.unsupported.asPlacedMm2);
  });

  it('is built alike each time, byte for byte', async () => {
    const again = parts[name](await loadSolidKernel());
    expect(Buffer.compare(writeStl(meshes[name]), writeStl(again))).toBe(0);
  });
});

/** Area factor of a regular n-gon whose corners lie on the circle. */
const gon = (n: number): number => (n / (2 * Math.PI)) * Math.sin((2 * Math.PI) / n);
const frustum = (r: number, R: number, h: number): number =>
  ((Math.PI * h) / 3) * (r * r + r * R + R * R);
const disc = (r: number, h: number): number => Math.PI * r * r * h;

test('volume of the sprinkler cap: discs and frusta less the bore', () => {
  const outside = disc(18, 3) + frustum(18, 9, 4) + disc(9, 33) + disc(27, 4) + frustum(27, 12, 9);
  const bore = disc(6.5, 38) + frustum(6.5, 0, 9);
  expect(massOf(meshes['sprinkler-cap']).volume / (gon(96) * (outside - bore))).toBeCloseTo(1, 6);
});

test('volume of the watering rose: a disc and a frustum, a disc less the bowl', () => {
  const outside = disc(13, 2) + frustum(13, 20, 3.5) + disc(20, 3.5) - frustum(10, 16, 3);
  expect(massOf(meshes['watering-rose']).volume / (gon(96) * outside)).toBeCloseTo(1, 6);
});

test('volume of the gutter elbow: discs, a frustum and the bend by the theorem of Pappus', () => {
  const foot = disc(23, 4) + frustum(23, 16, 4) + disc(16, 6) - disc(13.5, 14);
  const ring = Math.PI * (16 * 16 - 13.5 * 13.5);
  // A bend of 36 straight pieces is shorter than the arc: its middles lie on chords.
  const piece = Math.PI / 2 / 36;
  const bend = ring * 30 * 36 * Math.sin(piece / 2) * 2 * Math.cos(piece / 2);
  const expected = gon(72) * (foot + bend + ring * 12);
  expect(massOf(meshes['gutter-elbow']).volume / expected).toBeCloseTo(1, 4);
});

/** Distance along and from an axis that leans by 60 deg from (0, 0, z0) towards an azimuth. */
function onAxis(x: number, y: number, z: number, z0: number, azimuthDeg: number): [number, number] {
  const a = azimuthDeg * DEG;
  const [dx, dy, dz] = [
    Math.sin(60 * DEG) * Math.cos(a),
    Math.sin(60 * DEG) * Math.sin(a),
    Math.cos(60 * DEG),
  ];
  const t = dx * x + dy * y + dz * (z - z0);
  return [t, Math.sqrt(Math.max(0, x * x + y * y + (z - z0) ** 2 - t * t))];
}

const CELL = 0.8;

/** Volume by counting the middles of cells that lie inside. */
function counted(mesh: Mesh, inside: (x: number, y: number, z: number) => boolean): number {
  const { least, most } = bounds(mesh);
  let count = 0;
  for (let x = least[0] + CELL / 2; x < most[0]; x += CELL) {
    for (let y = least[1] + CELL / 2; y < most[1]; y += CELL) {
      for (let z = least[2] + CELL / 2; z < most[2]; z += CELL) {
        if (inside(x, y, z)) count++;
      }
    }
  }
  return count * CELL ** 3;
}

/** Linear between two heights, for the radius of a cone. */
const cone = (z: number, z0: number, r0: number, z1: number, r1: number): number =>
  r0 + ((z - z0) / (z1 - z0)) * (r1 - r0);

test('volume of the hose manifold: points counted inside its discs, cones and leaning rods', () => {
  const inside = (x: number, y: number, z: number): boolean => {
    const r = Math.hypot(x, y);
    const axes = [0, 120, 240].map((a) => onAxis(x, y, z, 30, a));
    const body = z < 4 ? r < 27 : z < 32 ? r < 20 : z < 47 && r < cone(z, 32, 20, 47, 8);
    const cavity = z < 4 ? r < 8 : z < 32 ? r < 17 : r < cone(z, 32, 17, 47, 5);
    const outlet = axes.some(([t, d]) => {
      if (t < 0 || t > 46) return false;
      if (t < 38) return d < 8;
      if (t < 41) return d < cone(t, 38, 8, 41, 9);
      return t < 42 ? d < 9 : d < cone(t, 42, 9, 46, 7.5);
    });
    const bore = axes.some(([t, d]) => t > 5 && d < 5.5);
    const screw = [60, 240].some(
      (a) => Math.hypot(x - 23.5 * Math.cos(a * DEG), y - 23.5 * Math.sin(a * DEG)) < 1.8 && z < 5,
    );
    return (body || outlet) && !cavity && !bore && !screw;
  };
  const mesh = meshes['hose-manifold'];
  expect(Math.abs(massOf(mesh).volume / counted(mesh, inside) - 1)).toBeLessThan(0.005);
});

test('volume of the trellis node: points counted inside its trunk and leaning rods', () => {
  const inside = (x: number, y: number, z: number): boolean => {
    const r = Math.hypot(x, y);
    const axes = [0, 90, 180, 270].map((a) => onAxis(x, y, z, 24, a));
    const trunk = z < 3 ? r < 19 : z < 8 ? r < cone(z, 3, 19, 8, 11) : z < 38 && r < 11;
    const branch = axes.some(([t, d]) => t > 0 && t < 42 && d < 7.5);
    const socket = axes.some(([t, d]) => t > 20 && t < 43 && d < 5) || (r < 6 && z > 31);
    return (trunk || branch) && !socket;
  };
  const mesh = meshes['trellis-node'];
  expect(Math.abs(massOf(mesh).volume / counted(mesh, inside) - 1)).toBeLessThan(0.005);
});

test('overhang of the gutter elbow integrated along its bend', () => {
  // w: how far the bend has turned; the strip under the pipe where n.z < -sin 45 is 2 acos(s / sin w)
  // wide. Inside of the bend the skin is nearer to its middle, the roof of the bore is farther.
  const s = Math.SQRT1_2;
  const steps = 20000;
  const dw = Math.PI / 4 / steps;
  let sum = 0;
  for (let i = 0; i < steps; i++) {
    const half = Math.acos(s / Math.sin(Math.PI / 4 + (i + 0.5) * dw));
    sum += 2 * 16 * (30 * half - 16 * Math.sin(half)) * dw;
    sum += 2 * 13.5 * (30 * half + 13.5 * Math.sin(half)) * dw;
  }
  const end = 2 * (16 + 13.5) * 12 * (Math.PI / 4);
  // Facets are in or out as a whole: 5 deg of a strip of 90.
  expect(hanging(meshes['gutter-elbow']) / (sum + end)).toBeCloseTo(1, 1.5);
});

/** Area of facets off the foot with n.z < -sin 45 deg. */
function hanging(mesh: Mesh): number {
  let sum = 0;
  eachFacet(mesh, (n, area, low) => {
    if (low > 1e-6 && n < -Math.SQRT1_2) sum += area;
  });
  return sum;
}

function areaAtFoot(mesh: Mesh): number {
  let sum = 0;
  eachFacet(mesh, (n, area, low) => {
    if (n < -0.999 && low < 1e-6) sum += area;
  });
  return sum;
}

function eachFacet(mesh: Mesh, visit: (nz: number, area: number, highest: number) => void): void {
  const normals = areaNormals(mesh);
  for (let i = 0; i < normals.length; i += 3) {
    const area = Math.hypot(normals[i]!, normals[i + 1]!, normals[i + 2]!);
    const heights = [0, 1, 2].map((k) => mesh.vertices[3 * mesh.triangles[i + k]! + 2]!);
    visit(normals[i + 2]! / area, area, Math.max(...heights));
  }
}

/** Sets of facets joined by edges. */
function pieces(mesh: Mesh): number {
  const facets = mesh.triangles.length / 3;
  const seen = new Uint8Array(facets);
  let count = 0;
  for (let start = 0; start < facets; start++) {
    if (seen[start]) continue;
    count++;
    const stack = [start];
    seen[start] = 1;
    for (let f = stack.pop(); f !== undefined; f = stack.pop()) {
      for (let h = 3 * f; h < 3 * f + 3; h++) {
        const g = Math.floor(mesh.twins[h]! / 3);
        if (!seen[g]) stack.push(g);
        seen[g] = 1;
      }
    }
  }
  return count;
}
