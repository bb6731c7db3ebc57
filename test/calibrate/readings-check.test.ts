/** Readings that cannot be of the plan are refused with what is wrong with them. */
import { describe, expect, it } from 'vitest';
import { checkReadings } from '../../lib/calibrate/readings-check.js';
import { planText } from '../../lib/calibrate/touch-files.js';
import { planTouches } from '../../lib/calibrate/touch-plan.js';
import type { TouchReading } from '../../lib/calibrate/least-squares.js';
import { normally, trueMachine } from '../support/true-machines.js';
import { BALL, FACE, sampleMachine } from './machines.js';

const machine = sampleMachine('table-table-ac');
const plan = planTouches(machine, [FACE, BALL], { touches: 40, noise: 0.02 });
const ball = { kind: 'ball' as const, at: [45, 0, 20] as [number, number, number], diameter: 20 };
const text = planText(plan, [{ kind: 'face' }, ball], 0.02);
const normal = normally(3);
const read = trueMachine('table-table-ac', 7)
  .run(plan.touches, () => 0.02 * normal())
  .filter((t) => t !== undefined);

/** Joints are Z Y X A C. */
const changed = (change: (joints: Float64Array) => number[]): TouchReading[] =>
  read.map((t) => ({ ...t, joints: Float64Array.from(change(t.joints)) }));

describe('readings of a machine with errors to 1 mm and 1 deg', () => {
  it('are taken', () => {
    expect(read).toHaveLength(40);
    expect(() => checkReadings(machine, text, read)).not.toThrow();
  });

  it.each<[string, TouchReading[], RegExp]>([
    [
      'X and Y changed over',
      changed(([z, y, x, a, c]) => [z!, x!, y!, a!, c!]),
      /columns Z, Y, X hold what belongs to Z, X, Y: change them over/,
    ],
    [
      'inches',
      changed(([z, y, x, a, c]) => [z! / 25.4, y! / 25.4, x! / 25.4, a!, c!]),
      /read in inch, the form is in mm: multiply them by 25.4/,
    ],
    [
      'Y with the other sign',
      changed(([z, y, x, a, c]) => [z!, -y!, x!, a!, c!]),
      /Y reads with the other sign/,
    ],
    [
      'another plan',
      read.map((t, i) => ({ ...t, joints: read[(i + 7) % read.length]!.joints })),
      /belong to another plan; give the plan.json/,
    ],
    [
      'one digit wrong in one touch',
      read.map((t, i) =>
        i === 4 ? { ...t, joints: t.joints.map((v, k) => v + (k === 2 ? 10 : 0)) } : t,
      ),
      /touch 5 reads .* mm as planned; .*read it again or leave its cells empty/,
    ],
  ])('%s: refused, and what to do', (_, touches, message) => {
    expect(() => checkReadings(machine, text, touches)).toThrow(message);
  });
});

it.each([
  ['A above 0', ([, , , a]: Float64Array) => a! < 1e-6],
  ['C within 90 of 0', ([, , , , c]: Float64Array) => Math.cos(c!) < 1e-6],
])('readings of which none has %s: refused, and what to do', (side, left) => {
  const some = read.filter(({ joints }) => left(joints));
  expect(some.length).toBeGreaterThan(5);
  expect(() => checkReadings(machine, text, some)).toThrow(
    new RegExp(`none of ${some.length} readings has ${side} deg, .*read some of those touches too`),
  );
});
