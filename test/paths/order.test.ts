/** Starts, links and the order in which the beads of a layer are laid. */
import { beforeAll, describe, expect, test } from 'vitest';
import { polygonsFrom } from '../../lib/base/polygons.js';
import { seeded } from '../../lib/base/random.js';
import { turn } from '../../lib/base/frame.js';
import { type PolygonKernel, loadPolygonKernel } from '../../lib/kernel/polygon.js';
import { gridOf } from '../../lib/paths/grid.js';
import { linkInside } from '../../lib/paths/links.js';
import { lineLength } from '../../lib/paths/loops.js';
import { nearestOf } from '../../lib/paths/nearest.js';
import { Link, PathKind } from '../../lib/paths/paths.js';
import { startPoint, startRule } from '../../lib/paths/starts.js';
import { pathRules } from '../../lib/paths/rules.js';
import {
  type Loop,
  circle,
  courseOf,
  distance,
  hole,
  layersOf,
  pathsOf,
  plan,
  rectangle,
  winding,
} from './flat.js';

let kernel: PolygonKernel;
beforeAll(async () => {
  kernel = await loadPolygonKernel();
});

const hollow = { fill: { density: 0 }, cap: 0 };
const corner: Loop = [
  [0, 0],
  [20, 0],
  [20, 8],
  [8, 8],
  [8, 20],
  [0, 20],
];

describe('starts', () => {
  const startsOf = (loops: Loop[], start: object, layers = 1): [number, number][] => {
    const { paths } = plan(
      layersOf(Array<Loop[]>(layers).fill(loops)),
      { ...hollow, start },
      kernel,
    );
    return pathsOf(paths, (i) => paths.kind[i] === PathKind.contour).map(
      (i) => courseOf(paths, i)[0]!,
    );
  };

  test('on the one concave corner of an angle', () => {
    const [x, y] = startsOf([corner], { rule: 'concave' })[0]!;
    // The bead rounds the corner (8, 8) at half its width.
    expect(Math.hypot(x - 8, y - 8)).toBeCloseTo(0.225, 2);
    expect(x).toBeLessThan(8.01);
    expect(y).toBeLessThan(8.01);
  });

  test('on the sharper of two concave corners', () => {
    const notched: Loop = [
      [0, 0],
      [30, 0],
      [30, 10],
      [22, 10],
      [20, 4],
      [18, 10],
      [10, 10],
      [5, 7],
      [0, 10],
    ];
    const [x, y] = startsOf([notched], { rule: 'concave' })[0]!;
    expect(Math.hypot(x - 20, y - 4)).toBeLessThan(0.3);
  });

  test('a hole is all concave: a square hole starts in a corner, a round one away from view', () => {
    const square = [rectangle(0, 0, 30, 30), hole(rectangle(10, 10, 10, 10))];
    // The outline has no concave corner: it starts away from the viewer, who stands at -y.
    const starts = startsOf(square, { rule: 'concave' });
    const onHole = starts.find(([x]) => x > 5 && x < 25)!;
    const fromCentre = [Math.abs(onHole[0] - 15), Math.abs(onHole[1] - 15)];
    expect(Math.min(...fromCentre)).toBeGreaterThan(4.9);
    const round = startsOf([circle(15), hole(circle(5))], { rule: 'concave' });
    for (const [x, y] of round) {
      expect(Math.abs(x)).toBeLessThan(0.3);
      expect(y).toBeGreaterThan(5);
    }
  });

  test('away from the viewer', () => {
    for (const [view, want] of [
      [
        [0, -1, 0],
        [0, 1],
      ],
      [
        [1, 0, 0.5],
        [-1, 0],
      ],
      [
        [-1, -1, 0],
        [1, 1],
      ],
    ] as const) {
      const [x, y] = startsOf([circle(10)], { rule: 'hidden', view })[0]!;
      expect(Math.atan2(y, x)).toBeCloseTo(Math.atan2(want[1], want[0]), 1);
    }
  });

  test('the viewer stands in the part frame: a tilted layer hides the start on its own far side', () => {
    // Layer space from part frame: turned by 90 deg about z, so part +x is layer +y.
    const rules = pathRules.parse({ start: { rule: 'hidden', view: [1, 0, 0] } }).start;
    const rule = startRule(rules, turn([0, 0, 1], Math.PI / 2));
    expect(rule.away[0]).toBeCloseTo(0, 12);
    expect(rule.away[1]).toBeCloseTo(-1, 12);
    // Seen along the build direction no side is hidden; the choice is then fixed.
    const along = pathRules.parse({ start: { view: [0, 0, 1] } }).start;
    expect(startRule(along, turn([0, 0, 1], 1)).away).toEqual([1, 0]);
  });

  test('spread: neighbouring layers start far apart, the same in every run', () => {
    const starts = startsOf([circle(10)], { rule: 'spread' }, 40);
    const angles = starts.map(([x, y]) => Math.atan2(y, x));
    for (let k = 1; k < 40; k++) {
      const gap = Math.abs(((angles[k]! - angles[k - 1]! + 3 * Math.PI) % (2 * Math.PI)) - Math.PI);
      expect(gap).toBeGreaterThan(2);
    }
    const quarters = new Set(angles.map((a) => Math.floor((a + Math.PI) / (Math.PI / 2))));
    expect(quarters.size).toBeGreaterThanOrEqual(4);
    expect(startsOf([circle(10)], { rule: 'spread' }, 40)).toEqual(starts);
  });

  test('a bead corner of several small turns counts as one', () => {
    const arc: Loop = Array.from({ length: 7 }, (_, i) => {
      const t = Math.PI + (i * Math.PI) / 12;
      return [8 + 0.225 * Math.cos(t), 8 + 0.225 * Math.sin(t)];
    });
    const loop = [[0, 0], [16, 0], [16, 7.775], ...arc.reverse(), [7.775, 16], [0, 16]].flat();
    const rule = { rule: 'concave', away: [1, 0] } as const;
    const found = startPoint(Float64Array.from(loop), rule, 0, 0.45);
    expect(found).toBeGreaterThanOrEqual(4);
    expect(found).toBeLessThanOrEqual(8);
  });
});

describe('links', () => {
  const frame = polygonsFrom([rectangle(0, 0, 30, 20), hole(rectangle(10, 5, 10, 10))]);
  const grid = gridOf(frame);
  const way = (
    ax: number,
    ay: number,
    bx: number,
    by: number,
    limit = 100,
  ): number[][] | undefined => {
    const inner = linkInside(grid, ax, ay, bx, by, limit);
    if (!inner) return undefined;
    const out: number[][] = [];
    for (let i = 0; i < inner.length; i += 2) out.push([inner[i]!, inner[i + 1]!]);
    return out;
  };

  test('straight where that stays inside', () => {
    expect(way(1, 1, 29, 1)).toEqual([]);
    expect(way(1, 1, 29, 4.9)).toEqual([]);
  });
  test('around a hole the shorter way, tight at its corners', () => {
    expect(way(5, 8, 25, 8)).toEqual([
      [10, 5],
      [20, 5],
    ]);
    expect(way(5, 12, 25, 12)).toEqual([
      [10, 15],
      [20, 15],
    ]);
    expect(way(5, 14, 15, 15.5)).toEqual([[10, 15]]);
  });
  test('none if the way is longer than allowed', () => {
    const full = Math.hypot(5, 3) * 2 + 10;
    expect(way(5, 8, 25, 8, full + 0.001)).toBeDefined();
    expect(way(5, 8, 25, 8, full - 0.001)).toBeUndefined();
  });
  test('none to another island, none from outside', () => {
    const two = gridOf(polygonsFrom([rectangle(0, 0, 5, 5), rectangle(10, 0, 5, 5)]));
    expect(linkInside(two, 1, 1, 14, 1, 100)).toBeUndefined();
    expect(linkInside(two, 6, 1, 8, 1, 100)).toBeUndefined();
  });
  test('random pairs in a comb: inside, and at most the walk around', () => {
    const teeth: Loop = [
      [0, 0],
      [40, 0],
      [40, 4],
    ];
    for (let k = 7; k >= 0; k--)
      teeth.push([5 * k + 4, 4], [5 * k + 4, 20], [5 * k + 1, 20], [5 * k + 1, 4]);
    teeth.push([0, 4]);
    const comb = polygonsFrom([teeth]);
    const g = gridOf(comb);
    const random = seeded(5);
    let linked = 0;
    for (let n = 0; n < 400; n++) {
      const point = (): [number, number] => {
        const k = Math.floor(8 * random());
        return [5 * k + 1.5 + 2 * random(), 1 + 18 * random()];
      };
      const [a, b] = [point(), point()];
      const inner = linkInside(g, ...a, ...b, 200)!;
      expect(inner).toBeDefined();
      const all = Float64Array.of(...a, ...inner, ...b);
      for (let i = 2; i < all.length; i += 2) {
        for (let t = 0.01; t < 1; t += 0.049) {
          const x = all[i - 2]! + t * (all[i]! - all[i - 2]!);
          const y = all[i - 1]! + t * (all[i + 1]! - all[i - 1]!);
          expect(winding(comb, x, y) === 1 || distance(comb, x, y) < 1e-9).toBe(true);
        }
      }
      // Down to the spine, along and up again is never shorter than the way found.
      const walk = a[1] + b[1] + Math.abs(a[0] - b[0]) + 8;
      expect(lineLength(all)).toBeLessThan(walk);
      if (inner.length) linked++;
    }
    expect(linked).toBeGreaterThan(200);
  });
});

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
    expect(rims.length).toBe(2 * count);
    expect(rims).toEqual(rims.map((_, i) => i));
    for (const i of rims) expect(paths.layer[i]).toBe(0);
    const section = polygonsFrom(loops);
    const depths = rims.map((i) => {
      const [x, y] = courseOf(paths, i)[0]!;
      expect(winding(section, x, y)).toBe(0);
      return (distance(section, x, y) - 0.225) / spacing;
    });
    depths.forEach((d) => expect(Math.abs(d - Math.round(d))).toBeLessThan(0.02));
    expect(depths[0]).toBeCloseTo(count - 1, 1);
    // Around the square: side + two offsets, with quarter circles at the corners; around the disc.
    let length = 0;
    for (let k = 0; k < count; k++) {
      const d = 0.225 + k * spacing;
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
