/**
 * Steps too small for the decimals of a program: points that all but coincide are passed over, the way
 * over those that stay keeps near to all of them. Lengths are closed forms of the planted figure.
 */
import { describe, expect, it } from 'vitest';
import { type Vec3, length, sub } from '../../lib/base/vector.js';
import { forward } from '../../lib/machine/forward.js';
import { MoveKind } from '../../lib/motion/motion.js';
import { Link, PathKind } from '../../lib/paths/paths.js';
import { acJson, machineOf } from '../machine/machines.js';
import { boxJob, plannedBoxes } from './jobs.js';

const machine = machineOf(acJson());
const UP: Vec3 = [0, 0, 1];
const Z = 0.2;
/** 0.5 mm of radius in chords of half a micrometre, then 9 mm straight on; a stub before its end. */
const curve: Vec3[] = Array.from({ length: 1572 }, (_, i) => {
  const a = ((Math.PI / 2) * i) / 1571;
  return [0.5 * Math.sin(a), 0.5 - 0.5 * Math.cos(a), Z];
});
const first: Vec3[] = [...curve, [0.5, 9.4988, Z], [0.5, 9.4993, Z], [0.5, 9.5, Z]];
// The next begins a tenth of a micrometre from there, with twin points at its corner.
const second: Vec3[] = [
  [0.5001, 9.5, Z],
  [-5, 9.5, Z],
  [-5, 9.4988, Z],
  [-5, 0, Z],
];
const box = boxJob([-10, -10, 0], [10, 10, Z], UP);
const n = first.length + second.length;
const { motion } = plannedBoxes(
  machine,
  [
    {
      ...box,
      paths: {
        ...box.paths,
        points: Float64Array.from([...first, ...second].flat()),
        width: new Float64Array(n).fill(0.45),
        height: new Float64Array(n).fill(Z),
        start: Uint32Array.of(0, first.length, n),
        kind: Uint8Array.of(PathKind.contour, PathKind.contour),
        layer: new Uint32Array(2),
        flowFactor: Float64Array.of(1, 1),
        link: Uint8Array.of(Link.lifted, Link.inside),
        linkStart: new Uint32Array(3),
      },
    },
  ],
  {},
);

describe('points that all but coincide', () => {
  const c = motion.jointCount;
  const tipAt = (b: number): Vec3 =>
    forward(machine, motion.joints.subarray(b * c, (b + 1) * c)).tip;
  const laid = [...motion.kind.keys()].filter((b) => motion.kind[b] === MoveKind.deposit);
  const tips = [tipAt(laid[0]! - 1), ...laid.map(tipAt)];

  it('no step is shorter than 2 micrometres, and no link joins what joins already', () => {
    const before = laid.slice(1).filter((b) => motion.kind[b - 1] !== MoveKind.deposit);
    expect(before).toEqual([]);
    for (let i = 1; i < tips.length; i++) {
      expect(length(sub(tips[i]!, tips[i - 1]!))).toBeGreaterThan(0.002 - 1e-9);
    }
  });

  it('no point of the paths lies further than that from the way, their ends on it', () => {
    const off = (p: Vec3): number =>
      Math.min(...tips.slice(1).map((q, i) => toSegment(p, tips[i]!, q)));
    const far = [...first, ...second].map(off);
    expect(Math.max(...far)).toBeLessThan(0.002);
    expect(far[first.length - 1]).toBeLessThan(1e-9);
    expect(far[n - 1]).toBeLessThan(1e-9);
  });

  it('as much is laid as the figure is long: pi / 4 + 9 + 5.5 + 9.5 mm', () => {
    // Bead .45 x .2 as a stadium, 1.75 mm filament: .0338488 mm for each mm of path.
    const metered = laid.reduce((sum, b) => sum + motion.filament[b]!, 0);
    expect(metered / (Math.PI / 4 + 24) / 0.0338488).toBeCloseTo(1, 4);
  });
});

function toSegment(p: Vec3, a: Vec3, b: Vec3): number {
  const [u, v] = [sub(p, a), sub(b, a)];
  const square = v[0] ** 2 + v[1] ** 2 + v[2] ** 2;
  const t = Math.min(1, Math.max(0, (u[0] * v[0] + u[1] * v[1] + u[2] * v[2]) / square));
  return Math.hypot(u[0] - t * v[0], u[1] - t * v[1], u[2] - t * v[2]);
}
