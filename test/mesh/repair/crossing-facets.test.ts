/**
 * Facets that cross or share area, at whole coordinates, where many only touch: against whole-number arithmetic,
 * which is exact, and against the area that is left when one triangle is clipped by the other.
 */
import { describe, expect, it } from 'vitest';
import { seeded } from '../../../lib/base/random.js';
import { type Vec2, type Vec3, cross, dot, length, sub } from '../../../lib/base/vector.js';
import { meshFrom } from '../../../lib/mesh/build.js';
import { treeOf } from '../../../lib/mesh/bvh.js';
import { eachContact } from '../../../lib/mesh/repair/crossing-facets.js';
import { crossings } from '../../../lib/mesh/repair/inspect.js';

type Corners = readonly [Vec3, Vec3, Vec3];

const treeOver = (facets: readonly Corners[]): ReturnType<typeof treeOf> =>
  treeOf(
    meshFrom(
      Float64Array.from(facets.flat(2)),
      Uint32Array.from({ length: 3 * facets.length }, (_, i) => i),
    ),
  );

const normalOf = ([a, b, c]: Corners): Vec3 => cross(sub(b, a), sub(c, a));

/** Six times the volume of a, b, c, d; exact for small whole numbers. */
const volume = (a: Vec3, b: Vec3, c: Vec3, d: Vec3): number =>
  dot(cross(sub(b, a), sub(c, a)), sub(d, a));

/** An edge of s passes through the inside of t: its ends strictly on both sides, turning one way round t. */
const pierces = (s: Corners, t: Corners): boolean =>
  [0, 1, 2].some((i) => {
    const [u, v] = [s[i]!, s[(i + 1) % 3]!];
    if (volume(...t, u) * volume(...t, v) >= 0) return false;
    const turns = [0, 1, 2].map((k) => Math.sign(volume(u, v, t[k]!, t[(k + 1) % 3]!)));
    return turns[0] !== 0 && turns.every((turn) => turn === turns[0]);
  });

/** The area that two triangles in one plane share (Sutherland and Hodgman, 1974), seen along an axis. */
function sharedArea(s: Corners, t: Corners): number {
  const n = normalOf(s);
  if (t.some((p) => dot(sub(p, s[0]), n) !== 0)) return 0;
  const axis = n.findIndex((x) => x !== 0);
  const flat = (f: Corners): Vec2[] => {
    const points = f.map((p): Vec2 => [p[(axis + 1) % 3]!, p[(axis + 2) % 3]!]);
    return turn(points[0]!, points[1]!, points[2]!) < 0 ? points.reverse() : points;
  };
  let left = flat(s);
  const by = flat(t);
  by.forEach((a, i) => {
    const b = by[(i + 1) % 3]!;
    left = left.flatMap((p, k): Vec2[] => {
      const q = left[(k + 1) % left.length]!;
      const [x, y] = [turn(a, b, p), turn(a, b, q)];
      const own = x >= 0 ? [p] : [];
      if (x * y >= 0) return own;
      const at = x / (x - y);
      return [...own, [p[0] + at * (q[0] - p[0]), p[1] + at * (q[1] - p[1])]];
    });
  });
  return left.reduce((sum, p, i) => {
    const q = left[(i + 1) % left.length]!;
    return sum + (p[0] * q[1] - q[0] * p[1]) / 2;
  }, 0);
}

const turn = (a: Vec2, b: Vec2, c: Vec2): number =>
  (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]);

/** Facets with area at whole coordinates below the sizes. */
function facets(random: () => number, count: number, sizes: Vec3): Corners[] {
  const out: Corners[] = [];
  while (out.length < count) {
    const [a, b, c] = [0, 1, 2].map(() => sizes.map((n) => Math.floor(n * random()))) as never as Corners; // prettier-ignore
    if (length(normalOf([a, b, c])) > 0) out.push([a, b, c]);
  }
  return out;
}

describe.each([
  ['in a cube of 4', [4, 4, 4]],
  ['in a cube of 30', [30, 30, 30]],
  ['in one plane along X and Y', [6, 6, 1]],
  ['in one plane along Y and Z', [1, 6, 6]],
  ['in one plane along X and Z', [6, 1, 6]],
  ['in two planes', [2, 5, 5]],
] as const)('loose facets %s', (_, sizes) => {
  it.each([1, 2])('cross and overlap where whole numbers say so (seed %i)', (seed) => {
    const all = facets(seeded(seed), 40, sizes);
    const found = new Map<string, string>();
    eachContact(treeOver(all), (a, b, contact) => {
      const key = `${Math.min(a, b)} ${Math.max(a, b)}`;
      expect(found.has(key)).toBe(false);
      found.set(key, contact);
      return true;
    });
    const want = new Map<string, string>();
    all.forEach((s, a) =>
      all.slice(0, a).forEach((t, b) => {
        if (pierces(s, t) || pierces(t, s)) want.set(`${b} ${a}`, 'cross');
        else if (sharedArea(s, t) > 1e-6) want.set(`${b} ${a}`, 'overlap');
      }),
    );
    expect([...found].sort()).toEqual([...want].sort());
  });
});

describe('the walk', () => {
  const all = facets(seeded(9), 60, [8, 8, 8]);
  const pairs = (wanted?: (a: number, b: number) => boolean): string[] => {
    const out: string[] = [];
    eachContact(treeOver(all), (a, b) => out.push(`${Math.min(a, b)} ${Math.max(a, b)}`) > 0, wanted); // prettier-ignore
    return out.sort();
  };

  it('tests only the pairs that are wanted', () => {
    const apart = (a: number, b: number): boolean => (a + b) % 3 === 0;
    expect(pairs(apart)).toEqual(
      pairs().filter((key) => apart(...(key.split(' ').map(Number) as [number, number]))),
    );
    expect(pairs().length).toBeGreaterThan(20);
  });

  it('ends where it is told to', () => {
    let calls = 0;
    eachContact(treeOver(all), () => ++calls < 5);
    expect(calls).toBe(5);
    eachContact(treeOver([]), () => expect.fail('there is nothing'));
  });

  it('counts pairs up to a limit and says whether it came to the end', () => {
    const crossed = all.flatMap((s, a) => all.slice(0, a).filter((t) => pierces(s, t) || pierces(t, s))); // prettier-ignore
    const tree = treeOver(all);
    const n = crossed.length;
    expect(crossings(tree, n + 1)).toMatchObject({ pairs: n, complete: true });
    expect(crossings(tree, n)).toMatchObject({ pairs: n, complete: false });
    expect(crossings(tree, 3)).toMatchObject({ pairs: 3, complete: false });
    const corners = new Set(all.flat().map(String));
    expect(corners.has(String(crossings(tree, 3).at))).toBe(true);
    expect(crossings(treeOver(all.slice(0, 1)), 3)).toEqual({ pairs: 0, complete: true });
  });
});

/*
 * The depth from which facets cross is 1.2e-7 of the diagonal, twice the rounding of float32 (2^-24 = 5.96e-8,
 * IEEE 754): a spike on a plate, whose tip goes through by more or less than that, in each direction of space.
 */
describe.each([0, 1, 2])('a spike through a plate across axis %i', (axis) => {
  const turned = (x: number, y: number, z: number): Vec3 =>
    [0, 1, 2].map((c) => [x, y, z][(c - axis + 3) % 3]!) as unknown as Vec3;
  const contactAt = (depth: number, scale: number): string | undefined => {
    const at = (x: number, y: number, z: number): Vec3 => turned(scale * x, scale * y, scale * z);
    const plate: Corners = [at(0, -3, -3), at(0, 5, -3), at(0, -3, 5)];
    const spike: Corners = [at(-depth, 0, 0), at(6, 1, 0), at(6, 0, 1)];
    let seen: string | undefined;
    eachContact(treeOver([plate, spike]), (_, __, contact) => {
      seen = contact;
      return true;
    });
    return seen;
  };
  const diagonal = Math.hypot(6, 8, 8);

  it.each([1, 1e-3, 1e3])('crosses from that depth on, at any scale (%d)', (scale) => {
    expect(contactAt(1.21e-7 * diagonal, scale)).toBe('cross');
    expect(contactAt(1.19e-7 * diagonal, scale)).toBeUndefined();
    expect(contactAt(0, scale)).toBeUndefined();
    expect(contactAt(-1, scale)).toBeUndefined();
    expect(contactAt(2, scale)).toBe('cross');
  });
});
