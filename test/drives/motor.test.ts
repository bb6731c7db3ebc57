import { describe, expect, it } from 'vitest';
import { beltGive } from '../../lib/machine/belt.js';
import { bestRatio, sharingOf, stepOf, torqueAt } from '../../lib/drives/motor.js';
import { DEG } from '../../lib/base/vector.js';
import { drives, machineWith } from './machines.js';

/** Of a load JL with TL over a ratio N, driven by a motor JM with TM: (N TM - TL) / (JL + N^2 JM), rad/s2. */
const accelerationAt = (n: number, jl: number, jm: number, tl: number, tm: number): number =>
  (n * tm - tl) / (jl + n * n * jm);

describe('ratio', () => {
  it('reflects an inertia by its square: 0.02 kg m2 over 20 is 5e-5', () => {
    const { loads } = sharingOf(machineWith(), machineWith().drives!);
    const a = 3; // joint A, after X Y Z
    expect(0.02 * loads[3]![a]! ** 2).toBeCloseTo(5e-5, 15);
  });

  // sqrt(JL / JM), ASME J. Fluids Eng. 76(3) 493; values computed from the formula.
  it('for greatest acceleration is sqrt(JL / JM): 0.02 over 5.7e-6 gives 59.23489, 444.26166 rad/s2', () => {
    const n = bestRatio(0.02, 5.7e-6);
    expect(n).toBeCloseTo(59.23489, 5);
    expect(accelerationAt(n, 0.02, 5.7e-6, 0, 0.3)).toBeCloseTo(444.26166, 4);
  });

  it('with a steady load of 1.176798 N m is 63.28729, 415.81477 rad/s2, and no other is better', () => {
    const n = bestRatio(0.02, 5.7e-6, 1.176798, 0.3);
    const at = (r: number): number => accelerationAt(r, 0.02, 5.7e-6, 1.176798, 0.3);
    expect(n).toBeCloseTo(63.28729, 5);
    expect(at(n)).toBeCloseTo(415.81477, 4);
    for (const off of [0.9, 0.99, 1.01, 1.1]) expect(at(n * off)).toBeLessThan(at(n));
  });
});

describe('step', () => {
  // 200 full steps x 16 over 20: 0.005625 deg; at 100 mm 0.00981748 mm, a full step 0.15707963 mm.
  it('at a radius of 100 mm', () => {
    const motor = machineWith().drives!.motors[0]!;
    expect(stepOf(motor, 16)! / 20 / DEG).toBeCloseTo(0.005625, 12);
    expect((stepOf(motor, 16)! / 20) * 100).toBeCloseTo(0.00981748, 8);
    expect((stepOf(motor, 1)! / 20) * 100).toBeCloseTo(0.15707963, 8);
  });

  // 200 x 16 steps over 20 teeth x 2 mm: 80 a mm; over a lead of 8 mm: 400 a mm.
  it('of linear joints', () => {
    const machine = machineWith({
      drives: [
        { name: 'x', motor: 'm', lead: { X: 40 }, by: 'belt' },
        { name: 'y', motor: 'm', lead: { Y: 40 }, by: 'belt' },
        ...drives().drives.slice(2),
      ],
    });
    const [x, , z] = machine.drives!.drives;
    const step = stepOf(machine.drives!.motors[0]!, 16)!;
    expect(x!.turns[machine.joints.findIndex((j) => j.letter === 'X')]! / 1000 / step).toBeCloseTo(
      80,
      9,
    );
    expect(z!.turns[machine.joints.findIndex((j) => j.letter === 'Z')]! / 1000 / step).toBeCloseTo(
      400,
      9,
    );
  });
});

describe('belt', () => {
  // A pulley of 120 teeth, 2 mm pitch: diameter z p / pi = 76.39437 mm (Gates Mectrol, Timing Belt Theory, eq. 1).
  // Two spans k = EA / L in parallel; EA 10 kN (a guess), 100 mm, 1.2 N m at 38.19719 mm: closed form.
  it('gives as two springs: 31.41592 N, 0.15707958 mm, 0.23561928 deg, 0.32898658 mm at 80 mm', () => {
    const give = beltGive(1.2, 76.39437 / 2, 10000, 100);
    expect(give.tension).toBeCloseTo(31.41593, 4);
    expect(give.stretch).toBeCloseTo(0.1570796, 6);
    expect(give.turn / DEG).toBeCloseTo(0.2356194, 6);
    expect(give.turn * 80).toBeCloseTo(0.3289868, 6);
    expect(1.2 / give.turn).toBeCloseTo(291.805, 2);
  });
});

describe('curve', () => {
  it('runs straight between its points and ends', () => {
    const motor = machineWith().drives!.motors[0]!;
    const rpm = (2 * Math.PI) / 60;
    expect(torqueAt(motor, 150 * rpm)).toBeCloseTo(0.3, 12);
    expect(torqueAt(motor, -900 * rpm)).toBeCloseTo(0.15, 12);
    expect(torqueAt(motor, 1501 * rpm)).toBe(0);
  });
});

describe('two motors on one belt', () => {
  // m0 = x + y, m1 = x - y: by virtual work a force F along X asks F p / 2 of each, p mm a radian.
  it('share a force along X evenly, and one along both goes to the first alone', () => {
    const { loads } = sharingOf(machineWith(), machineWith().drives!);
    const perRadian = 0.04 / (2 * Math.PI);
    for (const d of [0, 1]) expect(Math.abs(loads[d]![0]!)).toBeCloseTo(perRadian / 2, 12);
    expect(loads[0]![0]! + loads[0]![1]!).toBeCloseTo(perRadian, 12);
    expect(loads[1]![0]! + loads[1]![1]!).toBeCloseTo(0, 12);
  });
});
