/** Which solution and winding each run takes: against trying all of them, and plain cases. */
import { describe, expect, it } from 'vitest';
import { seeded } from '../../../lib/base/random.js';
import { DEG, type Vec3, unit } from '../../../lib/base/vector.js';
import { inverse } from '../../../lib/machine/inverse.js';
import type { Machine } from '../../../lib/machine/machine.js';
import { moveSeconds, restToRest } from '../../../lib/motion/timing/rest-to-rest.js';
import {
  type RunPoints,
  chooseSolutions,
  linearViolations,
} from '../../../lib/motion/lay/run-solutions.js';
import { linearMap } from '../../../lib/machine/linear.js';
import { sampleMachine } from '../../support/jobs.js';
import { type Json, acJson, machineOf, rotary } from '../../machine/machines.js';

const tilted = (deg: number, azimuth: number): Vec3 => {
  const [t, a] = [deg * DEG, azimuth * DEG];
  return unit([Math.sin(t) * Math.cos(a), Math.sin(t) * Math.sin(a), Math.cos(t)]);
};

/** A machine whose C has a cable of so many turns, or none. */
function machine(turns: number | undefined, tilt: [number, number] = [-120, 120]): Machine {
  const json = acJson();
  const c = rotary('C', [0, 0, 1], 'endless');
  const joints: Json['table']['joints'] = [
    rotary('A', [1, 0, 0], tilt),
    turns === undefined ? c : ({ ...c, turns } as typeof c),
  ];
  return machineOf({ ...json, table: { ...json.table, joints } });
}

const C = 4;

const runAt = (direction: Vec3, tip: Vec3 = [0, 0, 20]): RunPoints => ({
  direction,
  points: Float64Array.from(tip),
});

/** Joint values of each run and the time of the transfers between them. */
function chosen(m: Machine, runs: RunPoints[]): { c: number[]; seconds: number } {
  let at = m.ready;
  let seconds = 0;
  const c = chooseSolutions(m, runs, m.ready).runs.map((solution, i) => {
    const rotaries = solution!.map.rotaries;
    const p = runs[i]!.points;
    const tip: Vec3 = [p[0]!, p[1]!, p[2]!];
    const same = inverse(m, tip, runs[i]!.direction, rotaries).find((s) =>
      [3, C].every((j) => Math.abs(s.joints[j]! - rotaries[j]!) < 1e-6),
    )!;
    seconds += moveSeconds(m, at, same.joints);
    at = same.joints;
    return rotaries[C]! / DEG;
  });
  return { c, seconds };
}

/**
 * Least time over every solution and winding of every run, by trying them all.
 * @param start how far C may turn to the first run, rad
 */
function leastOfAll(m: Machine, runs: RunPoints[], at: Float64Array, start: number, i = 0): number {
  if (i === runs.length) return 0;
  const { points: p, direction } = runs[i]!;
  let least = Infinity;
  for (const { joints, violations } of inverse(m, [p[0]!, p[1]!, p[2]!], direction, at)) {
    if (violations.length) continue;
    for (let k = -4; k <= 4; k++) {
      const values = joints.slice();
      values[C]! += 2 * Math.PI * k;
      const { least: low, most } = m.joints[C]!;
      if (values[C]! < low - 1e-9 || values[C]! > most + 1e-9) continue;
      if (Math.abs(values[C]! - at[C]!) > start + 1e-9) continue;
      const after = leastOfAll(m, runs, values, Infinity, i + 1);
      least = Math.min(least, moveSeconds(m, at, values) + after);
    }
  }
  return least;
}

describe('time of a straight joint move', () => {
  it('of the slower joint, from rest to rest: L/v + v/a + a/j = 1.2 s', () => {
    const joint = { ...machine(undefined).joints[0]!, speed: 100, acceleration: 1000 };
    expect(restToRest({ ...joint, jerk: 10000 }, 100)).toBeCloseTo(1.2, 9);
    expect(restToRest(joint, 100)).toBeCloseTo(1.1, 9);
    expect(restToRest(joint, 5)).toBeCloseTo(0.1414214, 7);
    expect(restToRest(joint, 0)).toBe(0);
  });
});

describe.each([1, 2, 3, 4, 5, 6])('six directions with a cable of one turn, seed %d', (seed) => {
  it('no other choice of solutions and windings is quicker', () => {
    const random = seeded(seed);
    const m = machine(1, seed % 2 ? [-120, 120] : [-5, 120]);
    const runs = Array.from({ length: 6 }, () =>
      runAt(tilted(20 + 60 * random(), 360 * random()), [
        40 * (random() - 0.5),
        40 * (random() - 0.5),
        20 * random(),
      ]),
    );
    const { seconds, c } = chosen(m, runs);
    for (const value of c) expect(Math.abs(value)).toBeLessThan(360 + 1e-6);
    // A start more than half a turn away has to save 1 s.
    const free = leastOfAll(m, runs, m.ready, Infinity);
    const near = leastOfAll(m, runs, m.ready, Math.PI);
    expect(seconds).toBeCloseTo(near - free < 1 ? near : free, 4);
  });
});

describe('runs that end elsewhere than they begin', () => {
  it.each([1, 2, 3])('no other choice is quicker from ends to starts, seed %d', (seed) => {
    // Far across, so that X and Y take as long as the turns do.
    const random = seeded(seed);
    const m = machine(1);
    const place = (): Vec3 => [300 * (random() - 0.5), 300 * (random() - 0.5), 30 * random()];
    const runs = [0, 1, 2].map(() => {
      const direction = tilted(20 + 60 * random(), 360 * random());
      return { direction, points: Float64Array.from([place(), place(), place()].flat()) };
    });
    const poses = (i: number, at: Float64Array, tip: Vec3): Float64Array[] =>
      inverse(m, tip, runs[i]!.direction, at).flatMap(({ joints, violations }) =>
        violations.length
          ? []
          : [-2, -1, 0, 1, 2].map((k) => joints.map((x, j) => (j === C ? x + 2 * Math.PI * k : x))),
      );
    const pointOf = (i: number, k: number): Vec3 =>
      [...runs[i]!.points.slice(3 * k, 3 * k + 3)] as unknown as Vec3;
    const same = (a: Float64Array, b: Float64Array): boolean =>
      [3, C].every((j) => Math.abs(a[j]! - b[j]!) < 1e-6);
    /** Every choice of a pose for each run, and the time of its moves. */
    const all = (i: number, at: Float64Array): { rotaries: Float64Array[]; seconds: number }[] => {
      if (i === runs.length) return [{ rotaries: [], seconds: 0 }];
      return poses(i, at, pointOf(i, 0))
        .filter((q) => Math.abs(q[C]!) <= 2 * Math.PI + 1e-9)
        .flatMap((begin) => {
          const end = poses(i, at, pointOf(i, 2)).find((q) => same(q, begin))!;
          return all(i + 1, end).map((rest) => ({
            rotaries: [begin, ...rest.rotaries],
            seconds: rest.seconds + moveSeconds(m, at, begin),
          }));
        });
    };
    const found = chooseSolutions(m, runs, m.ready).runs.map((s) => s!.map.rotaries);
    const choices = all(0, m.ready);
    const mine = choices.find((c) => c.rotaries.every((q, i) => same(q, found[i]!)))!;
    const near = choices.filter((c) => Math.abs(c.rotaries[0]![C]! - m.ready[C]!) <= Math.PI);
    const [free, kept] = [choices, near].map((list) => Math.min(...list.map((c) => c.seconds)));
    // A start more than half a turn away has to save 1 s.
    expect(mine.seconds).toBeCloseTo(kept! - free! < 1 ? kept! : free!, 4);
  });
});

describe('linear joints outside of their travel', () => {
  it('by the farthest points of a run, both ends, as the inverse has them', () => {
    const random = seeded(9);
    const m = machine(undefined);
    const direction = tilted(35, 50);
    const [pose] = inverse(m, [0, 0, 0], direction, m.ready);
    const points = Float64Array.from({ length: 90 }, () => 1400 * (random() - 0.5));
    const reached = Array.from({ length: 30 }, (_, i) => {
      const tip = [...points.slice(3 * i, 3 * i + 3)] as unknown as Vec3;
      return inverse(m, tip, direction, pose!.joints)[0]!.joints;
    });
    const want = [0, 1, 2].flatMap((joint) => {
      const values = reached.map((q) => q[joint]!);
      const ends = [
        [Math.min(...values), -500],
        [Math.max(...values), 500],
      ] as const;
      return ends
        .filter(([value, limit]) => Math.abs(value) > Math.abs(limit))
        .map(([value, limit]) => ({ joint, value: expect.closeTo(value, 6) as number, limit }));
    });
    expect(want.length).toBeGreaterThan(3);
    const map = linearMap(m, pose!.joints)!;
    expect(linearViolations(m, map, points)).toEqual(want);
    expect(linearViolations(m, map, new Float64Array(0))).toEqual([]);
  });
});

describe('windings', () => {
  it('an endless axis without a cable goes on turning: five arms at 100 deg steps', () => {
    const runs = [0, 1, 2, 3, 4].map((i) => runAt(tilted(60, 100 * i)));
    const { c } = chosen(machine(undefined, [-2, 120]), runs);
    for (let i = 1; i < 5; i++) expect(Math.abs(c[i]! - c[i - 1]!)).toBeCloseTo(100, 6);
    expect(Math.abs(c[4]! - c[0]!)).toBeCloseTo(400, 6);
  });

  it('a cable that is wound up is taken back before, where that costs less than to unwind at once', () => {
    // Arms at 0, 170, 340 and 510 deg: with one turn either way C may start at -360 + ... and go on
    // evenly; from the nearest winding it would have to go back by 190 deg at the end.
    const runs = [0, 170, 340, 510].map((a) => runAt(tilted(60, 90 + a)));
    const { c } = chosen(machine(1, [-2, 120]), runs);
    const turned = c.map((value, i) => (i ? Math.abs(value - c[i - 1]!) : Math.abs(value)));
    expect(turned.reduce((a, b) => a + b, 0)).toBeLessThan(3 * 170 + 180 + 1e-6);
    for (const value of c) expect(Math.abs(value)).toBeLessThan(360 + 1e-6);
  });

  it('a job does not begin with whole turns that cost no time while Z comes down', () => {
    const m = sampleMachine('table-table-bc');
    const c = m.joints.findIndex((j) => j.letter === 'C');
    const runs = [runAt([0, 0, 1]), runAt(tilted(60, 30)), runAt(tilted(60, 210))];
    const { runs: solutions, saved } = chooseSolutions(m, runs, m.ready);
    expect(solutions[0]!.map.rotaries[c]).toBe(m.ready[c]);
    for (const solution of solutions)
      expect(Math.abs(solution!.map.rotaries[c]!)).toBeLessThan(360 * DEG);
    expect(saved).toBe(0);
  });

  // From 0 the cable of one turn has to go back once by 260 deg instead of on by 100; at 90 deg/s that
  // takes 160 / 90 s longer. From -360 deg it need not. Z takes so long that the first turn costs nothing.
  it('it begins a turn away where that saves the time of unwinding, and says how much', () => {
    const given = machine(1, [-2, 120]);
    const joints = given.joints.map((j) => (j.letter === 'Z' ? { ...j, speed: 20 } : j));
    const m = { ...given, joints, ready: given.ready.map((v, i) => (i === 2 ? 400 : v)) };
    const arms = [1, 2, 3, 4, 5, 6, 7].map((i) => runAt(tilted(60, 90 + 100 * i)));
    const { runs, saved } = chooseSolutions(m, [runAt([0, 0, 1]), ...arms], m.ready);
    expect(Math.abs(runs[0]!.map.rotaries[C]! / DEG)).toBeCloseTo(360, 9);
    expect(saved).toBeCloseTo(160 / 90, 3);
    // Three arms: none has to go back so far.
    const few = chooseSolutions(m, [runAt([0, 0, 1]), ...arms.slice(0, 3)], m.ready);
    expect(few.runs[0]!.map.rotaries[C]).toBe(0);
    expect(few.saved).toBe(0);
  });

  it('at tilt 0 C keeps its value, wherever it stands', () => {
    const runs = [tilted(60, 20), [0, 0, 1] as Vec3, tilted(60, 20)].map((d) => runAt(d));
    for (const turns of [undefined, 2]) {
      const { c } = chosen(machine(turns), runs);
      expect(c[1]).toBe(c[0]);
      expect(c[2]).toBeCloseTo(c[0]!, 9);
    }
  });
});
