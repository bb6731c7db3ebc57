/**
 * How the head stands along curved layers: never farther from the growth than the lean, with turns that geometry
 * forces and no others. Directions of the head come from forward kinematics.
 */
import { describe, expect, test } from 'vitest';
import { seeded } from '../../../lib/base/random.js';
import { DEG, type Vec3, dot, pointAt } from '../../../lib/base/vector.js';
import { forward } from '../../../lib/machine/forward.js';
import { leastTipHeight } from '../../../lib/machine/head.js';
import { rotaryPair } from '../../../lib/machine/inverse.js';
import type { Machine } from '../../../lib/machine/machine.js';
import { type HeadTurns, leanHead } from '../../../lib/motion/lay/lean-head.js';
import type { Paths } from '../../../lib/paths/paths.js';
import { sampleMachine } from '../../support/jobs.js';
import { pathAlong, tilted } from './directed-paths.js';

/** The direction of the head at each point. */
function headsOf(machine: Machine, { pairs }: HeadTurns): Vec3[] {
  const { first, second } = rotaryPair(machine);
  return Array.from({ length: pairs.length / 2 }, (_, k) => {
    const joints = machine.ready.slice();
    joints[first] = pairs[2 * k]!;
    joints[second] = pairs[2 * k + 1]!;
    return forward(machine, joints).direction;
  });
}

/** Angle between the head and the growth at each point, rad. */
const leansOf = (machine: Machine, { directions }: Paths, turns: HeadTurns): number[] =>
  headsOf(machine, turns).map((d, k) => Math.acos(Math.min(1, dot(d, pointAt(directions!, k)))));

/** How far a joint turns in all, rad. */
const turned = ({ pairs }: HeadTurns, joint: 0 | 1): number => {
  let sum = 0;
  for (let k = 2 + joint; k < pairs.length; k += 2) sum += Math.abs(pairs[k]! - pairs[k - 2]!);
  return sum;
};

const machines = ['table-table-ac', 'table-table-bc', 'head-table'] as const;

describe.each(machines)('%s', (name) => {
  test('low over the table the head stands as upright as its clearance asks, if the lean allows it', () => {
    const machine = sampleMachine(name);
    // A growth of 60 deg all the way round, the tip rising from 1 to 12 mm.
    const count = 181;
    const grown = pathAlong(Array.from({ length: count }, (_, k) => tilted(60 * DEG, 2 * k * DEG)));
    const points = grown.points.map((x, i) => (i % 3 === 2 ? 1 + (11 * (i - 2)) / 3 / count : x));
    const paths = { ...grown, points };
    const lean = 10 * DEG;
    const turns = leanHead(machine, paths, 0, 1, lean, machine.ready);
    leansOf(machine, paths, turns).forEach((by) => expect(by).toBeLessThan(lean + 1e-6));
    let bounded = 0;
    headsOf(machine, turns).forEach((d, k) => {
      const height = points[3 * k + 2]!;
      const tilt = Math.acos(d[2]);
      // Clear of the table, or as upright as the lean allows. Tabulated in steps of 0.1 deg.
      const free = leastTipHeight(machine, tilt - 0.1 * DEG) <= height;
      if (!free) expect(tilt).toBeLessThan(50.01 * DEG);
      if (leastTipHeight(machine, 60 * DEG) > height) bounded++;
    });
    expect(bounded).toBeGreaterThan(20);
  });

  const machine = sampleMachine(name);

  test.each([1, 2, 3])('the head keeps within 5 deg of the growth, seed %d', (seed) => {
    const random = seeded(seed);
    const waves = Array.from({ length: 4 }, () => ({ a: random(), p: 6 * random(), w: random() }));
    const directions = Array.from({ length: 400 }, (_, k) => {
      const wave = (i: number): number =>
        waves[i]!.a * Math.sin((k / 400) * 12 * waves[i]!.w + waves[i]!.p);
      return tilted(30 * DEG * Math.abs(wave(0) + wave(1)), 3 * wave(2) + 2 * wave(3));
    });
    const paths = pathAlong(directions);
    const turns = leanHead(machine, paths, 0, 1, 5 * DEG, machine.ready);
    expect(turns.unreachable).toBe(-1);
    for (const lean of leansOf(machine, paths, turns)) expect(lean).toBeLessThan(5 * DEG + 1e-6);
  });

  test('where the growth turns evenly, no joint turns back or by leaps', () => {
    // A quarter of a turn round a cone of 30 deg in 90 points: 1 deg of azimuth a point, less than 5 deg of lean.
    const paths = pathAlong(Array.from({ length: 91 }, (_, k) => tilted(30 * DEG, k * DEG)));
    const turns = leanHead(machine, paths, 0, 1, 5 * DEG, machine.ready);
    const { pairs } = turns;
    for (const joint of [0, 1] as const) {
      const values = Array.from({ length: 91 }, (_, k) => pairs[2 * k + joint]!);
      const steps = values.slice(1).map((q, k) => q - values[k]!);
      if (turned(turns, joint) < 45 * DEG) continue;
      // This joint makes the turn: all of its steps go one way, none by more than the growth and a tenth.
      const sign = Math.sign(values.at(-1)! - values[0]!);
      for (const step of steps) {
        expect(sign * step).toBeGreaterThan(-1e-9);
        expect(sign * step).toBeLessThan(1.1 * DEG);
      }
    }
    expect(Math.max(turned(turns, 0), turned(turns, 1))).toBeGreaterThan(45 * DEG);
  });

  test('a direction that passes straight over the pole asks for no turn about it', () => {
    // From 4 deg on one side to 4 deg on the other, off the table's normal by a degree across: exactly along it the
    // first joint would turn by half a turn. Within a lean of 5 deg the head need not move at all.
    const paths = pathAlong(
      Array.from({ length: 81 }, (_, k): Vec3 => {
        const [x, y] = [((k - 40) / 40) * 4 * DEG, 1 * DEG];
        return [Math.sin(x), Math.sin(y), Math.sqrt(1 - Math.sin(x) ** 2 - Math.sin(y) ** 2)];
      }),
    );
    const turns = leanHead(machine, paths, 0, 1, 5 * DEG, machine.ready);
    expect(turned(turns, 0) + turned(turns, 1)).toBeLessThan(1e-9);
  });

  test('the head turns just as far as it must: to the lean, and no farther', () => {
    const paths = pathAlong([tilted(2 * DEG, 1), tilted(30 * DEG, 1)]);
    const turns = leanHead(machine, paths, 0, 1, 5 * DEG, machine.ready);
    const [first, second] = leansOf(machine, paths, turns) as [number, number];
    expect(first).toBeCloseTo(2 * DEG, 9);
    expect(second).toBeCloseTo(5 * DEG, 6);
  });

  test('once round a cone of 30 deg the tilting joint hardly moves, and the other turns once', () => {
    const paths = pathAlong(Array.from({ length: 361 }, (_, k) => tilted(30 * DEG, k * DEG)));
    const turns = leanHead(machine, paths, 0, 1, 5 * DEG, machine.ready);
    for (const lean of leansOf(machine, paths, turns)) expect(lean).toBeLessThan(5 * DEG + 1e-6);
    // It may lag behind and run ahead by the lean, which at 30 deg is asin(sin 5 / sin 30) about the axis.
    const ahead = Math.asin(Math.sin(5 * DEG) / Math.sin(30 * DEG));
    expect(turned(turns, 0)).toBeLessThan(2 * Math.PI + 1e-6);
    expect(turned(turns, 0)).toBeGreaterThan(2 * Math.PI - 2 * ahead - 1e-6);
    // To the cone from where the head stands upright, less the lean.
    expect(turned(turns, 1)).toBeLessThan(10 * DEG);
  });
});

describe('a joint that cannot turn without end', () => {
  /** C from -300 to 300 deg: a round fits, wherever it begins, and no second one. */
  const machine: Machine = {
    ...sampleMachine('table-table-ac'),
    joints: sampleMachine('table-table-ac').joints.map((joint) =>
      joint.letter === 'C' ? { ...joint, least: -300 * DEG, most: 300 * DEG } : joint,
    ),
  };
  const c = rotaryPair(machine).first;
  /** Once round a cone of 30 deg, so many times, each time a path of its own. */
  const rounds = (count: number, degrees: number): Paths => {
    const one = Array.from({ length: degrees + 1 }, (_, k) => tilted(30 * DEG, k * DEG));
    const all = pathAlong(Array.from({ length: count }, () => one).flat());
    const start = Uint32Array.from({ length: count + 1 }, (_, i) => i * one.length);
    return { ...all, start };
  };

  test('begins each round where it can end it, and turns back between them alone', () => {
    const paths = rounds(3, 360);
    const { pairs, turnedBack, unreachable } = leanHead(
      machine,
      paths,
      0,
      3,
      5 * DEG,
      machine.ready,
    );
    expect([turnedBack, unreachable]).toEqual([0, -1]);
    for (let k = 0; k < pairs.length / 2; k++) {
      const q = pairs[2 * k]!;
      expect(Math.abs(q)).toBeLessThan(300 * DEG + 1e-9);
      const inPath = k > 0 && ![...paths.start].includes(k);
      if (inPath) expect(Math.abs(q - pairs[2 * k - 2]!)).toBeLessThan(20 * DEG);
    }
    // Between rounds it goes back by the whole turn that it made, but for the lean at both ends.
    for (const k of [...paths.start].slice(1, -1)) {
      expect(Math.abs(pairs[2 * k]! - pairs[2 * k - 2]!)).toBeGreaterThan(300 * DEG);
    }
    for (const lean of leansOf(machine, paths, { pairs, first: 0, unreachable, turnedBack })) {
      expect(lean).toBeLessThan(5 * DEG + 1e-6);
    }
    expect(machine.joints[c]!.letter).toBe('C');
  });

  test('says on how many paths it cannot: twice round is more than it has', () => {
    expect(leanHead(machine, rounds(2, 720), 0, 2, 5 * DEG, machine.ready).turnedBack).toBe(2);
    // With the machine as it is, it turns on.
    const free = leanHead(
      sampleMachine('table-table-ac'),
      rounds(2, 720),
      0,
      2,
      5 * DEG,
      machine.ready,
    );
    expect(free.turnedBack).toBe(0);
  });
});

describe('several paths', () => {
  const machine = sampleMachine('table-table-ac');
  /** Two paths after one another, with room before them. */
  const three = (...paths: Vec3[][]): Paths => {
    const all = pathAlong(paths.flat());
    const start = [0];
    for (const path of paths) start.push(start.at(-1)! + path.length);
    return { ...all, start: Uint32Array.from(start) };
  };
  const wave = (n: number, by: number): Vec3[] =>
    Array.from({ length: n }, (_, k) => tilted((20 + 8 * Math.sin(k / by)) * DEG, k / 30));
  const [p, q, r] = [wave(40, 3), wave(120, 7), wave(90, 5)] as [Vec3[], Vec3[], Vec3[]];

  test('one of them alone turns as it does where it is the only one', () => {
    const alone = leanHead(machine, pathAlong(q), 0, 1, 5 * DEG, machine.ready);
    const among = leanHead(machine, three(p, q, r), 1, 2, 5 * DEG, machine.ready);
    expect([among.first, among.unreachable]).toEqual([40, -1]);
    expect(among.pairs).toEqual(alone.pairs);
  });

  test('each keeps to its own growth, and begins as the one before ends', () => {
    const turns = leanHead(machine, three(p, q, r), 0, 3, 5 * DEG, machine.ready);
    const leans = leansOf(machine, three(p, q, r), turns);
    expect(leans).toHaveLength(250);
    expect(Math.max(...leans)).toBeLessThan(5 * DEG + 1e-6);
    // All three start near to a tilt of 20 deg about the same axis: no turn from path to path beyond the lean.
    for (const at of [40, 160]) {
      for (const joint of [0, 1]) {
        const step = turns.pairs[2 * at + joint]! - turns.pairs[2 * at - 2 + joint]!;
        expect(Math.abs(step)).toBeLessThan(60 * DEG);
      }
    }
    // Longer and shorter waves are evened out in each: fewer turns than the growth itself has.
    const grown = [p, q, r].flatMap((path) => path.slice(1).map((d, k) => dot(d, path[k]!)));
    const roughness = grown.reduce((sum, c) => sum + Math.acos(Math.min(1, c)), 0);
    expect(turned(turns, 1)).toBeLessThan(0.6 * roughness);
  });

  test('turns go evenly with the length of the path, however its points are spaced', () => {
    // 100 mm, points at k^3: a tilt that rises evenly by 40 deg and trembles by half a degree.
    const count = 101;
    const x = Array.from({ length: count }, (_, k) => 100 * (k / (count - 1)) ** 3);
    const grown = pathAlong(
      x.map((s, k) => tilted((10 + 0.4 * s + (k % 2 ? 0.5 : -0.5)) * DEG, 90 * DEG)),
    );
    const points = Float64Array.from(x.flatMap((s) => [s, 0, 200]));
    const { pairs } = leanHead(machine, { ...grown, points }, 0, 1, 5 * DEG, machine.ready);
    // A string pulled taut in a tube wide enough is straight.
    const tilt = x.map((_, k) => pairs[2 * k + 1]!);
    const [start, end] = [tilt[0]!, tilt.at(-1)!];
    expect(Math.abs(end - start)).toBeGreaterThan(29 * DEG);
    tilt.forEach((t, k) => {
      expect(Math.abs(t - (start + ((end - start) * x[k]!) / 100))).toBeLessThan(2 * DEG);
    });
  });
});

test('flat paths have no directions to follow', () => {
  const { directions: _, ...flat } = pathAlong([tilted(0, 0)]);
  const machine = sampleMachine('table-table-ac');
  expect(() => leanHead(machine, flat, 0, 1, 5 * DEG, machine.ready)).toThrow(/no directions/);
});

test('names the first point whose direction the joints cannot take', () => {
  const machine = sampleMachine('table-table-ac');
  const paths = pathAlong(Array.from({ length: 100 }, (_, k) => tilted(2 * k * DEG, 0)));
  const { unreachable } = leanHead(machine, paths, 0, 1, 5 * DEG, machine.ready);
  const tilt = machine.joints.find((j) => j.letter === 'A')!;
  const most = Math.max(-tilt.least, tilt.most) / DEG;
  // The head leans back by up to 5 deg, but the solution itself must exist.
  expect(2 * unreachable).toBeGreaterThan(most);
  expect(2 * (unreachable - 1)).toBeLessThanOrEqual(most + 5);
});
