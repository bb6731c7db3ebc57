/**
 * The head stands aside of what is printed: of a wall beside the path, with a rod of known length for the head, so that
 * its room is a closed form. Directions of the head come from forward kinematics.
 */
import { describe, expect, test } from 'vitest';
import { DEG, type Vec3, dot, pointAt } from '../../../lib/base/vector.js';
import { forward } from '../../../lib/machine/forward.js';
import { rotaryPair } from '../../../lib/machine/inverse.js';
import type { Machine } from '../../../lib/machine/machine.js';
import type { RoomOf } from '../../../lib/motion/lay/keep-aside.js';
import { leanHead } from '../../../lib/motion/lay/lean-head.js';
import { sampleMachine } from '../../support/jobs.js';
import { pathAlong, tilted } from './directed-paths.js';

const LEAN = 5 * DEG;
/** Length of the rod, mm. */
const ROD = 30;
/** Room that is sought, mm: what keepAside adds to what must be kept. */
const SOUGHT = 0.05;

const directionAt = (machine: Machine, turn: readonly [number, number]): Vec3 => {
  const { first, second } = rotaryPair(machine);
  const joints = machine.ready.slice();
  [joints[first], joints[second]] = turn;
  return forward(machine, joints).direction;
};

/** Room between the end of the rod and a wall that stands so far off along x, mm; what is beyond 4 mm is enough. */
const besideWall =
  (machine: Machine, wallAt: (tip: Vec3) => number): RoomOf =>
  (_, tip, turn) => {
    const room = wallAt(tip) - ROD * directionAt(machine, turn)[0];
    return room > 4 ? Infinity : room;
  };

describe.each(['table-table-ac', 'table-table-bc', 'head-table'])('%s', (name) => {
  const machine = sampleMachine(name);
  // The growth leans by 20 deg towards the wall and swings by 30 deg about that.
  const grown = pathAlong(
    Array.from({ length: 120 }, (_, k) => tilted(20 * DEG, 30 * DEG * Math.sin(k / 15))),
  );
  const headsWith = (room?: RoomOf): Vec3[] => {
    const { pairs } = leanHead(machine, grown, 0, 1, LEAN, machine.ready, room);
    return Array.from({ length: pairs.length / 2 }, (_, k) =>
      directionAt(machine, [pairs[2 * k]!, pairs[2 * k + 1]!]),
    );
  };
  const along = (k: number): number => pointAt(grown.directions!, k)[0];

  test('clear of a wall that the lean lets it clear, and no farther from the growth than that', () => {
    // The wall takes up to 3 deg of lean, fading to nothing at the ends of the path.
    const closeness = (x: number): number => Math.sin((Math.PI * x) / 119) ** 2;
    const wall = ([x]: Vec3): number => ROD * (along(Math.round(x)) + 0.05 - 0.1 * closeness(x));
    const lack = (d: Vec3, k: number): number => ROD * d[0] - wall([k, 0, 0]);
    const [free, kept] = [headsWith(), headsWith(besideWall(machine, wall))];
    expect(Math.max(...free.map(lack))).toBeGreaterThan(1);
    kept.forEach((d, k) => {
      // Between two places the room is interpolated.
      expect(lack(d, k)).toBeLessThan(-SOUGHT + 0.05);
      expect(Math.acos(dot(d, pointAt(grown.directions!, k)))).toBeLessThan(LEAN + 1e-6);
    });
  });

  test('farther than the lean from a wall that asks for more, as far as that and up to 15 deg', () => {
    // All ways to the wall: 9 deg away from it, and far more than can be had.
    for (const [away, least, most] of [
      [Math.sin(9 * DEG), 8, 13],
      [0.5, 14, 16],
    ] as const) {
      const wall = ([x]: Vec3): number => ROD * (along(Math.round(x)) - away);
      headsWith(besideWall(machine, wall)).forEach((d, k) => {
        const growth = pointAt(grown.directions!, k);
        expect(d[0]).toBeLessThan(growth[0]);
        const lean = Math.acos(dot(d, growth)) / DEG;
        expect(lean).toBeGreaterThan(least);
        expect(lean).toBeLessThan(most);
      });
    }
  });

  test('just as without one that is far off', () => {
    expect(headsWith(besideWall(machine, () => ROD + 10))).toEqual(headsWith());
  });
});
