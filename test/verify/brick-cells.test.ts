/**
 * Room about the head among cubes laid at random: every cube is asked for its distance by itself, and the
 * least of them compared. Where the head stands 0.2 mm or nearer the room is exact; beyond that it may be
 * said to be less, but never more (the project's own rule).
 */
import { expect, it } from 'vitest';
import { type Frame, applyPoint, compose, shift, turn } from '../../lib/base/frame.js';
import { seeded } from '../../lib/base/random.js';
import { type Vec3, cross, dot, sub, unit } from '../../lib/base/vector.js';
import { headDistance } from '../../lib/machine/solid-distance.js';
import { BrickCells } from '../../lib/verify/brick-cells.js';
import { Gauge } from '../../lib/verify/gauge.js';
import { Grid, type GridAxes } from '../../lib/verify/grid.js';
import { acJson, machineOf } from '../machine/machines.js';

const machine = machineOf(acJson());
const EDGE = 0.1;
const UP: GridAxes = [
  [1, 0, 0],
  [0, 1, 0],
  [0, 0, 1],
];
const d = unit([0.4, -0.2, 0.9]);
const u = unit(cross(d, [0.1, 1, 0]));
const LEANING: GridAxes = [u, cross(d, u), d];

it.each<[string, number, GridAxes, number]>([
  ['cubes', 1, UP, EDGE],
  ['cubes', 2, UP, EDGE],
  ['cells half as high as wide', 3, UP, EDGE / 2],
  ['cells that lean', 4, LEANING, EDGE / 2],
])(
  'is what the nearest one leaves over the tip, while more are laid: %s, seed %d',
  (_, seed, axes, high) => {
    const random = seeded(seed);
    const any = (): Vec3 => [random() - 0.5, random() - 0.5, random() - 0.5];
    const grid = Grid.between([EDGE, EDGE, high], [-20, -20, 0], [20, 20, 14], axes);
    const gauge = new Gauge(machine);
    const cells = new BrickCells(grid, gauge);
    const middles: Vec3[] = [];
    let [inside, close, wide] = [0, 0, 0];
    for (let round = 0; round < 6; round++) {
      // A few towers, in places that earlier rounds may have had already.
      for (let n = 0; n < 12; n++) {
        const [x, y] = [Math.floor(8 + 400 * random()), Math.floor(8 + 400 * random())];
        const top = Math.floor(10 + 120 * random());
        for (let z = 8; z <= top; z++) {
          if (grid.has(x, y, z)) continue;
          const at = [x, y, z].map(
            (k, c) => grid.origin[c]! + (k + 0.5) * [EDGE, EDGE, high][c]!,
          ) as unknown as Vec3;
          const part = (c: 0 | 1 | 2): number => dot(at, [axes[0][c], axes[1][c], axes[2][c]]);
          middles.push([part(0), part(1), part(2)]);
        }
        grid.setColumn(x, y, 8, top, n);
      }
      for (let pose = 0; pose < 60; pose++) {
        // Some cube comes to lie beside the nozzle, a cone of 0.4 to 4 mm over 8 mm, or a little in it.
        const lean = turn(unit(any()), pose % 2 ? random() : 0);
        const near = applyPoint(lean, middles[Math.floor(middles.length * random())]!);
        const up = 8 * random();
        const beside: Vec3 = [0.4 + 0.45 * up + 0.6 * random() - 0.05, 0, up];
        const frame: Frame = compose(shift(sub(beside, near)), lean);
        gauge.frame = frame;
        let least = Infinity;
        for (const m of middles) {
          const q = applyPoint(frame, m);
          if (q[2] >= 0) least = Math.min(least, headDistance(machine, q));
        }
        const { gap, cube } = cells.room();
        if (cube) {
          inside++;
          expect(gap).toBe(0);
          expect(least).toBe(0);
          expect(grid.at(...cube)).toBe(true);
          expect(headDistance(machine, applyPoint(frame, cube))).toBe(0);
          continue;
        }
        expect(least).toBeGreaterThan(0);
        expect(gap).toBeLessThanOrEqual(Math.min(2, least) + 1e-5);
        if (least < 0.2) {
          close++;
          expect(gap).toBeCloseTo(least, 5);
        } else {
          wide++;
          expect(gap).toBeGreaterThan(0.2 - 1e-5);
        }
      }
    }
    expect(Math.min(inside, close, wide)).toBeGreaterThan(5);
  },
);
