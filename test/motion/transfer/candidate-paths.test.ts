/**
 * Candidate paths from pose to pose, on three splits of the rotary joints: where their knots lie, by the forward
 * kinematics, and by how much the plane through the tip clears everything, by dense samples of the joint moves.
 */
import { describe, expect, it } from 'vitest';
import { seeded } from '../../../lib/base/random.js';
import { type Vec3, angle, dot, length, sub } from '../../../lib/base/vector.js';
import { forward } from '../../../lib/machine/forward.js';
import type { Machine } from '../../../lib/machine/machine.js';
import {
  type CandidatePath,
  TURN_SPARE,
  lifted,
  raised,
  candidatePaths,
} from '../../../lib/motion/transfer/candidate-paths.js';
import { type Bulk, bulkOf } from '../../../lib/motion/transfer/swept-bounds.js';
import {
  type Json,
  acJson,
  headHeadJson,
  headTableJson,
  machineOf,
} from '../../machine/machines.js';

/** A disc of 100 mm, 6 mm thick, and one box on it. */
const LOW: Vec3 = [-20, -10, 0];
const HIGH: Vec3 = [50, 15, 60];
const bulk = (machine: Machine): Bulk => bulkOf(machine, [Float64Array.of(...LOW, ...HIGH)]);

/** How far the plane through the tip square to the head stands over rim and box, mm. */
function clear(machine: Machine, q: Float64Array): number {
  const { tip, direction: d } = forward(machine, q);
  const corners = [LOW, HIGH].flatMap((a) =>
    [LOW, HIGH].flatMap((b) => [LOW, HIGH].map((c): Vec3 => [a[0], b[1], c[2]])),
  );
  const rim = 100 * Math.hypot(d[0], d[1]) + Math.max(0, -6 * d[2]);
  return dot(tip, d) - Math.max(rim, ...corners.map((p) => dot(p, d)));
}

/** Evenly spaced joint values on the way, both ends of every move among them. */
function* along(start: Float64Array, knots: readonly Float64Array[], count = 400) {
  let before = start;
  for (const knot of knots) {
    for (let i = 0; i <= count; i++) {
      yield before.map((x, j) => x + (i / count) * (knot[j]! - x));
    }
    before = knot;
  }
}

describe.each<[string, Json]>([
  ['a table that tilts and turns', acJson()],
  ['a head that tilts over a table that turns', headTableJson()],
  ['a head that turns and tilts', headHeadJson()],
])('%s', (_, json) => {
  const machine = machineOf(json);
  const there = bulk(machine);
  const random = seeded(11);
  const pose = (): Float64Array =>
    Float64Array.from(machine.joints, ({ kind }) =>
      kind === 'linear' ? 40 * (random() - 0.5) : 1.6 * (random() - 0.5),
    );
  const cases = Array.from({ length: 4 }, () => {
    const [start, end] = [pose(), pose()];
    return { start, end, paths: candidatePaths(there, start, end, 0.01) };
  });

  it('a lift is along the head, and turns nothing', () => {
    for (const { start } of cases) {
      const high = lifted(machine, start, 7.5);
      const [a, b] = [forward(machine, start), forward(machine, high)];
      expect(angle(a.direction, b.direction)).toBeLessThan(1e-9);
      sub(b.tip, a.tip).forEach((x, c) => expect(x).toBeCloseTo(7.5 * a.direction[c]!, 9));
      machine.joints.forEach((j, i) => {
        if (j.kind === 'rotary') expect(high[i]).toBe(start[i]);
      });
    }
  });

  it('raised means 1.1 mm over everything, or more where more is asked, and never down', () => {
    for (const { start } of cases) {
      const before = clear(machine, start);
      for (const more of [0, 3]) {
        const over = raised(there, start, more);
        expect(clear(machine, over)).toBeCloseTo(Math.max(before, 1 + TURN_SPARE + more), 6);
      }
      const far = lifted(machine, start, 500);
      expect(clear(machine, raised(there, far))).toBeCloseTo(clear(machine, far), 9);
    }
    expect(TURN_SPARE).toBe(0.1);
  });

  it('every path begins and ends with a lift', () => {
    for (const { start, end, paths } of cases) {
      expect(paths.length).toBeGreaterThanOrEqual(6);
      for (const { knots } of paths) {
        expect(knots.at(-1)).toBe(end);
        const ends = [
          [start, knots[0]!],
          [end, knots.at(-2)!],
        ] as const;
        for (const [from, to] of ends) {
          const [a, b] = [forward(machine, from), forward(machine, to)];
          const up = sub(b.tip, a.tip);
          expect(angle(a.direction, b.direction)).toBeLessThan(1e-9);
          const height = dot(up, a.direction);
          expect(length(up)).toBeCloseTo(height, 6);
          expect(height).toBeGreaterThan(1.1 - 1e-6);
        }
      }
    }
  });

  it('low ones rise by 1.1, 3, 7 and 17 mm, each straight and aside', () => {
    for (const { start, paths } of cases) {
      const heights = paths
        .filter(({ knots, smooth }) => !smooth && knots.length !== 4)
        .map(({ knots }) =>
          length(sub(forward(machine, knots[0]!).tip, forward(machine, start).tip)),
        );
      const straight = paths.filter(({ knots }) => knots.length === 3);
      const lifts = straight
        .slice(0, 4)
        .map(({ knots }) =>
          length(sub(forward(machine, knots[0]!).tip, forward(machine, start).tip)),
        );
      [1.1, 3, 7, 17].forEach((h, i) => expect(lifts[i]).toBeCloseTo(h, 6));
      for (const h of [1.1, 3, 7, 17]) {
        const same = heights.filter((x) => Math.abs(x - h) < 1e-6);
        expect(same.length).toBeGreaterThanOrEqual(3);
      }
    }
  });

  it('aside one joint is driven out, to the same value before and after the turn', () => {
    // The ball about table and box, the widest of the head (22 mm), 1 mm of clearance and what is to spare.
    const middle: Vec3 = [15, 2.5, 30];
    const ball = length(middle) + length(sub(HIGH, LOW)) / 2;
    const reach = Math.max(Math.hypot(100, 6), ball) + 22 + 1.1;
    for (const { paths } of cases) {
      const aside = paths.filter(({ knots, smooth }) => !smooth && knots.length === 5);
      expect(aside.length).toBeGreaterThanOrEqual(8);
      for (const { knots } of aside) {
        const [high, first, second, over] = knots as readonly Float64Array[];
        const moved = [...high!.keys()].filter((j) => first![j] !== high![j]);
        expect(moved).toHaveLength(1);
        const j = moved[0]!;
        expect(Math.abs(first![j]!)).toBeCloseTo(reach, 6);
        expect(second![j]).toBe(first![j]);
        [...over!.keys()].forEach((i) => {
          if (i !== j) expect(second![i]).toBe(over![i]);
        });
        // Not along the head.
        const { axis, kind } = machine.joints[j]!;
        expect([kind, Math.abs(axis[2]) < 0.5]).toEqual(['linear', true]);
      }
    }
  });

  it('all joints at once: over everything all the way', () => {
    for (const { start, paths } of cases) {
      const last = paths.filter(({ knots }) => knots.length === 3).at(-1)!;
      const [high, over] = last.knots as readonly [Float64Array, Float64Array];
      const heights = [...along(high, [over])].map((q) => clear(machine, q));
      // 48 samples are looked at; between two of them it may be lower by a little.
      expect(Math.min(...heights)).toBeGreaterThan(1.1 - 0.03);
      const lift = clear(machine, high) - Math.max(1.1, clear(machine, start));
      // As high as it has to be: raised only where the turn needs it, by what it needs, with a quarter more a round.
      if (lift > 1e-3) expect(Math.min(...heights)).toBeLessThan(1.1 + Math.max(0.5, lift));
    }
  });

  it('led over the part: just as high as each angle needs', () => {
    let smooth = 0;
    for (const { paths } of cases) {
      const led: CandidatePath | undefined = paths.find((w) => w.smooth);
      if (!led) continue;
      smooth++;
      const [high, ...rest] = led.knots as readonly [Float64Array, ...Float64Array[]];
      const turn = rest.slice(0, -1);
      const ends = [clear(machine, high), clear(machine, turn.at(-1)!)] as const;
      for (const q of along(high, turn, 40)) {
        const height = clear(machine, q);
        // .05 mm from the led path (looked at in its quarters), which is as high over everything as the ends and between.
        expect(height).toBeGreaterThan(Math.min(...ends) - 0.055);
        expect(height).toBeLessThan(Math.max(...ends) + 0.055);
      }
      expect(Math.min(...ends)).toBeGreaterThan(1.2 - 1e-6);
    }
    expect(smooth).toBeGreaterThan(2);
  });
});

describe('aside', () => {
  it('only as far as the joint travels', () => {
    const json = acJson();
    const joints = json.head.joints.map((j) =>
      j.letter === 'X' ? { ...j, travel: [-300, 120] as [number, number] } : j,
    );
    const machine = machineOf({ ...json, head: { ...json.head, joints } });
    const [start, end] = [Float64Array.of(0, 0, 70, 0, 0), Float64Array.of(10, 0, 70, 0.3, 0)];
    const paths = candidatePaths(bulkOf(machine, []), start, end, 0.01);
    const reach = Math.hypot(100, 6) + 22 + 1.1;
    const aside = paths.filter((w) => w.knots.length === 5).slice(0, 3);
    const places = aside.map(({ knots }) => [knots[1]![0], knots[1]![1]]);
    const near = (x: number): unknown => expect.closeTo(x, 6);
    expect(places).toEqual([
      [near(-reach), 0],
      [0, near(reach)],
      [0, near(-reach)],
    ]);
  });

  it('from where it stands, if that is farther out already', () => {
    const machine = machineOf(acJson());
    const start = Float64Array.of(200, 0, 70, 0, 0);
    const end = Float64Array.of(10, 0, 70, 0.3, 0);
    const aside = candidatePaths(bulkOf(machine, []), start, end, 0.01).filter(
      (w) => w.knots.length === 5,
    );
    expect(aside[0]!.knots[1]![0]).toBe(200);
    expect(aside[0]!.knots[2]![0]).toBe(200);
    expect(aside[1]!.knots[1]![0]).toBeLessThan(-120);
  });
});
