/**
 * A machine file with measured axes, a leaning table face and run-out: what the file says is put
 * together here by rotation matrices (Rodrigues) apart from the library, and must come back.
 */
import { describe, expect, it } from 'vitest';
import { applyDirection, applyPoint } from '../../lib/base/frame.js';
import { seeded } from '../../lib/base/random.js';
import { DEG, type Vec3, angle, length, sub, unit } from '../../lib/base/vector.js';
import { machineFromHead, machineFromPart } from '../../lib/machine/joint-chain.js';
import { forward } from '../../lib/machine/forward.js';
import { inverse } from '../../lib/machine/inverse.js';
import { linearMap, mapInto } from '../../lib/machine/linear.js';
import { reachOf } from '../../lib/machine/reachable-directions.js';
import { type Json, acJson, bcJson, headTableJson, machineOf } from './machines.js';

/** An axis file with every line a little off; `size` in deg and mm. */
function askew(json: Json, seed: number, size: number): Json {
  const random = seeded(seed);
  const off = (): number => size * (2 * random() - 1);
  const lean = (v: readonly number[]): [number, number, number] =>
    v.map((x) => x + off() * DEG) as [number, number, number];
  const joint = <J extends Json['head']['joints'][number]>(j: J): J =>
    j.kind === 'linear'
      ? { ...j, axis: lean(j.axis) }
      : {
          ...j,
          axis: lean(j.axis),
          point: j.point.map((x) => x + off()) as [number, number, number],
          runOut: [0.1 * off(), 0.1 * off()],
        };
  return {
    ...json,
    head: { ...json.head, joints: json.head.joints.map(joint) },
    table: {
      ...json.table,
      joints: json.table.joints.map(joint),
      origin: [off(), off(), off()],
      normal: lean([0, 0, 1]),
    },
  };
}

const KINDS: [string, (p: 'body' | 'tool') => Json][] = [
  ['A-C', acJson],
  ['B-C', bcJson],
  ['head-table', headTableJson],
];

describe.each(KINDS)('%s measured, seeds 1 to 40', (_, json) => {
  const machines = Array.from({ length: 40 }, (_, i) =>
    machineOf(askew(json(i % 2 ? 'tool' : 'body'), i + 1, 1)),
  );

  it('forward agrees with the frames of the chain', () => {
    const random = seeded(5);
    for (const machine of machines) {
      const joints = machine.joints.map(() => 2 * random() - 1);
      const { tip, direction } = forward(machine, joints);
      const f = machineFromPart(machine, joints);
      const head = machineFromHead(machine, joints);
      expect(length(sub(applyPoint(f, tip), applyPoint(head, [0, 0, 0])))).toBeLessThan(1e-12);
      const up = applyDirection(head, [0, 0, 1]);
      expect(length(sub(applyDirection(f, direction), up))).toBeLessThan(1e-12);
    }
  });

  it('inverse finds joint values that bring tip and direction back', () => {
    const random = seeded(6);
    for (const machine of machines) {
      const [t, w] = [(10 + 40 * random()) * DEG, 2 * Math.PI * random()];
      const d: Vec3 = [Math.sin(t) * Math.cos(w), Math.sin(t) * Math.sin(w), Math.cos(t)];
      const p: Vec3 = [30 * random(), 30 * random(), 40 * random()];
      const solutions = inverse(machine, p, d, new Float64Array(5));
      expect(solutions).toHaveLength(2);
      for (const { joints } of solutions) {
        const pose = forward(machine, joints);
        expect(length(sub(pose.tip, p))).toBeLessThan(1e-9);
        expect(angle(pose.direction, d)).toBeLessThan(1e-9);
      }
    }
  });

  it('along the table normal the tip is exact and the head leans by the hole of the axes at most', () => {
    for (const machine of machines) {
      const p: Vec3 = [20, -10, 15];
      const solutions = inverse(machine, p, [0, 0, 1], new Float64Array(5));
      expect(solutions.length).toBeGreaterThan(0);
      const { joints } = solutions[0]!;
      const pose = forward(machine, joints);
      expect(length(sub(pose.tip, p))).toBeLessThan(1e-9);
      // Three axes at most 1.7 deg off each, and the hole counts twice at its far side.
      expect(angle(pose.direction, [0, 0, 1]) / DEG).toBeLessThan(6);
    }
  });

  it('the affine map of a pose is the inverse there', () => {
    for (const machine of machines) {
      const rotaries = machine.joints.map((j) => (j.kind === 'rotary' ? 0.7 : 0));
      const map = linearMap(machine, rotaries)!;
      const joints = new Float64Array(5);
      mapInto(map, 12, -7, 25, joints, 0);
      expect(length(sub(forward(machine, joints).tip, [12, -7, 25]))).toBeLessThan(1e-10);
    }
  });
});

describe('what the file says of face and run-out', () => {
  it('the table normal is where part +Z points with all joints at zero', () => {
    const json = acJson();
    const normal: [number, number, number] = [0.02, -0.01, 1];
    const machine = machineOf({ ...json, table: { ...json.table, normal } });
    const z = applyDirection(machineFromPart(machine, new Float64Array(5)), [0, 0, 1]);
    expect(length(sub(z, unit(normal)))).toBeLessThan(1e-12);
  });

  it.each(['body', 'tool'] as const)(
    'run-out lifts the table by c (cos C - 1) + s sin C along the axis of the file (%s)',
    (positive) => {
      const json = acJson(positive);
      const [tilt, turn] = json.table.joints as [Json['table']['joints'][0], never];
      const c = { ...(turn as object), runOut: [0.3, 0.2] } as unknown as typeof tilt;
      const machine = machineOf({ ...json, table: { ...json.table, joints: [tilt, c] } });
      const still = machineOf(json);
      for (const deg of [0, 40, 90, 200]) {
        const joints = [0, 0, 0, 0, deg * DEG];
        const lift = 0.3 * (Math.cos(deg * DEG) - 1) + 0.2 * Math.sin(deg * DEG);
        // The table has come up by `lift`, so the tip stands that much lower over it.
        const by = forward(machine, joints).tip[2] - forward(still, joints).tip[2];
        expect(by).toBeCloseTo(-lift, 12);
      }
    },
  );

  it('a measured machine reaches the cap of its drawing but for what its axes are off', () => {
    const drawn = reachOf(machineOf(acJson()));
    const found = reachOf(machineOf(askew(acJson(), 3, 0.5)));
    expect(Math.abs(found.everyTilt - drawn.everyTilt) / DEG).toBeLessThan(2);
  });

  it('a table that stands on edge is refused', () => {
    const json = acJson();
    expect(() => machineOf({ ...json, table: { ...json.table, normal: [1, 0, 0.1] } })).toThrow(
      /84.3 deg from \+Z, the limit is 60 deg/,
    );
  });
});
