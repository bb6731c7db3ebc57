/** The order in which the beads of a layer are laid, and the rim around the first one. */
import { beforeAll, describe, expect, test } from 'vitest';
import { polygonsFrom } from '../../support/polygons.js';
import { seeded } from '../../../lib/base/random.js';
import { type PolygonKernel, loadPolygonKernel } from '../../../lib/kernel/polygon.js';
import { lineLength } from '../../../lib/polygon/loops.js';
import { nearestOf } from '../../../lib/paths/sequence/nearest-free.js';
import { Link, PathKind } from '../../../lib/paths/paths.js';
import {
  circle,
  courseOf,
  distance,
  hole,
  layersOf,
  pathsOf,
  plan,
  rectangle,
  winding,
} from '../flat.js';

let kernel: PolygonKernel;
beforeAll(async () => {
  kernel = await loadPolygonKernel();
});

const hollow = { fill: { density: 0 }, cap: 0 };
describe('order', () => {
  test('the nearest not yet taken, against a plain search, seed 9', () => {
    const random = seeded(9);
    const n = 500;
    const x = Float64Array.from({ length: n }, () => Math.round(40 * random()) / 4);
    const y = Float64Array.from({ length: n }, () => Math.round(40 * random()) / 4);
    const tree = nearestOf(x, y);
    const left = new Set(Array.from({ length: n }, (_, i) => i));
    for (let k = 0; k < n; k++) {
      const [px, py] = [10 * random(), 10 * random()];
      let best = -1;
      let d = Infinity;
      for (const i of left) {
        const e = (x[i]! - px) ** 2 + (y[i]! - py) ** 2;
        if (e < d || (e === d && i < best)) {
          d = e;
          best = i;
        }
      }
      expect(tree.find(px, py)).toBe(best);
      tree.take(best);
      left.delete(best);
    }
    expect(tree.find(0, 0)).toBe(-1);
  });

  test('islands one after the other, contours before fill, inner contours before outer', () => {
    const islands = [0, 1, 2, 3].map((k) => rectangle(30 * k, 0, 20, 20));
    const { paths } = plan(layersOf([islands]), { contours: 3 }, kernel);
    const island = pathsOf(paths).map((i) => Math.floor(courseOf(paths, i)[0]![0] / 30));
    expect([...new Set(island)].length).toBe(4);
    expect(island.filter((k, i) => i > 0 && k !== island[i - 1]).length).toBe(3);
    for (const k of [0, 1, 2, 3]) {
      const kinds = pathsOf(paths, (i) => island[i] === k).map((i) => paths.kind[i]!);
      expect(kinds.slice(0, 3)).toEqual([
        PathKind.innerContour,
        PathKind.innerContour,
        PathKind.contour,
      ]);
      expect(kinds.slice(3).every((kind) => kind === PathKind.fill)).toBe(true);
    }
    // Between islands the nozzle lifts, inside one it does not have to.
    pathsOf(paths).forEach((i) => {
      const change = i === 0 || island[i] !== island[i - 1];
      expect(paths.link[i]).toBe(change ? Link.lifted : Link.inside);
    });
  });

  test('a wall three beads wide: the one in the middle last, between what holds its ends', () => {
    const wall = [rectangle(0, 0, 40, 1.2), rectangle(0, 10, 1.2, 40)];
    const { paths } = plan(layersOf([wall]), hollow, kernel);
    expect(pathsOf(paths).map((i) => paths.kind[i])).toEqual([
      PathKind.contour,
      PathKind.thin,
      PathKind.contour,
      PathKind.thin,
    ]);
  });

  test('a plate with many holes: the beads of a hole are laid together', () => {
    const holes = Array.from({ length: 25 }, (_, k) =>
      hole(circle(2, 6 + 10 * (k % 5), 6 + 10 * Math.floor(k / 5), 32)),
    );
    const { paths } = plan(layersOf([[rectangle(0, 0, 52, 52), ...holes]]), hollow, kernel);
    const of = pathsOf(paths).map((i) => {
      const [x, y] = courseOf(paths, i)[0]!;
      const k = holes.findIndex((h) => Math.hypot(x - (h[0]![0] - 2), y - h[0]![1]) < 4);
      return k;
    });
    let changes = 0;
    for (let i = 1; i < of.length; i++) if (of[i] !== of[i - 1]) changes++;
    expect(of.length).toBe(52);
    expect(changes).toBeLessThanOrEqual(26);
  });

  test('the way between fill lines is short: under a fifth of what is laid', () => {
    const { paths } = plan(layersOf([[rectangle(0, 0, 60, 60)]]), { cap: 0 }, kernel);
    let laid = 0;
    let gone = 0;
    for (const i of pathsOf(paths)) {
      laid += lineLength(Float64Array.from(courseOf(paths, i).flat()));
      if (i === 0) continue;
      const before = courseOf(paths, i - 1);
      const [a, b] = [before[before.length - 1]!, courseOf(paths, i)[0]!];
      gone += Math.hypot(a[0] - b[0], a[1] - b[1]);
    }
    expect(gone / laid).toBeLessThan(0.2);
  });
});

describe('brim', () => {
  const loops = [rectangle(0, 0, 20, 20), hole(rectangle(5, 5, 8, 8)), circle(3, 40, 10)];

  test('loops at bead spacing around the outlines, outermost first, none in holes', () => {
    const { paths, figures } = plan(layersOf([loops, loops]), { brim: 4 }, kernel, true);
    const rims = pathsOf(paths, (i) => paths.kind[i] === PathKind.brim);
    const spacing = 0.45 - 0.2 * (1 - Math.PI / 4);
    const count = Math.round(4 / spacing);
    // Its outermost points touch those of the outer contour, which stand out by half of 0.45 - spacing.
    const first = 0.225 + (0.45 - spacing) / 2;
    expect(rims.length).toBe(2 * count);
    expect(rims).toEqual(rims.map((_, i) => i));
    for (const i of rims) expect(paths.layer[i]).toBe(0);
    const section = polygonsFrom(loops);
    const depths = rims.map((i) => {
      const [x, y] = courseOf(paths, i)[0]!;
      expect(winding(section, x, y)).toBe(0);
      return (distance(section, x, y) - first) / spacing;
    });
    depths.forEach((d) => expect(Math.abs(d - Math.round(d))).toBeLessThan(0.02));
    expect(depths[0]).toBeCloseTo(count - 1, 1);
    // Around the square: side + two offsets, with quarter circles at the corners; around the disc.
    let length = 0;
    for (let k = 0; k < count; k++) {
      const d = first + k * spacing;
      length += 80 + 2 * Math.PI * d + 2 * Math.PI * (3 + d);
    }
    expect(figures.brim[0]! / (length * spacing * 0.2)).toBeCloseTo(1, 2);
    expect(figures.brim[1]).toBe(0);
  });

  test('only on the table, and only if asked for', () => {
    const none = (onTable: boolean, brim: number): boolean =>
      ![...plan(layersOf([loops]), { brim }, kernel, onTable).paths.kind].includes(PathKind.brim);
    expect(none(false, 4)).toBe(true);
    expect(none(true, 0)).toBe(true);
    expect(none(true, 4)).toBe(false);
  });
});
