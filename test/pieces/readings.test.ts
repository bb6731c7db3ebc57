/**
 * Readings against the machine itself: joints planned on the file's machine are run forward on one
 * whose axes are off; what the pieces would show gives the errors back.
 */
import { readFileSync } from 'node:fs';
import { expect, it } from 'vitest';
import { DEG, type Vec3, add, dot, sub } from '../../lib/base/vector.js';
import { forward } from '../../lib/machine/forward.js';
import type { Joint, Machine } from '../../lib/machine/machine.js';
import { readMachine } from '../../lib/machine/read-files.js';
import { PIECE_TILT, layoutOf } from '../../lib/pieces/layout.js';
import { cross, ladder, ring } from '../../lib/pieces/readings.js';

const names = ['table-table-ac', 'table-table-bc', 'head-table'];
const machineOf = (name: string): Machine =>
  readMachine(JSON.parse(readFileSync(`samples/machines/${name}.json`, 'utf8')));

/** The build direction in the part at tilt a and table angle t. */
function direction(machine: Machine, a: number, t: number): Vec3 {
  const { tilt, turn } = layoutOf(machine);
  const q = machine.joints.map((j) => (j === tilt ? a : j === turn ? t : 0));
  return forward(machine, q).direction;
}

/** Where the nozzle truly lands for p, its joints planned on the file at tilt a and table angle t. */
function landed(file: Machine, p: Vec3, a: number, t: number, truth: Machine, late = 0): Vec3 {
  const { tilt, turn } = layoutOf(file);
  const i = file.joints.indexOf(tilt);
  const k = file.joints.indexOf(turn);
  const tip = p;
  const at = file.joints.map((j) => (j === tilt ? a : j === turn ? t : 0));
  // Linear joints by Newton steps: the tip is linear in them.
  const linear = file.joints.flatMap((j, n) => (j.kind === 'linear' ? [n] : []));
  for (let round = 0; round < 3; round++) {
    const here = forward(file, at).tip;
    const off = sub(tip, here);
    const columns = linear.map((n) => {
      const more = [...at];
      more[n]! += 1;
      return sub(forward(file, more).tip, here);
    });
    // The columns are square to one another on the sample machines.
    linear.forEach((n, c) => (at[n]! += dot(off, columns[c]!) / dot(columns[c]!, columns[c]!)));
  }
  expect(Math.hypot(...sub(forward(file, at).tip, p))).toBeLessThan(1e-9);
  expect([i, k].every((n) => n >= 0)).toBe(true);
  at[i]! += late;
  return forward(truth, at).tip;
}

const withJoint = (machine: Machine, joint: Joint, change: Partial<Joint>): Machine => ({
  ...machine,
  joints: machine.joints.map((j) => (j === joint ? { ...j, ...change } : j)),
});

it.each(names)('the cross gives the tilt axis back on %s', (name) => {
  const file = machineOf(name);
  const { tilt, lean } = layoutOf(file);
  const v: Vec3 = [Math.cos(lean), Math.sin(lean), 0];
  const [dv, dz] = [0.31, -0.17];
  const point = add(tilt.point, [dv * v[0], dv * v[1], dz]);
  const truth = withJoint(file, tilt, { point });
  const a = PIECE_TILT * DEG;
  const read = ([1, -1] as const).map((side) => {
    const p: Vec3 = [side * 15 * v[0], side * 15 * v[1], 12];
    const off = sub(landed(file, p, side * a, 0, truth), p);
    const s = Math.sin(a);
    const c = Math.cos(a);
    return {
      n: dot(off, [side * s * v[0], side * s * v[1], c]),
      t: dot(off, [-side * c * v[0], -side * c * v[1], s]),
    };
  });
  const found = cross(read[0]!, read[1]!, a);
  expect(found.v).toBeCloseTo(dv, 9);
  expect(found.z).toBeCloseTo(dz, 9);
});

it.each(names.slice(0, 2))('the ladder gives play and zero back on %s', (name) => {
  const file = machineOf(name);
  const { lean } = layoutOf(file);
  const v: Vec3 = [Math.cos(lean), Math.sin(lean), 0];
  const a = PIECE_TILT * DEG;
  const [play, zero] = [0.4 * DEG, 0.1 * DEG];
  const slopes = ([1, -1] as const).map((side) => {
    const late = zero - (side * play) / 2;
    const d = direction(file, side * a, 0);
    // Height lost between two rungs, 20 mm apart along the slope towards the ridge.
    const up: Vec3 = [-side * Math.cos(a) * v[0], -side * Math.cos(a) * v[1], Math.sin(a)];
    const foot: Vec3 = [side * 30 * v[0], side * 30 * v[1], 5];
    const ends = [0, 20].map((s) => {
      const p = add(foot, [s * up[0], s * up[1], s * up[2]]);
      return dot(sub(landed(file, p, side * a, 0, file, late), p), d);
    });
    return (ends[0]! - ends[1]!) / 20;
  });
  const found = ladder(slopes[0]!, slopes[1]!);
  // First order in the angles.
  expect(Math.abs(found.play / play - 1)).toBeLessThan(0.01);
  expect(Math.abs(found.zero / zero - 1)).toBeLessThan(0.02);
});

it.each(names)('the ring gives run-out and centre back on %s', (name) => {
  const file = machineOf(name);
  const { turn, lean, sense } = layoutOf(file);
  const e: Vec3 = [0.21, -0.13, 0];
  const runOut = [0.08, -0.05] as const;
  const truth = withJoint(file, turn, { point: add(turn.point, e), runOut });
  const lugs = [0, 1, 2, 3].map((k) => {
    const azimuth = lean - (sense * k * Math.PI) / 2;
    const out: Vec3 = [Math.cos(azimuth), Math.sin(azimuth), 0];
    const p: Vec3 = [30 * out[0], 30 * out[1], 28];
    const d = direction(file, PIECE_TILT * DEG, (k * Math.PI) / 2);
    expect(dot(d, out)).toBeCloseTo(Math.sin(PIECE_TILT * DEG), 9);
    const q = landed(file, p, PIECE_TILT * DEG, (k * Math.PI) / 2, truth);
    return { h: q[2], r: dot(q, out) };
  });
  const four = (key: 'h' | 'r') =>
    lugs.map((l) => l[key]) as unknown as [number, number, number, number];
  const found = ring(four('h'), four('r'), sense);
  const v: Vec3 = [Math.cos(lean), Math.sin(lean), 0];
  const w: Vec3 = [-v[1], v[0], 0];
  expect(found.runOut[0]).toBeCloseTo(runOut[0], 9);
  expect(found.runOut[1]).toBeCloseTo(runOut[1], 9);
  expect(found.v).toBeCloseTo(dot(e, v), 9);
  expect(found.w).toBeCloseTo(dot(e, w), 9);
});
