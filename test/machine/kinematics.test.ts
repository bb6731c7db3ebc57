/**
 * Kinematics against published and derived values. The table turns by +A (or +B) and +C about its own
 * axes, so a point p of the part stands at J = r + d + Rx(A) [ Rz(C)(p - r) - d ], with r a point on the
 * axis of C and d the offset of the axis of A from it; Ry(B) in place of Rx(A) for the other machine. The
 * form is that of Lee and She, Int J Adv Manuf Technol 13(9), 1997, 658-665, and Sorby, Int J Mach Tools
 * Manuf 47, 2007, 299-306 (both by citation, formula alone). The values are the formula, evaluated to
 * nine decimals apart from the library: AC1 is (10, 20 cos 30 - 30 sin 30, 20 sin 30 + 30 cos 30).
 */
import { describe, expect, it } from 'vitest';
import { applyPoint, applyDirection } from '../../lib/base/frame.js';
import { seeded } from '../../lib/base/random.js';
import { DEG, type Vec3, angle, length, sub, unit } from '../../lib/base/vector.js';
import { machineFromHead, machineFromPart } from '../../lib/machine/joint-chain.js';
import { forward, forwardInto } from '../../lib/machine/forward.js';
import { inverse, nearestWinding, solveRotaries } from '../../lib/machine/inverse.js';
import { linearMap, mapInto } from '../../lib/machine/linear.js';
import type { Machine } from '../../lib/machine/machine.js';
import {
  type Json,
  acJson,
  bcJson,
  headHeadJson,
  headTableJson,
  linear,
  machineOf,
  rotary,
} from './machines.js';

const p: Vec3 = [10, 20, 30];

/** name, machine, tilt and turn in degrees, linear joints */
const PUBLISHED: [string, (positive: 'body' | 'tool') => Json, number, number, Vec3][] = [
  ['AC1', (s) => acJson(s), 30, 0, [10, 2.320508076, 35.980762114]],
  ['AC2', (s) => acJson(s), 0, 90, [-20, 10, 30]],
  ['AC3', (s) => acJson(s), 30, 60, [-12.320508076, 1.160254038, 35.310889132]],
  [
    'AC4',
    (s) => acJson(s, [0, 0, 0], [0, 5, -40]),
    30,
    60,
    [-12.320508076, -18.169872981, 27.451905284],
  ],
  ['BC1', (s) => bcJson(s), 30, 60, [4.330127019, 18.660254038, 32.141016151]],
  [
    'BC2',
    (s) => bcJson(s, [0, 0, 0], [4, 0, -25]),
    30,
    60,
    [17.366025404, 18.660254038, 30.791651246],
  ],
];

/** Build direction of the published convention, part frame. */
const published = {
  AC: (a: number, c: number): Vec3 => [
    Math.sin(a) * Math.sin(c),
    Math.sin(a) * Math.cos(c),
    Math.cos(a),
  ],
  BC: (b: number, c: number): Vec3 => [
    -Math.sin(b) * Math.cos(c),
    Math.sin(b) * Math.sin(c),
    Math.cos(b),
  ],
};

const close = (a: ArrayLike<number>, b: ArrayLike<number>, tolerance = 1e-8): void => {
  for (let i = 0; i < b.length; i++) {
    expect(Math.abs(a[i]! - b[i]!), `element ${i}: ${a[i]} and ${b[i]}`).toBeLessThan(tolerance);
  }
};

describe.each(PUBLISHED)('%s', (name, json, tilt, turned, joints) => {
  // 'body' is the published source's own sense; ISO 841 names the tool's motion, so a table's
  // rotary values change sign and the linear joints of the head do not.
  it.each([
    ['body', 1],
    ['tool', -1],
  ] as const)('sense %s', (positive, sign) => {
    const machine = machineOf(json(positive));
    const values = [...joints, sign * tilt * DEG, sign * turned * DEG];
    const pose = forward(machine, values);
    close(pose.tip, p);
    const kind = name.slice(0, 2) as 'AC' | 'BC';
    close(pose.direction, published[kind](tilt * DEG, turned * DEG), 1e-12);
    const found = inverse(machine, p, pose.direction, values);
    const match = found.filter((s) => s.joints.every((v, i) => Math.abs(v - values[i]!) < 1e-8));
    expect(match).toHaveLength(1);
    expect(match[0]!.violations).toEqual([]);
  });
});

it('frames say the same as forward: the tip of the head meets the part point', () => {
  const machine = machineOf(headTableJson());
  const values = [12, 34, 0.4, -7, 2.2];
  const tip = applyPoint(machineFromHead(machine, values), [0, 0, 0]);
  const pose = forward(machine, values);
  close(applyPoint(machineFromPart(machine, values), pose.tip), tip, 1e-12);
  close(
    applyDirection(machineFromPart(machine, values), pose.direction),
    applyDirection(machineFromHead(machine, values), [0, 0, 1]),
    1e-12,
  );
});

describe('two solutions', () => {
  it.each([
    ['AC', acJson, [0.4330127, 0.25, 0.8660254]],
    ['BC', bcJson, [-0.25, 0.4330127, 0.8660254]],
  ] as const)('%s at (30, 60) and (-30, 240) deg', (_, json, d) => {
    const found = solveRotaries(machineOf(json()), unit(d as Vec3), new Float64Array(5));
    const pairs = found
      .map((s) => [s.joints[3]! / DEG, s.joints[4]! / DEG])
      .sort((a, b) => b[0]! - a[0]!);
    expect(pairs).toHaveLength(2);
    close(pairs[0]!, [30, 60], 1e-5);
    // nearest winding to 0: 240 deg is -120 deg
    close(pairs[1]!, [-30, -120], 1e-5);
  });

  it('d = (1,2,2)/3 on A-C: A 48.1897, C 26.5651 deg, and -A, C + 180 (derived)', () => {
    const found = solveRotaries(machineOf(acJson()), [1 / 3, 2 / 3, 2 / 3], [0, 0, 0, 0, 0]);
    const first = found.find((s) => s.joints[3]! > 0)!;
    expect(first.joints[3]! / DEG).toBeCloseTo(48.1897, 4);
    expect(first.joints[4]! / DEG).toBeCloseTo(26.5651, 4);
    const other = found.find((s) => s.joints[3]! < 0)!;
    expect(other.joints[3]! / DEG).toBeCloseTo(-48.1897, 4);
    expect(other.joints[4]! / DEG).toBeCloseTo(26.5651 - 180, 4);
  });
});

describe('the pole', () => {
  it('at tilt 0 the free joint keeps the value it has', () => {
    for (const json of [acJson(), bcJson(), headTableJson(), headHeadJson()]) {
      const machine = machineOf(json);
      const free = machine.joints.findIndex((j) => j.letter === 'C');
      const near = new Float64Array(5);
      near[free] = 1.234;
      const found = inverse(machine, [5, 6, 7], [0, 0, 1], near);
      expect(found).toHaveLength(1);
      expect(found[0]!.pole).toBe(true);
      expect(found[0]!.joints[free]).toBe(1.234);
      close(forward(machine, found[0]!.joints).tip, [5, 6, 7], 1e-10);
    }
  });

  it('|d k / d(A, C)| = sin A: a small tilt is solved to full digits', () => {
    const machine = machineOf(acJson());
    for (const tilt of [1e-6, 1e-5, 1e-3]) {
      const d = published.AC(tilt, 0.7);
      const s = solveRotaries(machine, d, [0, 0, 0, 0, 0]).find((x) => x.joints[3]! > 0)!;
      expect(Math.abs(s.joints[3]! - tilt)).toBeLessThan(1e-15);
      expect(Math.abs(s.joints[4]! - 0.7)).toBeLessThan(1e-9);
    }
  });

  // A great circle that passes the pole at least tilt a0 turns C at 1 / sin a0 at its peak (derived).
  it.each([
    [10, 5.75877],
    [1, 57.29869],
    [0.1, 572.95809],
  ])('great circle passing at %d deg: C turns %d times as fast', (a0, peak) => {
    const machine = machineOf(acJson());
    const e = 1e-7;
    const onCircle = (l: number): Vec3 => {
      const c = Math.cos(l);
      return [Math.sin(l), c * Math.sin(a0 * DEG), c * Math.cos(a0 * DEG)];
    };
    const turnAt = (l: number): number =>
      solveRotaries(machine, onCircle(l), [0, 0, 0, 0, 0]).find((s) => s.joints[3]! > 0)!
        .joints[4]!;
    expect((turnAt(e) - turnAt(-e)) / (2 * e) / peak).toBeCloseTo(1, 5);
  });

  it('cone where C saturates: asin(30 / 360) = 4.78019 deg', () => {
    // On a cone of tilt t the rate of C is 1 / sin t of the tool's; it reaches 12 at 4.78019 deg.
    const machine = machineOf(acJson());
    const t = 4.78019 * DEG;
    const e = 1e-6;
    const step = angle(published.AC(t, 0.3), published.AC(t, 0.3 + e));
    const [s0, s1] = [0.3, 0.3 + e].map(
      (c) =>
        solveRotaries(machine, published.AC(t, c), [0, 0, 0, 0, 0]).find((s) => s.joints[3]! > 0)!
          .joints[4]!,
    );
    expect((s1! - s0!) / step).toBeCloseTo(360 / 30, 4);
  });
});

it('ISO 841: a rising value moves the tool over the workpiece along the axis, whoever moves', () => {
  const at = (positive: 'body' | 'tool', letter: string, value: number) => {
    const machine = machineOf(headTableJson(positive));
    return forward(
      machine,
      machine.joints.map((j) => (j.letter === letter ? value : 0)),
    );
  };
  // Y and C carry the table: the tool runs along +Y, or, if the file names the body's motion, -Y.
  close(at('tool', 'Y', 5).tip, [0, 5, 0]);
  close(at('body', 'Y', 5).tip, [0, -5, 0]);
  close(at('tool', 'X', 5).tip, [5, 0, 0]);
  close(at('body', 'X', 5).tip, [5, 0, 0]);
  // A head that turns by +B leans towards +X in either sense.
  close(at('tool', 'B', 30 * DEG).direction, [0.5, 0, Math.sqrt(0.75)]);
  close(at('body', 'B', 30 * DEG).direction, [0.5, 0, Math.sqrt(0.75)]);
});

/** A machine as measured: every axis askew by up to `skew`, axes that do not meet, any split. */
function skewed(random: () => number, split: number): Machine {
  const skew = (v: Vec3): [number, number, number] =>
    v.map((x) => x + 0.3 * (random() - 0.5)) as [number, number, number];
  const spot = (): [number, number, number] =>
    [0, 0, 0].map(() => 60 * (random() - 0.5)) as [number, number, number];
  const c = rotary('C', skew([0, 0, 1]), 'endless', spot());
  const a = rotary('A', skew([1, 0, 0]), [-170, 170], spot());
  const lines = [
    linear('X', skew([1, 0, 0])),
    linear('Y', skew([0, 1, 0])),
    linear('Z', skew([0, 0, 1])),
  ];
  const json = acJson(random() < 0.5 ? 'body' : 'tool');
  const splits = [
    { head: lines, table: [a, c] },
    { head: [lines[0]!, lines[2]!, a], table: [lines[1]!, c] },
    { head: [...lines, c, a], table: [] },
    { head: [lines[2]!], table: [lines[0]!, lines[1]!, a, c] },
  ];
  const { head, table } = splits[split]!;
  return machineOf({
    ...json,
    head: { ...json.head, joints: head, tip: spot() },
    table: { ...json.table, joints: table, origin: spot() },
  });
}

describe('skewed axes, random joints, seed 20', () => {
  const random = seeded(20);
  it.each([
    ['table-table', 0],
    ['head-table', 1],
    ['head-head', 2],
    ['all on the table', 3],
  ])('%s: inverse finds what forward was given', (_, split) => {
    for (let n = 0; n < 200; n++) {
      const machine = skewed(random, split);
      const values = machine.joints.map((j) =>
        j.kind === 'linear' ? 200 * (random() - 0.5) : 5.6 * (random() - 0.5),
      );
      const pose = forward(machine, values);
      const found = inverse(machine, pose.tip, pose.direction, values);
      const missed = Math.min(
        ...found.map((s) => Math.max(...s.joints.map((v, i) => Math.abs(v - values[i]!)))),
      );
      expect(missed).toBeLessThan(2e-6);
      for (const s of found) {
        const again = forward(machine, s.joints);
        expect(length(sub(again.tip, pose.tip))).toBeLessThan(1e-9);
        expect(angle(again.direction, pose.direction)).toBeLessThan(1e-9);
      }
    }
  });
});

it('the linear map gives the inverse for standing rotaries', () => {
  const machine = machineOf(headTableJson());
  const values = [12, 34, 0.4, -7, 2.2];
  const map = linearMap(machine, values)!;
  const out = new Float64Array(7);
  const tip = forward(machine, values).tip;
  mapInto(map, ...tip, out, 2);
  close(out.subarray(2), values, 1e-10);
  const pose = new Float64Array(6);
  forwardInto(machine, out, 2, pose);
  close(pose, [...tip, ...forward(machine, values).direction], 1e-10);
});

it('a machine whose linear joints fall into a plane gives no map', () => {
  // Z rides on the tilting head, so at 90 deg it runs along X.
  const json = headTableJson();
  const [x, z, b] = json.head.joints;
  const machine = machineOf({ ...json, head: { ...json.head, joints: [x!, b!, z!] } });
  const at = (deg: number): number[] =>
    machine.joints.map((j) => (j.letter === 'B' ? deg * DEG : 0));
  expect(linearMap(machine, at(60))).toBeDefined();
  expect(linearMap(machine, at(90))).toBeUndefined();
});

describe('winding and travel', () => {
  const machine = machineOf(acJson());
  const c = machine.joints[4]!;
  it('an endless axis takes the winding nearest to where it is', () => {
    expect(nearestWinding(c, 10 * DEG, 700 * DEG) / DEG).toBeCloseTo(730, 9);
    expect(nearestWinding(c, 170 * DEG, -180 * DEG) / DEG).toBeCloseTo(-190, 9);
  });
  it('a turn limit sends it back the other way', () => {
    const json = acJson();
    const limited = machineOf({
      ...json,
      table: { ...json.table, joints: [json.table.joints[0]!, turns(json.table.joints[1]!, 1)] },
    });
    expect(limited.joints[4]!.most).toBeCloseTo(2 * Math.PI, 12);
    expect(nearestWinding(limited.joints[4]!, 10 * DEG, 355 * DEG) / DEG).toBeCloseTo(10, 9);
  });
  it('names the joint that leaves its travel, with value and limit', () => {
    const found = inverse(machine, [0, 0, 600], [0, 0, 1], new Float64Array(5));
    expect(found[0]!.violations).toEqual([{ joint: 2, value: 600, limit: 500 }]);
    const tilted = solveRotaries(
      machineOf(
        ((j: Json): Json => ({
          ...j,
          table: { ...j.table, joints: [rotary('A', [1, 0, 0], [-10, 40]), j.table.joints[1]!] },
        }))(acJson()),
      ),
      published.AC(30 * DEG, 0),
      new Float64Array(5),
    );
    expect(tilted.map((s) => s.violations.map((v) => Math.round(v.limit / DEG)))).toEqual(
      expect.arrayContaining([[], [-10]]),
    );
  });
  it('a direction that no angle reaches has no solution', () => {
    // Table axis C, tilt axis 60 deg from it: directions within |60 - 90| = 30 deg of C's axis
    // are out of reach (triangle inequality on the sphere).
    const json = acJson();
    const skew = machineOf({
      ...json,
      table: {
        ...json.table,
        joints: [
          rotary('A', [1, 0, 0], [-180, 180]),
          rotary('C', [0.5, 0, Math.sqrt(0.75)], 'endless'),
        ],
      },
    });
    const w: Vec3 = [0.5, 0, Math.sqrt(0.75)];
    expect(solveRotaries(skew, w, new Float64Array(5))).toEqual([]);
    expect(solveRotaries(skew, [0, 0, 1], new Float64Array(5)).length).toBeGreaterThan(0);
  });
});

function turns(joint: Json['head']['joints'][number], count: number): typeof joint {
  return { ...joint, turns: count } as typeof joint;
}
