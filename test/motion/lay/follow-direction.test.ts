/**
 * Even joint motion while a rotary axis turns bends the tip's path: how far, and that following holds
 * the chord error. Deviations computed from the formula p = Rz(-C) J (checked at 1, 2, 4, 8 pieces).
 */
import { describe, expect, it } from 'vitest';
import { DEG, type Vec3, length, sub } from '../../../lib/base/vector.js';
import { forward } from '../../../lib/machine/forward.js';
import { rotaryPair } from '../../../lib/machine/inverse.js';
import { linearMap, mapInto } from '../../../lib/machine/linear.js';
import { BlockList, NO_PATH } from '../../../lib/motion/lay/blocks.js';
import { between, follow, tipLength } from '../../../lib/motion/lay/follow-direction.js';
import { turningMover } from '../../../lib/motion/lay/lay-run.js';
import { MoveKind } from '../../../lib/motion/motion.js';
import { acJson, headTableJson, machineOf } from '../../machine/machines.js';

const machine = machineOf(acJson());

/** Joints for a part point with C at an angle, table level. */
function at(p: Vec3, c: number): Float64Array {
  const map = linearMap(machine, [0, 0, 0, 0, c])!;
  const out = new Float64Array(5);
  mapInto(map, ...p, out, 0);
  return out;
}

const line = (t: number): Vec3 => [40, 10 * t, 0];
const joints = (t: number): Float64Array => at(line(t), 30 * DEG * t);

/** Farthest distance from the line x = 40, z = 0, over one piece. */
function deviation(a: Float64Array, b: Float64Array): number {
  let most = 0;
  for (let i = 0; i <= 400; i++) {
    const tip = forward(machine, between(a, b, i / 400)).tip;
    most = Math.max(most, Math.hypot(tip[0] - 40, tip[2]));
  }
  return most;
}

describe('what cannot be followed', () => {
  it('is a path with a jump, however short the pieces are', () => {
    const jump = (t: number): Vec3 => [40, t < 0.3 ? 0 : 10, 0];
    const ends: number[] = [];
    const there = (t: number): Float64Array => at(jump(t), 30 * DEG * t);
    expect(follow(machine, there(0), there, jump, 0.01, (_, t) => ends.push(t))).toBe(false);
    // As far as the jump it is: pieces of 2^-20 of the path.
    expect(ends.at(-1)).toBeLessThan(0.3);
    expect(ends.at(-1)).toBeGreaterThan(0.3 - 2 ** -19);
    ends.slice(1).forEach((t, i) => expect(t - ends[i]!).toBeGreaterThanOrEqual(2 ** -20));
  });
  it('is one with a place that has no solution, or no end', () => {
    const gap = (t: number): Float64Array | undefined => (t === 0.5 ? undefined : joints(t));
    expect(follow(machine, joints(0), gap, line, 0.01, () => {})).toBe(false);
    const end = (t: number): Float64Array | undefined => (t === 1 ? undefined : joints(t));
    expect(follow(machine, joints(0), end, line, 0.01, () => {})).toBe(false);
  });
});

describe('part line (40,0) to (40,10), C 0 to 30 deg', () => {
  it.each([
    [1, 2.65714],
    [2, 0.66852],
    [4, 0.1674],
    [8, 0.04187],
  ])('%d pieces leave it by %d mm', (count, expected) => {
    let most = 0;
    for (let k = 0; k < count; k++) {
      const [ta, tb] = [k / count, (k + 1) / count];
      most = Math.max(most, deviation(joints(ta), joints(tb)));
    }
    // The printed values are rounded to five places.
    expect(Math.abs(most - expected)).toBeLessThan(2e-5);
  });

  it('followed with .01 mm it never leaves it by more', () => {
    const ends: [Float64Array, number][] = [[joints(0), 0]];
    const ok = follow(machine, joints(0), joints, line, 0.01, (j, t) => ends.push([j, t]));
    expect(ok).toBe(true);
    expect(ends.at(-1)![1]).toBe(1);
    for (let k = 1; k < ends.length; k++) {
      expect(deviation(ends[k - 1]![0], ends[k]![0])).toBeLessThan(0.0101);
    }
    // Error falls by four with each halving: 2.657 / 4^4 = .0104 is just too much, 4^5 is enough.
    expect(ends.length - 1).toBe(32);
  });
});

describe('waves whose middle and ends lie on the chord: y = 0.5 sin(2 pi t), half of it or all', () => {
  const waves = [
    ['the first half', 0, 0.5],
    ['the second half', 0.5, 1],
    ['all', 0, 1],
  ] as const;
  const errors = [0.4, 0.05, 0.01, 0.002];
  const cases = waves.flatMap((w) => errors.map((e) => [...w, e] as const));

  it.each(cases)('%s (%d to %d) is followed to within %d mm', (_, first, last, error) => {
    const wave = (t: number): Vec3 => {
      const y = t > first && t < last ? 0.5 * Math.sin(2 * Math.PI * t) : 0;
      return [40 * t, y, 0];
    };
    const start = at(wave(0), 0);
    const ends: [Float64Array, number][] = [[start, 0]];
    const there = (t: number): Float64Array => at(wave(t), 0);
    const ok = follow(machine, start, there, wave, error, (j, t) => ends.push([j, t]));
    expect(ok).toBe(true);
    // With the table still the tip goes along the chord; it is as far off as 400 places say.
    let most = 0;
    for (let k = 1; k < ends.length; k++) {
      const [[a, ta], [b, tb]] = [ends[k - 1]!, ends[k]!];
      for (let i = 0; i <= 400; i++) {
        const tip = forward(machine, between(a, b, i / 400)).tip;
        most = Math.max(most, length(sub(tip, wave(ta + (i / 400) * (tb - ta)))));
      }
    }
    // A parabola is at its quarters three quarters as far from its chord as in its middle.
    expect(most).toBeLessThan(error / 0.75);
    // A sine of height h strays from n equal chords by h pi^2 / 2 n^2 (its curvature over the chord).
    const even = Math.PI * Math.sqrt(0.5 / (2 * error)) * (last - first);
    expect(ends.length - 1).toBeGreaterThan(even / 2);
    expect(ends.length - 1).toBeLessThan(4 * even + 2);
  });
});

it('the tip path under a still head is an arc over the part', () => {
  // Radius 40, a quarter turn: 62.83185 mm.
  const a = at([40, 0, 0], 0);
  const b = Float64Array.from(a);
  b[4] = Math.PI / 2;
  expect(tipLength(machine, a, b)).toBeCloseTo(20 * Math.PI, 3);
});

describe('a stretch along which the rotary joints turn', () => {
  const lay = { kind: MoveKind.deposit, region: 0, layer: 0, pathKind: 0, speed: 30 };
  const link = { ...lay, kind: MoveKind.link, pathKind: NO_PATH };
  it.each([
    ['table-table', acJson],
    ['head-table', headTableJson],
  ])('%s: every block keeps the tip within .02 mm of the straight line', (_, json) => {
    const m = machineOf(json());
    const { first, second } = rotaryPair(m);
    const from: Vec3 = [5, 3, 20];
    const to: Vec3 = [45, -3, 24];
    const ends = [from, to].map((tip, i) => {
      const joints = m.ready.slice();
      joints[first] = i * 50 * DEG;
      joints[second] = (10 + i * 25) * DEG;
      mapInto(linearMap(m, joints)!, ...tip, joints, 0);
      return { joints, turn: [joints[first]!, joints[second]!] as const };
    });
    const blocks = new BlockList(ends[0]!.joints);
    const mover = turningMover(m, blocks, 0.02);
    mover.to(...from, 0, 0, link, ends[0]!.turn);
    mover.to(...to, 0.08, 0.03, lay, ends[1]!.turn);
    const made = blocks.take();
    const count = made.kind.length;
    expect(count).toBeGreaterThan(4);
    const far = Math.hypot(40, 6, 4);
    expect(made.length.reduce((a, b) => a + b, 0)).toBeCloseTo(far, 9);
    expect(made.filament.reduce((a, b) => a + b, 0)).toBeCloseTo(far * 0.03, 9);
    let before = ends[0]!.joints;
    for (let b = 0; b < count; b++) {
      const end = made.joints.slice(5 * b, 5 * b + 5);
      for (let s = 0; s <= 20; s++) {
        const off = sub(forward(m, between(before, end, s / 20)).tip, from);
        const along = (off[0] * 40 - off[1] * 6 + off[2] * 4) / far;
        const line: Vec3 = [(along * 40) / far, (-along * 6) / far, (along * 4) / far];
        expect(length(sub(off, line))).toBeLessThan(0.021);
      }
      before = end;
    }
    expect(length(sub(forward(m, before).tip, to))).toBeLessThan(1e-9);
    expect(mover.jointsAt(to, ends[1]!.turn).every((q, j) => Math.abs(q - before[j]!) < 1e-9)).toBe(
      true,
    );
  });

  it('that stand still one block is enough', () => {
    const blocks = new BlockList(at([1, 2, 3], 0));
    const mover = turningMover(machine, blocks, 0.01);
    mover.to(1, 2, 3, 0, 0, link, [0, 0]);
    mover.to(9, 8, 3, 0.08, 0.03, lay, [0, 0]);
    // 6-8-10
    expect(Array.from(blocks.take().length)).toEqual([10]);
  });
});
