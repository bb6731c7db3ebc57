/** Welding and dropping, over small sets of vertices and facets: what each promises, checked pair by pair. */
import { describe, expect, it } from 'vitest';
import { seeded } from '../../../lib/base/random.js';
import { dropRepeated } from '../../../lib/mesh/repair/repeated.js';
import { weldExact, weldNear } from '../../../lib/mesh/repair/weld.js';

const place = (vertices: Float64Array, v: number): number[] => [
  ...vertices.subarray(3 * v, 3 * v + 3),
];

describe('welding', () => {
  it.each([1, 2, 3, 4])('equal places become one vertex, all others stay (seed %i)', (seed) => {
    const random = seeded(seed);
    const some = [-1, -0, 0, 0.5, 1e-300, 1 + 2 ** -52, 1];
    const vertices = Float64Array.from({ length: 3 * 60 }, () => some[Math.floor(7 * random())]!);
    const triangles = Uint32Array.from({ length: 240 }, () => Math.floor(60 * random()));
    const welded = weldExact({ vertices, triangles });
    const key = (p: number[]): string => p.map((x) => x + 0).join(' ');
    welded.triangles.forEach((v, i) =>
      expect(key(place(welded.vertices, v))).toBe(key(place(vertices, triangles[i]!))),
    );
    const used = new Set([...triangles].map((v) => key(place(vertices, v))));
    expect(welded.vertices.length / 3).toBe(used.size);
    expect(new Set(welded.triangles).size).toBe(used.size);
    // In the order in which the corners name them; 0 and -0 are equal and written as 0.
    let next = 0;
    for (const v of welded.triangles) if (v >= next) expect(v).toBe(next++);
    expect([...welded.vertices].some((x) => Object.is(x, -0))).toBe(false);
  });

  it.each([1, 2, 3, 4])(
    'near ones join one that is near, and those that stay are far apart (seed %i)',
    (seed) => {
      const random = seeded(seed);
      const tolerance = [0.25, 1, 0.01, 3][seed - 1]!;
      const count = 80;
      const vertices = Float64Array.from({ length: 3 * count }, () => 6 * random() - 3);
      const chosen = Uint32Array.from(
        Array.from({ length: count }, (_, v) => v).filter((v) => v % 5 > 0),
      );
      const triangles = Uint32Array.from({ length: count }, (_, v) => v);
      const near = weldNear({ vertices, triangles }, chosen, tolerance);
      expect(near.vertices).toBe(vertices);
      const gap = (a: number, b: number): number => {
        const [p, q] = [place(vertices, a), place(vertices, b)];
        return Math.hypot(p[0]! - q[0]!, p[1]! - q[1]!, p[2]! - q[2]!);
      };
      const kept: number[] = [];
      near.triangles.forEach((to, v) => {
        if (v % 5 === 0) expect(to).toBe(v);
        else if (to === v) {
          // The first of its neighbourhood.
          for (const k of kept) expect(gap(v, k)).toBeGreaterThan(tolerance);
          kept.push(v);
        } else {
          expect(kept).toContain(to);
          expect(gap(v, to)).toBeLessThanOrEqual(tolerance);
        }
      });
      expect(kept.length).toBeLessThanOrEqual(chosen.length);
    },
  );

  it('joins across the corner of a cell and exactly at the tolerance', () => {
    const at = (...p: number[]): number => {
      const vertices = Float64Array.of(0, 0, 0, ...p);
      const facets = { vertices, triangles: Uint32Array.of(0, 1, 1) };
      return weldNear(facets, Uint32Array.of(0, 1), 5).triangles[1]!;
    };
    expect(at(-1, -1, -1)).toBe(0);
    expect(at(3, 4, 0)).toBe(0);
    expect(at(-3, 0, -4)).toBe(0);
    expect(at(0, 3, 4.001)).toBe(1);
  });
});

describe('facets that bound nothing', () => {
  const turns = ([a, b, c]: number[]): string => {
    const least = Math.min(a!, b!, c!);
    return (a === least ? [a, b, c] : b === least ? [b, c, a] : [c, a, b]).join(' ');
  };

  it.each([1, 2, 3, 4, 5])('are dropped by counting each way round (seed %i)', (seed) => {
    const random = seeded(seed);
    const facets = Array.from({ length: 20 + 20 * seed }, () =>
      [0, 1, 2].map(() => Math.floor((4 + (seed % 2)) * random())),
    );
    // Ways round on the same three vertices, and what stays of them: one of those in the majority.
    const ways = new Map<string, number>();
    let collapsed = 0;
    let first = -1;
    facets.forEach((f) => {
      const broken = new Set(f).size < 3;
      const same = [...f].sort((a, b) => a - b);
      const known = ways.has(turns(f)) || ways.has(turns([...f].reverse()));
      if ((broken || known) && first < 0) first = same[0]!;
      if (broken) collapsed++;
      else ways.set(turns(f), (ways.get(turns(f)) ?? 0) + 1);
    });
    let opposed = 0;
    let copies = 0;
    const stay: string[] = [];
    for (const [key, n] of ways) {
      const back = ways.get(turns(key.split(' ').map(Number).reverse())) ?? 0;
      if (back === 0 || n > back) copies += n - back - 1;
      if (n > back) stay.push(key);
      // Each pair is met from both sides.
      opposed += Math.min(n, back) / 2;
    }
    const kept = dropRepeated(Uint32Array.from(facets.flat()));
    expect(kept).toMatchObject({ collapsed, copies, opposed, at: first });
    const left: string[] = [];
    for (let i = 0; i < kept.triangles.length; i += 3) {
      left.push(turns([...kept.triangles.subarray(i, i + 3)]));
    }
    expect(left.sort()).toEqual(stay.sort());
  });

  it('where there are none the facets are handed back as they are', () => {
    const triangles = Uint32Array.of(0, 1, 2, 0, 2, 3, 0, 3, 1, 3, 2, 1);
    const kept = dropRepeated(triangles);
    expect(kept).toEqual({ triangles, collapsed: 0, copies: 0, opposed: 0, at: -1 });
    expect(kept.triangles).toBe(triangles);
  });
});
