/** Where closed beads start. */
import { beforeAll, describe, expect, test } from 'vitest';
import { turn } from '../../../lib/base/frame.js';
import { type PolygonKernel, loadPolygonKernel } from '../../../lib/kernel/polygon.js';
import { PathKind } from '../../../lib/paths/paths.js';
import { pathRules } from '../../../lib/paths/rules.js';
import { startPoint, startRule } from '../../../lib/paths/sequence/starts.js';
import { type Loop, circle, courseOf, hole, layersOf, pathsOf, plan, rectangle } from '../flat.js';

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
    // The bead rounds the corner (8, 8) at half its spacing, 0.45 - h (1 - pi / 4).
    expect(Math.hypot(x - 8, y - 8)).toBeCloseTo((0.45 - 0.2 * (1 - Math.PI / 4)) / 2, 2);
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
