/** Deeds of healing, each on a part whose right shape is known: volumes are closed forms. */
import { describe, expect, it } from 'vitest';
import { seeded } from '../../../lib/base/random.js';
import { earTriangles } from '../../../lib/mesh/repair/ears.js';
import { badEdges } from '../../../lib/mesh/repair/edge-faults.js';
import { massOf } from '../../../lib/mesh/measure.js';
import type { Mesh } from '../../../lib/mesh/mesh.js';
import { dropRepeated } from '../../../lib/mesh/repair/repeated.js';
import { weldExact } from '../../../lib/mesh/repair/weld.js';
import { meshFrom } from '../../../lib/mesh/build.js';
import { icosphere } from '../../support/shapes.js';
import { gearwheel } from '../../support/open-meshes.js';
import { type Facet, type Point, binaryStl, boxFacets, turnedFacets } from '../../formats/files.js';
import { codes, read, refused } from '../../formats/reading.js';

const facetsOf = ({ vertices, triangles }: Mesh): Facet[] =>
  Array.from(
    { length: triangles.length / 3 },
    (_, t) =>
      [0, 1, 2].map((i) => {
        const v = 3 * triangles[3 * t + i]!;
        return [vertices[v], vertices[v + 1], vertices[v + 2]];
      }) as unknown as Facet,
  );

/** Codes without the note on normals, which these files leave zero. */
const deeds = (bytes: Uint8Array): { volume: number; deeds: string[]; mesh: Mesh } => {
  const part = read(bytes);
  return {
    volume: massOf(part.mesh).volume,
    deeds: codes(part).filter((c) => c !== 'stl/normal-missing'),
    mesh: part.mesh,
  };
};

const CUBE = boxFacets([0, 0, 0], [10, 10, 10]);

describe('holes', () => {
  it('fills the hole that a few missing facets leave in a sphere', () => {
    const ball = facetsOf(icosphere(10, 4));
    const whole = massOf(icosphere(10, 4)).volume;
    const { volume, deeds: done } = deeds(binaryStl(ball.slice(6)));
    expect(new Set(done)).toEqual(new Set(['mesh/hole-filled']));
    expect(volume / whole).toBeCloseTo(1, 3);
  });

  it('refuses a lid that is missing: 1 of 6 faces is 17 % of the surface, the limit is 1 %', () => {
    const fault = refused(binaryStl(CUBE.slice(2)));
    expect(fault.code).toBe('mesh/open-edges');
    expect(fault.message).toMatch(/4 open edges in 1 hole.*20 % of the surface.*limit.*1 %/);
    expect(fault.at?.point).toEqual([5, 5, 0]);
  });

  it('refuses a small hole with a rim far from flat', () => {
    // A deep notch: facets of a narrow strip over a quarter of the sphere's girth are missing.
    const ball = facetsOf(icosphere(10, 5));
    const strip = ball.filter((f) => {
      const [x, y, z] = [0, 1, 2].map((c) => (f[0][c]! + f[1][c]! + f[2][c]!) / 3) as [
        number,
        number,
        number,
      ];
      return !(Math.abs(y) < 0.35 && x > 0 && z > 0);
    });
    const fault = refused(binaryStl(strip));
    expect([fault.code, fault.message]).toEqual([
      'mesh/open-edges',
      expect.stringMatching(/off its mean plane/) as string,
    ]);
  });
});

describe('cracks', () => {
  it('joins corners that lie 1e-5 mm apart along an edge of a 10 mm cube', () => {
    const cracked = CUBE.map((f, i) =>
      i < 2 ? (f.map(([x, y, z]) => [x, y, z - 1e-5]) as unknown as Facet) : f,
    );
    const { volume, deeds: done } = deeds(binaryStl(cracked));
    expect(done).toEqual(['mesh/cracks-joined']);
    expect(volume).toBeCloseTo(1000, 2);
  });

  it('leaves a slit of 0.5 mm open and refuses it', () => {
    const slit = CUBE.map((f, i) =>
      i < 2 ? (f.map(([x, y, z]) => [x, y, z - 0.5]) as unknown as Facet) : f,
    );
    expect(refused(binaryStl(slit)).code).toBe('mesh/open-edges');
  });
});

describe('facets that bound nothing', () => {
  const flap: Facet = [
    [10, 0, 0],
    [10, 10, 0],
    [10, 0, 10],
  ];

  it.each<[string, Facet[]]>([
    [
      'two equal corners',
      [
        [
          [0, 0, 0],
          [0, 0, 0],
          [10, 0, 0],
        ],
      ],
    ],
    ['a copy of a facet', [CUBE[0]!]],
    ['a facet in both directions, hung on an edge', [flap, turnedFacets([flap])[0]!]],
    ['all of a cube twice', CUBE],
  ])('drops %s', (_, extra) => {
    const { volume, deeds: done } = deeds(binaryStl([...CUBE, ...extra]));
    expect(done).toEqual(['mesh/repeated-facets']);
    expect(volume).toBeCloseTo(1000, 9);
    expect(refused(binaryStl([...CUBE, ...extra]), { heal: false }).code).toBe(
      'mesh/repeated-facets',
    );
  });

  it('joins two boxes over a common face of equal facets: the face goes, 2000 mm3 stay', () => {
    const {
      volume,
      deeds: done,
      mesh,
    } = deeds(binaryStl([...CUBE, ...boxFacets([10, 0, 0], [10, 10, 10])]));
    // Faces of these boxes are cut along the same diagonal, so their facets cancel in pairs.
    expect(done).toEqual(['mesh/repeated-facets']);
    expect(volume).toBeCloseTo(2000, 9);
    expect(mesh.triangles.length / 3).toBe(20);
  });

  it('refuses a sheet of two sides, which encloses nothing', () => {
    expect(refused(binaryStl([flap, ...turnedFacets([flap])])).code).toBe('mesh/no-facets');
  });

  it('counts copies and opposed pairs', () => {
    const t = Uint32Array.of(0, 1, 2, 1, 2, 0, 2, 1, 0, 0, 1, 3, 3, 1, 0, 4, 4, 5, 0, 2, 3);
    expect(dropRepeated(t)).toMatchObject({
      collapsed: 1,
      copies: 0,
      opposed: 2,
      triangles: Uint32Array.of(0, 1, 2, 0, 2, 3),
    });
    const two = Uint32Array.of(0, 1, 2, 1, 2, 0, 2, 0, 1);
    expect(dropRepeated(two)).toMatchObject({
      collapsed: 0,
      copies: 2,
      opposed: 0,
      triangles: Uint32Array.of(0, 1, 2),
    });
  });
});

describe('solids that touch', () => {
  it('takes two boxes apart that share one edge: 2000 mm3, four facets at that edge', () => {
    const {
      volume,
      deeds: done,
      mesh,
    } = deeds(binaryStl([...CUBE, ...boxFacets([10, 10, 0], [10, 10, 10])]));
    expect(done).toEqual(['mesh/touching-edges']);
    expect(volume).toBeCloseTo(2000, 9);
    expect(mesh.vertices.length / 3).toBe(16);
    expect(badEdges(mesh).crowdedStart.length - 1).toBe(0);
  });

  it('takes four boxes apart that share one edge with their neighbours around it', () => {
    const at: Point[] = [
      [0, 0, 0],
      [10, 10, 0],
    ];
    const stacked = at.flatMap(([x, y]) => [
      ...boxFacets([x, y, 0], [10, 10, 10]),
      ...boxFacets([x, y, 20], [10, 10, 10]),
    ]);
    expect(deeds(binaryStl(stacked)).volume).toBeCloseTo(4000, 9);
  });

  it('refuses a wall that hangs from an edge: three facets meet there', () => {
    const wall: Facet = [
      [0, 0, 0],
      [10, 0, 0],
      [5, -5, 5],
    ];
    const fault = refused(binaryStl([...CUBE, wall]));
    expect([fault.code, fault.message]).toEqual([
      'mesh/crowded-edge',
      expect.stringMatching(/1 edges.*more than 2/) as string,
    ]);
  });
});

describe('weld', () => {
  for (let seed = 1; seed <= 5; seed++) {
    it(`gives back the gearwheel from its loose facets in any order (seed ${seed})`, () => {
      const random = seeded(seed);
      const whole = gearwheel();
      const facets = facetsOf(whole);
      for (let i = facets.length - 1; i > 0; i--) {
        const k = Math.floor(random() * (i + 1));
        [facets[i], facets[k]] = [facets[k]!, facets[i]!];
      }
      const { vertices, triangles } = weldExact({
        vertices: Float64Array.from(facets.flat(2)),
        triangles: Uint32Array.from({ length: 3 * facets.length }, (_, i) => i),
      });
      expect(vertices.length).toBe(whole.vertices.length);
      const mesh = meshFrom(vertices, triangles);
      expect(mesh.twins.includes(-1)).toBe(false);
      expect(massOf(mesh).volume / massOf(whole).volume).toBeCloseTo(1, 9);
    });
  }
});

describe('ears', () => {
  const area = (p: Float64Array, t: Uint32Array): number => {
    let sum = 0;
    for (let i = 0; i < t.length; i += 3) {
      const [a, b, c] = [2 * t[i]!, 2 * t[i + 1]!, 2 * t[i + 2]!];
      const two =
        (p[b]! - p[a]!) * (p[c + 1]! - p[a + 1]!) - (p[b + 1]! - p[a + 1]!) * (p[c]! - p[a]!);
      expect(two).toBeGreaterThan(0);
      sum += two / 2;
    }
    return sum;
  };
  const shoelace = (p: Float64Array): number => {
    let sum = 0;
    for (let i = 0; i < p.length; i += 2) {
      const k = (i + 2) % p.length;
      sum += (p[i]! * p[k + 1]! - p[k]! * p[i + 1]!) / 2;
    }
    return sum;
  };

  for (let seed = 1; seed <= 50; seed++) {
    it(`cuts a star polygon into n - 2 triangles of its area (seed ${seed})`, () => {
      const random = seeded(seed);
      const n = 3 + Math.floor(random() * 60);
      const p = new Float64Array(2 * n);
      for (let i = 0; i < n; i++) {
        const r = 1 + 9 * random();
        p[2 * i] = r * Math.cos((2 * Math.PI * i) / n);
        p[2 * i + 1] = r * Math.sin((2 * Math.PI * i) / n);
      }
      const t = earTriangles(p)!;
      expect(t.length).toBe(3 * (n - 2));
      expect(area(p, t) / shoelace(p)).toBeCloseTo(1, 9);
    });
  }

  it('refuses a bow tie and a line', () => {
    expect(earTriangles(Float64Array.of(0, 0, 4, 4, 4, 0, 0, 4))).toBeUndefined();
    expect(earTriangles(Float64Array.of(0, 0, 1, 0, 2, 0, 1, 0))).toBeUndefined();
  });
});
