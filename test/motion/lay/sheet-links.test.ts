/** Where the head swings on a link, by the turns of directions about the axes of the joints (Rodrigues' formula by hand). */
import { describe, expect, it } from 'vitest';
import { DEG, type Vec3 } from '../../../lib/base/vector.js';
import { forward } from '../../../lib/machine/forward.js';
import { rotaryPair } from '../../../lib/machine/inverse.js';
import { lacksRoom, swings } from '../../../lib/motion/lay/sheet-links.js';
import { sampleMachine } from '../../support/jobs.js';

const machine = sampleMachine('table-table-bc');
const { first, second } = rotaryPair(machine);

/** An end of a link with the head along the growth. */
function end(turn: readonly [number, number]): { tip: Vec3; up: Vec3; turn: typeof turn } {
  const joints = machine.ready.slice();
  joints[first] = turn[0];
  joints[second] = turn[1];
  return { tip: [0, 0, 5], up: forward(machine, joints).direction, turn };
}

const swung = (from: readonly [number, number], to: readonly [number, number]): boolean =>
  swings(machine, machine.ready, end(from), end(to));

describe('on a link inside a sheet the head', () => {
  it('swings away where the table is wound back by a turn: by twice the tilt', () => {
    expect(swung([0, 10 * DEG], [2 * Math.PI, 10 * DEG])).toBe(true);
    // Twice 7 deg is less than the 15 deg that count.
    expect(swung([0, 7 * DEG], [2 * Math.PI, 7 * DEG])).toBe(false);
  });

  it('swings away where it goes over to the other side of the tilt: by the tilt', () => {
    expect(swung([0, 20 * DEG], [Math.PI, -20 * DEG])).toBe(true);
    expect(swung([0, 14 * DEG], [Math.PI, -14 * DEG])).toBe(false);
  });

  it('keeps to the growth where both go the same way', () => {
    expect(swung([0, 30 * DEG], [20 * DEG, 40 * DEG])).toBe(false);
    expect(swung([1, 0.5], [1, 0.5])).toBe(false);
  });
});

describe('a link inside a sheet', () => {
  const place = (x: number): { tip: Vec3; turn: readonly [number, number] } => ({
    tip: [x, 0, 5],
    turn: [x / 10, 0],
  });
  // A post of 0.6 mm beside the way, in the way of a head that has turned as far as it has at that place.
  const post =
    (at: number) =>
    (path: number, [x]: Vec3, [q]: readonly [number, number]): number =>
      path === 7 && Math.abs(x - at) < 0.3 && Math.abs(q - at / 10) < 0.03 ? -0.1 : 0.1;

  it.each([0.7, 3, 6.6, 9.5])('lacks room at a post %f mm along it', (at) => {
    expect(lacksRoom(7, [place(0), place(4), place(10)], post(at))).toBe(true);
  });

  it('has room beside one that is farther along, and where the post stands at its end', () => {
    expect(lacksRoom(7, [place(0), place(4), place(10)], post(11))).toBe(false);
    // The ends are those of beads, which the head has laid and is about to lay.
    expect(lacksRoom(7, [place(0), place(0.1)], post(0.1))).toBe(false);
  });
});
