/** The edge grid, scan lines, clipping and pieces against plain searches and areas. */
import { describe, expect, test } from 'vitest';
import { type Polygons, area } from '../../lib/polygon/polygons.js';
import { polygonsFrom } from '../support/polygons.js';
import { seeded } from '../../lib/base/random.js';
import { clipLine } from '../../lib/paths/fill/clip.js';
import {
  contains,
  crosses,
  gridOf,
  hitLeft,
  hitsOf,
  nearestEdge,
} from '../../lib/polygon/edge-grid.js';
import { lineLength } from '../../lib/polygon/loops.js';
import { piecesOf, splitPieces } from '../../lib/paths/piece-numbers.js';
import { scan, segments } from '../../lib/paths/fill/scan-lines.js';
import { simplifiedLine } from '../../lib/paths/walls/simplify-line.js';
import { joinedLines } from '../../lib/paths/fill/turns.js';
import { type Loop, circle, distance, hole, rectangle, winding } from '../paths/flat.js';

/** Points on a coarse raster, so that edges are often level, upright or in one line. */
function raster(seed: number): Polygons {
  const random = seeded(seed);
  const loop: Loop = Array.from({ length: 24 }, (_, i) => {
    const r = 3 + 7 * random();
    const t = (2 * Math.PI * i) / 24;
    return [Math.round(r * Math.cos(t)), Math.round(r * Math.sin(t))];
  });
  return polygonsFrom([loop]);
}

describe.each([1, 2, 3, 4, 5, 6, 7, 8])('a loop on a coarse raster, seed %d', (seed) => {
  const p = raster(seed);
  const grid = gridOf(p);
  const random = seeded(seed + 100);
  const point = (): [number, number] => [24 * random() - 12, 24 * random() - 12];

  test('inside by the even-odd rule, also level with vertices', () => {
    for (let n = 0; n < 500; n++) {
      let [x, y] = point();
      if (n % 2) y = Math.round(y);
      x += 1e-7;
      // On an edge either answer is right.
      if (distance(p, x, y) < 1e-6) continue;
      expect(contains(grid, x, y)).toBe(Math.abs(winding(p, x, y)) % 2 === 1);
    }
  });

  test('nearest edge', () => {
    for (let n = 0; n < 200; n++) {
      const [x, y] = point();
      expect(nearestEdge(grid, x, y).distance).toBeCloseTo(distance(p, x, y), 9);
    }
  });

  test('crossings: as many as a search of all edges finds', () => {
    for (let n = 0; n < 300; n++) {
      const [ax, ay] = point();
      let [bx, by] = point();
      if (n % 3 === 0) by = ay;
      if (n % 3 === 1) bx = ax;
      let count = 0;
      for (let i = 0; i < 24; i++) {
        const [c, d] = [i, (i + 1) % 24];
        const [cx, cy] = [p.points[2 * c]!, p.points[2 * c + 1]!];
        const [dx, dy] = [p.points[2 * d]!, p.points[2 * d + 1]!];
        const side = (x: number, y: number): number => (bx - ax) * (y - ay) - (by - ay) * (x - ax);
        const turn = (x: number, y: number): number => (dx - cx) * (y - cy) - (dy - cy) * (x - cx);
        if (side(cx, cy) * side(dx, dy) < 0 && turn(ax, ay) * turn(bx, by) < 0) count++;
      }
      expect(hitsOf(grid, ax, ay, bx, by).length).toBe(count);
      expect(crosses(grid, ax, ay, bx, by)).toBe(count > 0);
    }
  });

  test('clipped lines: the length inside is that of many short stretches that are inside', () => {
    for (let n = 0; n < 20; n++) {
      const xy = Float64Array.from({ length: 10 }, () => 24 * random() - 12);
      const got = clipLine(grid, xy, 0).reduce((sum, part) => sum + lineLength(part), 0);
      let want = 0;
      for (let i = 2; i < xy.length; i += 2) {
        const [dx, dy] = [xy[i]! - xy[i - 2]!, xy[i + 1]! - xy[i - 1]!];
        for (let k = 0; k < 2000; k++) {
          const t = (k + 0.5) / 2000;
          if (winding(p, xy[i - 2]! + t * dx, xy[i - 1]! + t * dy) % 2) {
            want += Math.hypot(dx, dy) / 2000;
          }
        }
      }
      expect(Math.abs(got - want)).toBeLessThan(0.15);
    }
  });
});

test('level edges on the border of two rows of cells are not lost', () => {
  // A wall of two cells' height whose upper face lies exactly on a cell border.
  const p = polygonsFrom([rectangle(0, 0, 30, 0.45)]);
  const grid = gridOf(p, 0.225);
  expect(crosses(grid, 15, 0.2, 15, 1)).toBe(true);
  expect(nearestEdge(grid, 15, 0.44).distance).toBeCloseTo(0.01, 12);
});

test('scan lines: spacing x length is the area', () => {
  const loops = [circle(20, 3, 4), hole(circle(7, 6, 1)), rectangle(40, -10, 13, 29)];
  const p = polygonsFrom(loops);
  for (const angle of [0, 0.4, Math.PI / 2, 2.5]) {
    const lines = segments(scan(p, angle, 0.1, 0.03), 0);
    const sum = lines.reduce((total, xy) => total + lineLength(xy), 0) * 0.1;
    expect(sum / area(p)).toBeCloseTo(1, 2.5);
    for (const xy of lines) {
      expect(winding(p, (xy[0]! + xy[2]!) / 2, (xy[1]! + xy[3]!) / 2)).toBe(1);
      expect(Math.abs(Math.atan2(xy[3]! - xy[1]!, xy[2]! - xy[0]!) - angle)).toBeLessThan(1e-9);
    }
  }
});

test('lines joined to and fro: a rectangle is one line, turns lie on the edge, nothing is lost', () => {
  const p = polygonsFrom([rectangle(0, 0, 20, 10)]);
  const s = scan(p, 0, 0.5, 0.25);
  const [only, ...others] = joinedLines(p, s);
  expect(others).toEqual([]);
  // 20 lines of 20 mm and 19 turns of 0.5 mm.
  expect(lineLength(only!)).toBeCloseTo(20 * 20 + 19 * 0.5, 9);
  const ring = polygonsFrom([circle(12), hole(circle(5))]);
  const t = scan(ring, 0.3, 0.4, 0.1);
  const plain = segments(t, 0).reduce((sum, xy) => sum + lineLength(xy), 0);
  const lines = joinedLines(ring, t);
  let along = 0;
  for (const xy of lines) {
    for (let i = 2; i < xy.length; i += 2) {
      const turn = Math.atan2(xy[i + 1]! - xy[i - 1]!, xy[i]! - xy[i - 2]!);
      if (Math.abs(Math.sin(turn - 0.3)) < 1e-9) {
        along += Math.hypot(xy[i]! - xy[i - 2]!, xy[i + 1]! - xy[i - 1]!);
      } else {
        const [x, y] = [(xy[i]! + xy[i - 2]!) / 2, (xy[i + 1]! + xy[i - 1]!) / 2];
        expect(distance(ring, x, y)).toBeLessThan(1e-9);
      }
    }
  }
  expect(along).toBeCloseTo(plain, 6);
  expect(lines.length).toBeLessThan(8);
});

test('lines joined to and fro: none goes down a step that lies between two lines, where it would lie on one', () => {
  // Both sides step by `long` along the lines, 0.1 mm over one of the lines that lie 0.5 mm apart.
  const stepped = (long: number): Float64Array[] => {
    const loop = [0, 0, 20, 0, 20, 5.1, 20 - long, 5.1, 20 - long, 10, long, 10, long, 5.1, 0, 5.1];
    const p = polygonsFrom([
      Array.from({ length: 8 }, (_, i) => [loop[2 * i]!, loop[2 * i + 1]!] as const),
    ]);
    return joinedLines(p, scan(p, 0, 0.5, 0));
  };
  expect(stepped(0.6)).toHaveLength(1);
  const lines = stepped(2);
  expect(lines).toHaveLength(2);
  for (const xy of lines) {
    // Level stretches lie on lines alone.
    for (let i = 2; i < xy.length; i += 2) {
      if (Math.abs(xy[i + 1]! - xy[i - 1]!) < 1e-9) expect(xy[i + 1]! % 0.5).toBeCloseTo(0, 9);
    }
  }
});

test('pieces: islands in holes of islands, in any order of the loops', () => {
  const loops = [
    rectangle(0, 0, 40, 40),
    hole(rectangle(5, 5, 30, 30)),
    rectangle(10, 10, 20, 20),
    hole(rectangle(12, 12, 5, 5)),
    hole(rectangle(20, 20, 5, 5)),
    rectangle(21, 21, 2, 2),
    rectangle(50, 0, 5, 5),
  ];
  const random = seeded(4);
  for (let n = 0; n < 20; n++) {
    const order = loops.map((_, i) => i).sort(() => random() - 0.5);
    const p = polygonsFrom(order.map((i) => loops[i]!));
    const grid = gridOf(p);
    const pieces = splitPieces(p, piecesOf(p, grid));
    expect(pieces.map(area).sort((a, b) => a - b)).toEqual([4, 25, 350, 700]);
    expect(hitLeft(grid, 52, 2)).toBe(order.indexOf(6));
    expect(hitLeft(grid, 22, 22)).toBe(order.indexOf(5));
  }
});

test('slimming keeps within its tolerance of the line, width as a third coordinate', () => {
  const n = 2000;
  const xy = new Float64Array(2 * n);
  const cell = new Float64Array(n);
  for (let i = 0; i < n; i++) {
    const t = (2 * Math.PI * i) / n;
    xy[2 * i] = 10 * Math.cos(t);
    xy[2 * i + 1] = 10 * Math.sin(t);
    cell[i] = 0.4 + 0.1 * Math.sin(3 * t);
  }
  const few = simplifiedLine(xy, cell, true);
  expect(few.cell.length).toBeLessThan(n / 5);
  const p = { points: few.xy, start: Uint32Array.of(0, few.cell.length) };
  for (let i = 0; i < n; i += 7) {
    expect(distance(p, xy[2 * i]!, xy[2 * i + 1]!)).toBeLessThan(0.0021);
  }
  for (let i = 1; i < few.cell.length; i++) {
    expect(Math.abs(few.cell[i]! - few.cell[i - 1]!)).toBeLessThan(0.0201);
  }
});
