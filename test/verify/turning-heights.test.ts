/**
 * Beads laid while the head turns, on sheets that are cylinders about an axis under the table: sheet k has the radius
 * R + k h, the head stands radially, so each bead is h high, and a bead that lies s beside the one under it reaches
 * s - h tan(theta) too far.
 */
import { describe, expect, test } from 'vitest';
import { DEG } from '../../lib/base/vector.js';
import { BeadSupport, onFaceOf } from '../../lib/verify/bead-support.js';
import { heightsOf } from '../../lib/verify/layers.js';
import { TraceKind } from '../../lib/verify/trace.js';
import { TurningSupport } from '../../lib/verify/turning-support.js';
import { sampleMachine } from '../support/jobs.js';
import { H, R, STEP, W, arc, on, radial, sheet, traceOfBlocks } from './cylinders.js';
import type { Block } from './traces.js';

const BORE = 0.4;

describe('heights of beads that are laid while the head turns', () => {
  test('are the distance of the sheets', () => {
    const trace = traceOfBlocks(
      [0, 0, R + 5],
      [0, 1, 2, 3].flatMap((k) => sheet(k)),
    );
    const { height, usual, width, layers } = heightsOf(trace, BORE);
    expect(layers).toEqual([]);
    expect(trace.runStart).toHaveLength(1);
    for (let b = 0; b < height.length; b++) {
      const r = Math.hypot(trace.tip[3 * b]!, trace.tip[3 * b + 2]!);
      if (height[b] === 0 || r < R + 0.5 * H) continue;
      // A chord of 1 deg lies 0.0008 mm inside of its arc.
      expect(height[b]).toBeCloseTo(H, 2);
    }
    expect(usual).toBeCloseTo(H, 2);
    expect(width).toBeCloseTo(W, 1);
  });

  test('are twice as much over a sheet left out, if the filament fills that, and as usual if it does not', () => {
    const over = (section: number): number[] => {
      const blocks = [...sheet(0), ...sheet(1), ...sheet(3, section)];
      const trace = traceOfBlocks([0, 0, R + 5], blocks);
      const { height } = heightsOf(trace, BORE);
      return [...height].filter(
        (h, b) => h > 0 && Math.hypot(trace.tip[3 * b]!, trace.tip[3 * b + 2]!) > R + 2.5 * H,
      );
    };
    for (const h of over(W * 2 * H + 1e-3)) expect(h).toBeCloseTo(2 * H, 2);
    for (const h of over(W * H)) expect(h).toBeCloseTo(H, 2);
  });

  test('after a dip to 0.3 of the height are those over the sheet, and not over the block before', () => {
    const step = 0.1 / R;
    const over = [1, 1, 1, 0.3, 0.6, 1, 1, 1];
    const blocks = over.map((share, i): Block => {
      const angle = (i - 4) * step;
      return {
        to: on(R + share * H, angle, 2 * W),
        direction: radial(angle),
        volume: 0.1 * W * H,
        run: 9000 + i,
      };
    });
    const begin = { to: on(R + H, -5 * step, 2 * W), direction: radial(-5 * step), run: 9000 };
    const way: Block = { ...begin, kind: TraceKind.transfer };
    const trace = traceOfBlocks([0, 0, R + 5], [...sheet(0), way, ...blocks]);
    const { height } = heightsOf(trace, BORE);
    [...height.slice(-over.length)].forEach((h, i) => {
      const middle = (over[i]! + (over[i - 1] ?? 1)) / 2;
      expect(Math.abs(h - middle * H)).toBeLessThan(0.2 * H);
    });
  });

  test('over the table are how high the tip stands along the head', () => {
    // The head leaned by 10 to 20 deg, its tip 0.25 mm over the table.
    const blocks = Array.from({ length: 10 }, (_, i): Block => ({
      to: [i + 1, 0, 0.25],
      direction: radial((11 + i) * DEG),
      volume: 0.08,
      run: i,
    }));
    const { height } = heightsOf(traceOfBlocks([0, 0, 0.25], blocks, radial(10 * DEG)), BORE);
    for (let i = 0; i < 10; i++) {
      expect(height[i + 1]).toBeCloseTo(0.25 / Math.cos((10.5 + i) * DEG), 3);
    }
  });
});

describe('what holds such a bead', () => {
  const machine = sampleMachine('table-table-ac');
  /** One bead over a sheet of one, so far aside, and what of its width hangs, with air all about. */
  function beyond(aside: number, theta: number): { hangs: number; rests: boolean } {
    const blocks = [...arc(R, 0, 0), ...arc(R + H, aside, 100)];
    const trace = traceOfBlocks([0, 0, R + 5], blocks);
    const heights = heightsOf(trace, BORE);
    const part = { inside: () => false, theta };
    const support = new TurningSupport(heights.turned!.pieces, part, onFaceOf(machine));
    // The middle of the second arc.
    const block = 2 + 30 + 15;
    const angle = -0.5 * STEP;
    const place = {
      block,
      p: Float64Array.from(on((R + H) * Math.cos(STEP / 2), angle, aside)),
      u: Float64Array.of(0, 1, 0),
      d: Float64Array.from(radial(angle)),
      halfWidth: W / 2,
      height: H,
    };
    support.aim();
    return { hangs: support.beyond(place), rests: support.rests(place, 0) };
  }

  test.each([0, 0.1, 0.19, 0.25, 0.3])('%f mm aside hangs by what is beyond the angle', (aside) => {
    for (const side of [aside, -aside]) {
      const { hangs, rests } = beyond(side, 45 * DEG);
      expect(hangs).toBeCloseTo(Math.max(0, aside - H), 2);
      expect(rests).toBe(aside < W / 2);
    }
  });

  test('hangs by more at a smaller angle', () => {
    expect(beyond(0.25, 20 * DEG).hangs).toBeCloseTo(0.25 - H * Math.tan(20 * DEG), 2);
  });

  test('a bead in levels rests on one that was laid while the head turned', () => {
    // A level bead at the top of the sheet, laid straight along x.
    const blocks: Block[] = [
      ...sheet(0),
      ...[0, 1, 2].flatMap((k): Block[] => [
        {
          to: [-1, 2 * W, R + (k + 1) * H],
          direction: [0, 0, 1],
          kind: TraceKind.transfer,
          run: 5000,
        },
        { to: [1, 2 * W, R + (k + 1) * H], direction: [0, 0, 1], volume: 2 * W * H, run: 5000 },
      ]),
    ];
    const trace = traceOfBlocks([0, 0, R + 5], blocks);
    expect([...trace.turning]).toEqual([1, 0]);
    const heights = heightsOf(trace, BORE);
    const support = new BeadSupport(trace, heights, machine, undefined);
    const first = trace.runStart[1]!;
    const place = {
      block: first,
      p: Float64Array.of(0, 2 * W, R + H),
      u: Float64Array.of(0, 1, 0),
      d: Float64Array.of(0, 0, 1),
      halfWidth: W / 2,
      height: H,
    };
    support.aim(first, H);
    expect(support.rests(place, 0)).toBe(true);
    expect(support.rests({ ...place, p: Float64Array.of(0, 2 * W, R + 4 * H) }, 0)).toBe(false);
  });
});
