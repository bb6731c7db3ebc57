/**
 * Twins, shells, rims and fans. Euler: V - E + F = 2 - 2 g for one surface of genus g; Gauss and Bonnet:
 * the angle defects (2 pi less the angles at a vertex) sum to 2 pi (V - E + F).
 */
import { describe, expect, it } from 'vitest';
import { seeded } from '../../lib/base/random.js';
import { type Vec3, angle, pointAt, sub } from '../../lib/base/vector.js';
import { meshFrom } from '../../lib/mesh/build.js';
import { badEdges, rims, splitFans } from '../../lib/mesh/repair/edge-faults.js';
import { areaNormals, massOf } from '../../lib/mesh/measure.js';
import { type Mesh, next, previous } from '../../lib/mesh/mesh.js';
import { turnedOver } from '../../lib/mesh/repair/orient.js';
import { joined, shellsOf, splitShells } from '../../lib/mesh/shells.js';
import { bunny3k, bunny69k, gearwheel } from '../support/open-meshes.js';
import {
  arch,
  cuboid,
  hollowSphere,
  icosphere,
  pipe,
  sphere,
  together,
  torus,
} from '../support/shapes.js';

const euler = (m: Mesh): number =>
  m.vertices.length / 3 - m.triangles.length / 2 + m.triangles.length / 3;

function angleDefects({ vertices, triangles }: Mesh): number {
  const sums = new Float64Array(vertices.length / 3);
  triangles.forEach((v, h) => {
    const at = pointAt(vertices, v);
    const a = sub(pointAt(vertices, triangles[next(h)]!), at);
    const b = sub(pointAt(vertices, triangles[previous(h)]!), at);
    sums[v]! += angle(a, b);
  });
  return sums.reduce((sum, a) => sum + 2 * Math.PI - a, 0);
}

/** Twins by a Map from the ordered vertex pair: another way to the same answer. */
function twinsByMap({ triangles }: Mesh): Int32Array {
  const all = new Map<string, number[]>();
  const key = (a: number, b: number): string => `${Math.min(a, b)} ${Math.max(a, b)}`;
  triangles.forEach((a, h) => {
    const k = key(a, triangles[next(h)]!);
    all.set(k, [...(all.get(k) ?? []), h]);
  });
  const twins = new Int32Array(triangles.length).fill(-1);
  for (const group of all.values()) {
    const [g, h] = group;
    if (group.length !== 2 || triangles[g!] === triangles[h!]) continue;
    twins[g!] = h!;
    twins[h!] = g!;
  }
  return twins;
}

const shapes: [string, () => Mesh, number][] = [
  ['cuboid', () => cuboid([1, 2, 3]), 2],
  ['sphere', () => sphere(10, 32), 2],
  ['icosphere', () => icosphere(10, 3), 2],
  ['torus', () => torus(20, 5, 48, 24), 0],
  ['pipe', () => pipe(10, 8, 30), 0],
  ['arch', () => arch(), 2],
  ['hollow sphere, two surfaces', () => hollowSphere(10, 8, 32), 4],
  ['two tori', () => together(torus(20, 5, 24, 12), torus(60, 5, 24, 12)), 0],
  ['scanned bunny', bunny3k, 2],
  ['scanned bunny, fine', bunny69k, 2],
  ['gearwheel with a bore', gearwheel, 0],
];

describe.each(shapes)('%s', (_, make, chi) => {
  const mesh = make();

  it(`V - E + F is ${chi}; the angle defects sum to 2 pi times that`, () => {
    expect(euler(mesh)).toBe(chi);
    expect(angleDefects(mesh) / (2 * Math.PI)).toBeCloseTo(chi, 7);
  });

  it('twins point at each other, along the same edge the other way', () => {
    const { triangles, twins } = mesh;
    for (let h = 0; h < twins.length; h++) {
      const t = twins[h]!;
      if (
        twins[t] !== h ||
        triangles[t] !== triangles[next(h)] ||
        triangles[next(t)] !== triangles[h]
      ) {
        expect.fail(`half-edge ${h}`);
      }
    }
  });

  it('sum of area normals is zero, and turning over negates the volume (divergence theorem)', () => {
    const n = areaNormals(mesh);
    const sum = [0, 0, 0];
    let area = 0;
    for (let i = 0; i < n.length; i++) sum[i % 3]! += n[i]!;
    for (let i = 0; i < n.length; i += 3) area += Math.hypot(n[i]!, n[i + 1]!, n[i + 2]!);
    expect(Math.hypot(...sum) / area).toBeLessThan(1e-9);
    const over = turnedOver(mesh);
    expect(massOf(over).volume / massOf(mesh).volume).toBeCloseTo(-1, 9);
    expect(over.twins).toEqual(meshFrom(over.vertices, over.triangles).twins);
  });
});

describe('against a Map', () => {
  for (let seed = 1; seed <= 40; seed++) {
    it(`random facets over few vertices, open, flipped and crowded (seed ${seed})`, () => {
      const random = seeded(seed);
      const count = 4 + Math.floor(random() * 8);
      const triangles = new Uint32Array(3 * Math.floor(1 + random() * 30));
      for (let i = 0; i < triangles.length; i++) triangles[i] = Math.floor(random() * count);
      const mesh = meshFrom(new Float64Array(3 * count), triangles);
      expect(mesh.twins).toEqual(twinsByMap(mesh));
    });
  }

  it('the gearwheel with every seventh facet missing', () => {
    const whole = gearwheel();
    const mesh = meshFrom(
      whole.vertices,
      whole.triangles.filter((_, i) => Math.floor(i / 3) % 7 > 0),
    );
    expect(mesh.twins).toEqual(twinsByMap(mesh));
  });
});

describe('bad edges', () => {
  const cube = cuboid([1, 1, 1]);

  it('tells open, flipped and crowded edges apart', () => {
    const counts = (t: Uint32Array): number[] => {
      const bad = badEdges(meshFrom(cube.vertices, t));
      return [bad.open.length, bad.flipped.length, bad.crowdedStart.length - 1];
    };
    const t = cube.triangles;
    expect(counts(t)).toEqual([0, 0, 0]);
    expect(counts(t.slice(3))).toEqual([3, 0, 0]);
    expect(counts(Uint32Array.of(t[1]!, t[0]!, ...t.slice(2)))).toEqual([0, 3, 0]);
    expect(counts(Uint32Array.of(...t, ...t.slice(0, 3)))).toEqual([0, 0, 3]);
  });

  it('follows the rim of each hole once around', () => {
    const ball = icosphere(10, 3);
    // Without two far apart vertices' fans: an original corner has five facets, any other six.
    const gone = new Set([0, ball.vertices.length / 3 - 1]);
    const kept = Array.from({ length: ball.triangles.length / 3 }, (_, t) =>
      ball.triangles.subarray(3 * t, 3 * t + 3),
    ).filter((f) => !f.some((v) => gone.has(v)));
    const mesh = meshFrom(ball.vertices, Uint32Array.from(kept.flatMap((f) => [...f])));
    const { halfEdges, start } = rims(mesh);
    const lengths = Array.from(start.subarray(1), (end, i) => end - start[i]!).sort();
    expect(lengths).toEqual([5, 6]);
    for (let i = 0; i + 1 < start.length; i++) {
      const loop = halfEdges.subarray(start[i], start[i + 1]);
      loop.forEach((h, k) =>
        expect(mesh.triangles[next(h)]).toBe(mesh.triangles[loop[(k + 1) % loop.length]!]),
      );
    }
  });
});

describe('shells and fans', () => {
  it('numbers shells by their first facet and hands them out whole', () => {
    const two = together(cuboid([1, 1, 1]), cuboid([2, 2, 2], [5, 0, 0]));
    expect(shellsOf(two).count).toBe(2);
    expect(splitShells(two).map((s) => massOf(s).volume)).toEqual([
      expect.closeTo(1, 12),
      expect.closeTo(8, 12),
    ]);
    const back = joined(splitShells(two));
    expect(back.twins).toEqual(meshFrom(back.vertices, back.triangles).twins);
    expect(massOf(back).volume).toBeCloseTo(9, 12);
  });

  it('gives two cones that share their tip a tip each', () => {
    const a = cuboid([1, 1, 1]);
    const tip = (at: Vec3): number[] => [...at];
    const vertices = new Float64Array([
      ...tip([0, 0, 0]),
      1,
      0,
      1,
      0,
      1,
      1,
      -1,
      -1,
      1,
      1,
      0,
      -1,
      0,
      1,
      -1,
      -1,
      -1,
      -1,
    ]);
    const cone = (b: number, c: number, d: number): number[] => [
      0,
      b,
      c,
      0,
      c,
      d,
      0,
      d,
      b,
      d,
      c,
      b,
    ];
    const mesh = meshFrom(vertices, Uint32Array.from([...cone(1, 2, 3), ...cone(6, 5, 4)]));
    expect(mesh.twins.includes(-1)).toBe(false);
    const split = splitFans(mesh);
    expect(split.added).toBe(1);
    expect(split.mesh.twins).toEqual(meshFrom(split.mesh.vertices, split.mesh.triangles).twins);
    expect(splitFans(a).added).toBe(0);
  });
});
