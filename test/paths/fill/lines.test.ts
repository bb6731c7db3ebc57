/** Lines of fill: scan lines, their turns, clipped lines and the gyroid, against geometry worked out point by point. */
import { describe, expect, it } from 'vitest';
import { seeded } from '../../../lib/base/random.js';
import type { Vec2 } from '../../../lib/base/vector.js';
import { clipLine } from '../../../lib/paths/fill/clip.js';
import { MEAN_WAVE_LENGTH, waveLines, wavesAt } from '../../../lib/paths/fill/gyroid.js';
import { scan, segments } from '../../../lib/paths/fill/scan-lines.js';
import { joinedLines } from '../../../lib/paths/fill/turns.js';
import { gridOf } from '../../../lib/polygon/edge-grid.js';
import type { Polygons } from '../../../lib/polygon/polygons.js';
import { polygonsFrom } from '../../support/polygons.js';

/** A star about a point, with a square hole about it. */
function star(random: () => number, corners: number): Vec2[][] {
  const outer = Array.from({ length: corners }, (_, i): Vec2 => {
    const [r, a] = [8 + 8 * random(), (2 * Math.PI * (i + 0.7 * random())) / corners];
    return [3 + r * Math.cos(a), -2 + r * Math.sin(a)];
  });
  const hole: Vec2[] = [[1, -4], [1, 0], [5, 0], [5, -4]]; // prettier-ignore
  return [outer, hole];
}

const sides = (loops: readonly Vec2[][]): [Vec2, Vec2][] =>
  loops.flatMap((loop) => loop.map((p, i): [Vec2, Vec2] => [p, loop[(i + 1) % loop.length]!]));

/** Even and odd crossings of a ray along +X. */
const within = (loops: readonly Vec2[][], [x, y]: Vec2): boolean =>
  sides(loops).filter(
    ([a, b]) => a[1] > y !== b[1] > y && x < a[0] + ((y - a[1]) / (b[1] - a[1])) * (b[0] - a[0]),
  ).length % 2 === 1; // prettier-ignore

/** Where the line through o along d meets the sides, as shares of d, rising. */
const meets = (loops: readonly Vec2[][], o: Vec2, d: Vec2): number[] =>
  sides(loops)
    .flatMap(([a, b]) => {
      const e: Vec2 = [b[0] - a[0], b[1] - a[1]];
      const det = d[0] * e[1] - d[1] * e[0];
      const [x, y] = [a[0] - o[0], a[1] - o[1]];
      const s = (x * d[1] - y * d[0]) / det;
      return s >= 0 && s < 1 ? [(x * e[1] - y * e[0]) / det] : [];
    })
    .sort((a, b) => a - b);

const sorted = (lines: readonly (readonly number[])[]): string[] =>
  lines.map((l) => l.map((x) => (Math.abs(x) < 1e-7 ? 0 : x).toFixed(6)).join(' ')).sort();

describe('scan lines', () => {
  it.each([1, 2, 3, 4])(
    'meet the boundary where lines do, as far as they are long enough (seed %i)',
    (seed) => {
      const random = seeded(seed);
      const loops = star(random, 5 + 3 * seed);
      const angle = 6 * random();
      const [pitch, base, least] = [0.7 + random(), random(), 1.1];
      const p = polygonsFrom(loops as never);
      const found = scan(p, angle, pitch, base);
      const [c, s] = [Math.cos(angle), Math.sin(angle)];
      const want: number[][] = [];
      for (let j = -60; j <= 60; j++) {
        const v = base + j * pitch;
        const o: Vec2 = [-v * s, v * c];
        const at = meets(loops, o, [c, s]);
        for (let k = 0; k + 1 < at.length; k += 2) {
          if (at[k + 1]! - at[k]! < least) continue;
          want.push([at[k]!, at[k + 1]!].flatMap((u) => [o[0] + u * c, o[1] + u * s]));
        }
      }
      expect(sorted(segments(found, least).map((xy) => [...xy]))).toEqual(sorted(want));
      expect(want.length).toBeGreaterThan(8);
    },
  );

  it('joined run over each segment once, along the boundary from one line to the next', () => {
    const random = seeded(7);
    for (let n = 0; n < 12; n++) {
      const loops = star(random, 6 + n);
      const p = polygonsFrom(loops as never);
      const pitch = 0.8;
      const s = scan(p, n / 3, pitch, 0.1);
      const all = segments(s, 0);
      const lines = joinedLines(p, s);
      expect(lines.length).toBeLessThan(all.length);
      const left = new Set(sorted(all.map((xy) => [...xy])));
      for (const xy of lines) {
        let way = 0;
        let step = 0;
        for (let i = 2; i < xy.length; i += 2) {
          const [a, b] = [[xy[i - 2]!, xy[i - 1]!], [xy[i]!, xy[i + 1]!]] as [Vec2, Vec2]; // prettier-ignore
          const own = sorted([[...a, ...b]])[0]!;
          const back = sorted([[...b, ...a]])[0]!;
          if (left.delete(own) || left.delete(back)) {
            // Between lines: no longer than six pitches, and never far along them.
            expect(way).toBeLessThanOrEqual(6 * pitch + 1e-9);
            expect(step).toBeLessThanOrEqual(1.5 * pitch + 1e-9);
            way = step = 0;
            continue;
          }
          way += Math.hypot(b[0] - a[0], b[1] - a[1]);
          const along = Math.abs((b[0] - a[0]) * s.cos + (b[1] - a[1]) * s.sin);
          const across = Math.abs((b[1] - a[1]) * s.cos - (b[0] - a[0]) * s.sin);
          if (across <= 0.02 * along) step += along;
          // On one side of the boundary, both ends.
          const on = sides(loops).some(([u, v]) =>
            [a, b].every((q) => {
              const size = Math.hypot(v[0] - u[0], v[1] - u[1]);
              const off = (v[0] - u[0]) * (q[1] - u[1]) - (v[1] - u[1]) * (q[0] - u[0]);
              return Math.abs(off) / size < 1e-6;
            }),
          );
          expect(on).toBe(true);
        }
      }
      expect(left.size).toBe(0);
    }
  });

  it('of a rectangle are one path, and of a stepped one none goes down the step', () => {
    for (const pitch of [0.5, 1, 3]) {
      const path = (loop: Vec2[]): number => {
        const p: Polygons = polygonsFrom([loop.map(([x, y]) => [x * pitch, y * pitch])]);
        return joinedLines(p, scan(p, 0, pitch, 0.5 * pitch)).length;
      };
      expect(path([[0, 0], [9, 0], [9, 6], [0, 6]])).toBe(1); // prettier-ignore
      // Steps of 1.4 pitches on both sides are turns, of 1.6 they are not.
      expect(path([[-1.4, 0], [10.4, 0], [10.4, 3], [9, 3], [9, 6], [0, 6], [0, 3], [-1.4, 3]])).toBe(1); // prettier-ignore
      expect(path([[-1.6, 0], [10.6, 0], [10.6, 3], [9, 3], [9, 6], [0, 6], [0, 3], [-1.6, 3]])).toBe(2); // prettier-ignore
    }
  });
});

it('lines of a rectangle are one path wherever its loop begins', () => {
  const side = [0, 1, 2, 3, 4, 5];
  const loop = [
    ...side.map((y): Vec2 => [9, y]),
    ...[9, 0].map((x): Vec2 => [x, 6]),
    ...side.map((y): Vec2 => [0, 5 - y]),
  ];
  for (let from = 0; from < loop.length; from++) {
    const p: Polygons = polygonsFrom([[...loop.slice(from), ...loop.slice(0, from)]]);
    expect(joinedLines(p, scan(p, 0, 1, 0.5))).toHaveLength(1);
  }
});

describe('clipped lines', () => {
  it.each([1, 2, 3])(
    'are the parts within, each at least as long as is asked (seed %i)',
    (seed) => {
      const random = seeded(seed);
      const loops = star(random, 7 + seed);
      const grid = gridOf(polygonsFrom(loops as never));
      for (let n = 0; n < 40; n++) {
        const xy = Float64Array.from({ length: 10 }, () => 40 * random() - 20);
        const least = n % 2 ? 3 : 0;
        const want: number[] = [];
        let open = 0;
        for (let i = 2; i < xy.length; i += 2) {
          const o: Vec2 = [xy[i - 2]!, xy[i - 1]!];
          const d: Vec2 = [xy[i]! - o[0], xy[i + 1]! - o[1]];
          const at = [0, ...meets(loops, o, d).filter((t) => t > 0 && t < 1), 1];
          for (let k = 0; k + 1 < at.length; k++) {
            const middle = (at[k]! + at[k + 1]!) / 2;
            const inside = within(loops, [o[0] + middle * d[0], o[1] + middle * d[1]]);
            if (inside) open += (at[k + 1]! - at[k]!) * Math.hypot(...d);
            else {
              if (open > 0 && open >= least) want.push(open);
              open = 0;
            }
          }
        }
        if (open > 0 && open >= least) want.push(open);
        const lengths = clipLine(grid, xy, least)
          .filter((line) => line.length > 0)
          .map((line) => {
            let sum = 0;
            for (let i = 2; i < line.length; i += 2) {
              sum += Math.hypot(line[i]! - line[i - 2]!, line[i + 1]! - line[i - 1]!);
              expect(within(loops, [(line[i]! + line[i - 2]!) / 2, (line[i + 1]! + line[i - 1]!) / 2])).toBe(true); // prettier-ignore
            }
            return sum;
          });
        expect(lengths).toHaveLength(want.length);
        lengths.forEach((l, k) => expect(l).toBeCloseTo(want[k]!, 9));
      }
    },
  );
});

describe('the gyroid', () => {
  const level = (x: number, y: number, z: number): number =>
    Math.sin(x) * Math.cos(y) + Math.sin(y) * Math.cos(z) + Math.sin(z) * Math.cos(x);

  it('has its waves on the level set sin x cos y + sin y cos z + sin z cos x = 0, unbroken', () => {
    for (let k = 0; k < 48; k++) {
      const z = (2 * Math.PI * k) / 48 + 0.01;
      const { alongX, lines } = wavesAt(z, 40);
      expect(alongX).toBe(Math.abs(Math.cos(z)) >= Math.abs(Math.sin(z)));
      for (const line of lines) {
        expect(line).toHaveLength(82);
        for (let i = 0; i <= 40; i++) {
          const [along, across] = [line[2 * i]!, line[2 * i + 1]!];
          expect(along).toBeCloseTo((2 * Math.PI * i) / 40, 12);
          expect(level(alongX ? along : across, alongX ? across : along, z)).toBeCloseTo(0, 9);
          if (i > 0) expect(Math.abs(across - line[2 * i - 1]!)).toBeLessThan(0.7);
        }
        expect(line[81]!).toBeCloseTo(line[1]!, 9);
      }
    }
  });

  it('covers a box: every crossing of the level set there lies on a wave, and waves are no more', () => {
    const [period, box] = [7, [-5, 3, 21, 17]] as const;
    const w = (2 * Math.PI) / period;
    for (const height of [0.3, 1.9, 2.6, 4.4, 6.1]) {
      const lines = waveLines(height, box, period);
      const points = lines.flatMap((l) => Array.from({ length: l.length / 2 - 1 }, (_, i) => [l[2 * i]!, l[2 * i + 1]!, l[2 * i + 2]!, l[2 * i + 3]!])); // prettier-ignore
      for (const [x, y] of points) {
        expect(level(w * x!, w * y!, w * height)).toBeCloseTo(0, 9);
      }
      // Along lines across the box the sign changes exactly where a wave crosses.
      const alongX = Math.abs(Math.cos(w * height)) >= Math.abs(Math.sin(w * height));
      for (let n = 0; n < 6; n++) {
        const at = (alongX ? box[0] : box[1]) + (n + 0.41) * 2;
        const [from, to] = alongX ? [box[1], box[3]] : [box[0], box[2]];
        const f = (t: number): number => alongX ? level(w * at, w * t, w * height) : level(w * t, w * at, w * height); // prettier-ignore
        let changes = 0;
        for (let k = 0; k < 4000; k++) {
          const [a, b] = [k, k + 1].map((i) => from + ((to - from) * i) / 4000) as [number, number];
          if (f(a) > 0 !== f(b) > 0) changes++;
        }
        const c = alongX ? 0 : 1;
        const crossed = points.filter((p) => {
          if (p[c]! > at === p[c + 2]! > at) return false;
          const t = (at - p[c]!) / (p[c + 2]! - p[c]!);
          const across = p[1 - c]! + t * (p[3 - c]! - p[1 - c]!);
          return across > from && across < to;
        });
        expect(Math.abs(crossed.length - changes)).toBeLessThanOrEqual(1);
      }
    }
  });

  it('is as long as its mean over all heights says (quadrature over 100 heights)', () => {
    let sum = 0;
    for (let k = 0; k < 100; k++) {
      for (const line of wavesAt((2 * Math.PI * (k + 0.5)) / 100, 200).lines) {
        for (let i = 2; i < line.length; i += 2) {
          sum += Math.hypot(line[i]! - line[i - 2]!, line[i + 1]! - line[i - 1]!);
        }
      }
    }
    // Length over the period square, in periods.
    expect(sum / 100 / (2 * Math.PI)).toBeCloseTo(MEAN_WAVE_LENGTH, 2);
  });
});
