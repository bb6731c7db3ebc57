/**
 * Sharp corners under a limit of jerk: what they cost beside the optimum of a linear program over a fine
 * grid (HiGHS; test/support/corner-optimum.ts), and that the motion through them, by differences of its
 * places alone, keeps every limit and the deviation.
 */
import { describe, expect, it } from 'vitest';
import { seeded } from '../../../lib/base/random.js';
import { DEG } from '../../../lib/base/vector.js';
import { cornerShape } from '../../../lib/motion/timing/corner-trajectory.js';
import { walkCorner } from '../../../lib/motion/timing/corner-passing.js';
import { JerkLimited } from '../../../lib/motion/timing/jerk-limited.js';
import { LinearProgram } from '../../../lib/motion/timing/linear-program.js';
import { recountFollowed } from '../../recount/followed.js';
import { type CornerCase, cornerCases, runCorner } from '../../support/corner-cost.js';
import { cornerSolver, loadHighs } from '../../support/corner-optimum.js';
import { sampleMachine } from '../../support/jobs.js';
import { machine as plain, wandering } from '../routes.js';
import { trace } from '../trace.js';

const machine = sampleMachine('table-table-ac');
const named = (name: string, speed: number, tolerance = 0.05): CornerCase =>
  cornerCases(machine, speed, tolerance).find((c) => c.name === name)!;

/** Where the optimum costs next to nothing a ratio says nothing: so much more is as good, s. */
const LITTLE = 0.0015;

describe('a corner costs at most 1.3 times the optimum', () => {
  it.each([
    ['XY 0 to 90', 35],
    ['XY 0 to 90', 60],
    ['XY -45 to 45', 60],
    ['XY 0 to 45', 60],
    ['XY 30 to 90', 35],
    ['XY 0 to 135', 60],
    ['XY 0 to 160', 35],
    ['X to X and C', 100],
  ] as const)('%s deg at %d mm/s', async (name, speed) => {
    const solve = await cornerSolver();
    const { cost, optimum } = runCorner(machine, named(name, speed));
    const least = solve(optimum);
    expect(cost).toBeLessThan(Math.max(1.3 * least, least + LITTLE));
    // A relaxed optimum that the plan undercut would be no optimum; 1 ms of path that both cut short.
    expect(cost).toBeGreaterThan(least - 1e-3);
  });

  it('the optimum itself: a right angle of X and Y, 6.1 and 17.9 ms (over a grid of 240 by SciPy)', async () => {
    const solve = await cornerSolver();
    const [slow, fast] = [35, 60].map((v) =>
      solve(runCorner(machine, named('XY 0 to 90', v)).optimum),
    );
    expect(slow! * 1e3).toBeGreaterThan(6.0);
    expect(slow! * 1e3).toBeLessThan(6.5);
    expect(fast! * 1e3).toBeGreaterThan(17.5);
    expect(fast! * 1e3).toBeLessThan(18.3);
  });
});

describe('the motion through a corner keeps speed, acceleration, jerk and deviation', () => {
  it.each(cornerCases(machine, 60, 0.05).map((c) => [c.name, c] as const))('%s', (_, corner) => {
    const { route, times } = runCorner(machine, corner);
    const told = recountFollowed(machine, route.polyline, times);
    expect(told.speed).toBeLessThan(1 + 1e-6);
    expect(told.acceleration).toBeLessThan(1 + 1e-6);
    expect(told.jerk).toBeLessThan(1 + 1e-4);
    expect(Math.max(told.gap, told.kick, told.bump)).toBeLessThan(1e-5);
    expect(told.off).toBeLessThan(0.05 + 1e-9);
    expect(told.seconds).toBeCloseTo(
      times.real.reduce((a, b) => a + b, 0),
      9,
    );
  });

  it.each([1, 2])('any route, seed %d', (seed) => {
    const m = plain({ jerk: 20000, speed: 150 });
    const { route, wanted } = trace(m, wandering(seed, 150));
    const times = new JerkLimited(route, wanted);
    times.run(0, route.segment.length - 1);
    const told = recountFollowed(m, route.polyline, times);
    expect(told.speed).toBeLessThan(1 + 1e-6);
    expect(told.acceleration).toBeLessThan(1 + 1e-5);
    expect(told.jerk).toBeLessThan(1 + 1e-3);
    expect(Math.max(told.gap, told.kick)).toBeLessThan(1e-4);
    expect(told.off).toBeLessThan(0.05 + 1e-9);
  });

  it('no joint overruns its travel: at the end of it the leg is not overrun', () => {
    const joints = machine.joints.map((j) => (j.letter === 'X' ? { ...j, most: 0 } : j));
    const { route, times } = runCorner({ ...machine, joints }, named('XY 0 to 90', 60));
    const x = machine.joints.findIndex((j) => j.letter === 'X');
    let most = -Infinity;
    times.follow(({ place }) => (most = Math.max(most, place[x]!)));
    expect(most).toBeLessThan(1e-9);
    expect(route.segment).toHaveLength(2);
  });
});

it('a shape begins and ends at full speed on its legs, without acceleration', () => {
  const rates = [20 * DEG, 75 * DEG].map((a) => [Math.cos(a), Math.sin(a)]) as [number[], number[]];
  const joints = [0, 1].map((j) => ({
    before: rates[0][j]!,
    behind: rates[1][j]!,
    speed: 250,
    acceleration: 3000,
    jerk: 60000,
  }));
  const shape = cornerShape({
    joints,
    along: Math.cos(55 * DEG),
    speed: 60,
    inside: [0.06, 0.06],
    outside: [0.06, 0.06],
    horizon: 2,
  })!;
  const ends: number[][] = [];
  walkCorner(shape, (i, { left, done, speeds, ramps }) => {
    const h = shape.step;
    const [a, b] = [shape.first[i]!, shape.second[i]!];
    ends.push([
      speeds[0],
      left - h * (speeds[0] + h * (ramps[0] / 2 + (h * a) / 6)),
      ramps[0] + h * a,
      speeds[1] + h * (ramps[1] + (h * b) / 2),
      done + h * (speeds[1] + h * (ramps[1] / 2 + (h * b) / 6)),
      ramps[1] + h * b,
    ]);
  });
  expect(ends[0]![0]).toBeCloseTo(60, 3);
  const [, left, ramp, speed, done, last] = ends.at(-1)!;
  expect(left).toBeCloseTo(0, 9);
  expect(ramp).toBeCloseTo(0, 6);
  expect(speed).toBeCloseTo(60, 3);
  expect(done).toBeCloseTo(shape.behind, 9);
  expect(last! / 3000).toBeCloseTo(0, 5);
});

describe('linear programs', () => {
  it('the worked example of Hillier and Lieberman: 3 x + 5 y, at most 36 at (2, 6)', () => {
    // x <= 4, 2 y <= 12, 3 x + 2 y <= 18 (Introduction to Operations Research, ch. 3; from memory).
    const program = new LinearProgram(Float64Array.of(-3, -5));
    program.most(Float64Array.of(1, 0), 4);
    program.most(Float64Array.of(0, 2), 12);
    program.most(Float64Array.of(3, 2), 18);
    program.most(Float64Array.of(-1, 0), 0);
    program.most(Float64Array.of(0, -1), 0);
    const x = program.solve()!;
    expect(x[0]).toBeCloseTo(2, 3);
    expect(x[1]).toBeCloseTo(6, 3);
  });

  it('keeps equations: the nearest corner of x + y = 1 (closed form)', () => {
    const program = new LinearProgram(Float64Array.of(1, 2));
    program.exactly(Float64Array.of(1, 1), 1);
    program.most(Float64Array.of(-1, 0), 0);
    program.most(Float64Array.of(0, -1), 0);
    const x = program.solve()!;
    expect(x[0]).toBeCloseTo(1, 3);
    expect(x[0]! + x[1]!).toBeCloseTo(1, 6);
  });

  it('has no point where bounds contradict each other', () => {
    const program = new LinearProgram(Float64Array.of(1, 1));
    program.most(Float64Array.of(1, 1), -1);
    program.most(Float64Array.of(-1, 0), 0);
    program.most(Float64Array.of(0, -1), 0);
    expect(program.solve()).toBeUndefined();
  });

  it('agrees with HiGHS on random programs (seed 3)', async () => {
    const highs = await loadHighs();
    const random = seeded(3);
    for (let n = 0; n < 20; n++) {
      const size = 8;
      const cost = Float64Array.from({ length: size }, () => random() - 0.5);
      const program = new LinearProgram(cost);
      const lines: string[] = [];
      const name = (x: number, i: number): string => `${x < 0 ? '-' : '+'} ${Math.abs(x)} x${i}`;
      for (let r = 0; r < 20; r++) {
        const row = Float64Array.from({ length: size }, () => random() - 0.5);
        program.most(row, 1);
        lines.push(`${[...row].map(name).join(' ')} <= 1`);
      }
      for (let i = 0; i < size; i++) {
        for (const sign of [1, -1]) {
          const row = new Float64Array(size);
          row[i] = sign;
          program.most(row, 3);
        }
      }
      const bounds = [...cost].map((_, i) => `-3 <= x${i} <= 3`);
      const text = `Minimize\n obj: ${[...cost].map(name).join(' ')}\nSubject To\n ${lines.join('\n ')}\nBounds\n ${bounds.join('\n ')}\nEnd`;
      const best = highs.solve(text, { output_flag: false }).ObjectiveValue;
      const x = program.solve()!;
      expect(x.reduce((sum, v, i) => sum + v * cost[i]!, 0)).toBeCloseTo(best, 2);
    }
  });
});
