/** Both movers of a run against the forward kinematics: where the tip goes, how the head stands, what is metered. */
import { describe, expect, it } from 'vitest';
import { applyPoint } from '../../../lib/base/frame.js';
import { DEG, type Vec3, angle, length, sub, unit } from '../../../lib/base/vector.js';
import { flatMap } from '../../../lib/layers/layer-map.js';
import { forward } from '../../../lib/machine/forward.js';
import { inverse } from '../../../lib/machine/inverse.js';
import { linearMap } from '../../../lib/machine/linear.js';
import { BlockList, type Tag } from '../../../lib/motion/lay/blocks.js';
import { flatMover, turningMover } from '../../../lib/motion/lay/lay-run.js';
import { MoveKind } from '../../../lib/motion/motion.js';
import { acJson, headTableJson, machineOf } from '../../machine/machines.js';

describe.each([
  ['a table that tilts and turns', machineOf(acJson('body', [3, -2, 5], [0, 4, -30]))],
  ['a head that tilts over a table that turns', machineOf(headTableJson())],
])('%s', (_, machine) => {
  const d = unit([0.3, -0.2, 0.9]);
  const tag: Tag = { kind: MoveKind.deposit, region: 0, layer: 0, pathKind: 1, speed: 40 };

  it('keeps its rotary joints in flat layers and leads the tip from point to point', () => {
    const map = flatMap(d);
    const [found] = inverse(machine, [0, 0, 0], d, machine.ready);
    const blocks = new BlockList(machine.ready);
    const mover = flatMover(blocks, map, linearMap(machine, found!.joints)!);
    const points: Vec3[] = [
      [1, 2, 3],
      [4, -5, 6],
      [4, -5, 6.0019],
      [4, -5, 6.0021],
      [0.5, 9, 6],
    ];
    for (const p of points) mover.to(...p, 0.08, 0.03, tag);
    const { joints, length: far, filament, section } = blocks.take();
    const n = machine.joints.length;
    // The first call takes note of the place; a step of less than .002 mm is not made.
    const made = [points[1]!, points[3]!, points[4]!];
    expect(joints).toHaveLength(3 * n);
    let before = points[0]!;
    made.forEach((p, b) => {
      const pose = forward(machine, joints.slice(b * n, b * n + n));
      const want = applyPoint(map.partFromLayer, p);
      pose.tip.forEach((x, c) => expect(x).toBeCloseTo(want[c]!, 9));
      expect(angle(pose.direction, d)).toBeLessThan(1e-9);
      expect(far[b]).toBeCloseTo(length(sub(p, before)), 12);
      expect(filament[b]).toBeCloseTo(0.03 * far[b]!, 12);
      expect(section[b]).toBe(0.08);
      before = p;
    });
    const at = forward(machine, mover.jointsAt([7, 8, 9])).tip;
    applyPoint(map.partFromLayer, [7, 8, 9]).forEach((x, c) => expect(at[c]).toBeCloseTo(x, 9));
    expect(blocks.count).toBe(3);
  });

  it('leads the tip straight while the head turns, within the chord error', () => {
    const rotary = machine.joints.flatMap((j, i) => (j.kind === 'rotary' ? [i] : []));
    const [q1, q2] = [0.2, 0.5];
    const blocks = new BlockList(machine.ready);
    const mover = turningMover(machine, blocks, 0.01);
    const start: Vec3 = [40, 10, 20];
    const end: Vec3 = [45, 30, 22];
    blocks.push(mover.jointsAt(start, [q1, q2]), 0, 0, 0, tag);
    mover.to(...start, 0.08, 0.03, tag, [q1, q2]);
    expect(blocks.count).toBe(1);
    mover.to(...end, 0.08, 0.03, tag, [q1 + 20 * DEG, q2 - 30 * DEG]);
    // Nothing to do for a step of less than .002 mm.
    mover.to(end[0] + 1e-3, end[1], end[2], 0.08, 0.03, tag, [q1, q2]);
    const { joints, length: far, filament } = blocks.take();
    const n = machine.joints.length;
    const count = joints.length / n;
    expect(count).toBeGreaterThan(4);
    const place = (b: number, share: number): Vec3 => {
      const q = Float64Array.from(
        { length: n },
        (__, j) => joints[(b - 1) * n + j]! * (1 - share) + joints[b * n + j]! * share,
      );
      return forward(machine, q).tip;
    };
    const u = unit(sub(end, start));
    let gone = 0;
    for (let b = 1; b < count; b++) {
      gone += far[b]!;
      const tip = place(b, 1);
      tip.forEach((x, c) => expect(x).toBeCloseTo(start[c]! + gone * u[c]!, 6));
      expect(filament[b]).toBeCloseTo(0.03 * far[b]!, 12);
      for (const share of [0.25, 0.5, 0.75]) {
        const off = sub(place(b, share), start);
        const along = off[0] * u[0] + off[1] * u[1] + off[2] * u[2];
        expect(length(sub(off, [along * u[0], along * u[1], along * u[2]]))).toBeLessThan(0.0101);
      }
    }
    expect(gone).toBeCloseTo(length(sub(end, start)), 9);
    const turned = rotary.map((j) => joints[(count - 1) * n + j]!).sort();
    const want = [q1 + 20 * DEG, q2 - 30 * DEG].sort();
    turned.forEach((x, i) => expect(x).toBeCloseTo(want[i]!, 12));
  });

  it('asks for the values of its joints where the head turns', () => {
    const mover = turningMover(machine, new BlockList(machine.ready), 0.01);
    expect(() => mover.to(0, 0, 1, 0, 0, tag)).toThrow(/without its rotary values/);
    expect(() => mover.jointsAt([0, 0, 1])).toThrow(/without its rotary values/);
  });
});
