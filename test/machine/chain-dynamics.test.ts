import { describe, expect, it } from 'vitest';
import { seeded } from '../../lib/base/random.js';
import { ChainDynamics } from '../../lib/machine/chain-dynamics.js';
import { GrowingMass, joined, solidMass } from '../../lib/machine/mass.js';
import { DEG } from '../../lib/base/vector.js';
import { machineWith } from '../drives/machines.js';

const cube = (x: number, y: number, z: number, half = 1) => ({
  shape: 'box' as const,
  from: [x - half, y - half, z - half] as [number, number, number],
  to: [x + half, y + half, z + half] as [number, number, number],
});

/** The table side alone: joints A and C. */
const table = (bodies: NonNullable<Parameters<typeof machineWith>[0]>['bodies']) =>
  new ChainDynamics(machineWith({ bodies: bodies ?? [] }), true);

describe('a cradle as a pendulum', () => {
  // m g (y cos t - z sin t), closed form; 3 kg at 40 mm, level, g = 9.80665 m/s2: 1.176798 N m.
  it('holds 3 kg at 40 mm with 1.176798 N m', () => {
    const chain = table([{ name: 'b', carriedBy: 'A', mass: 3, solid: cube(0, 40, 0) }]);
    chain.pose([0, 0]);
    chain.load([0, 0], [0, 0]);
    expect(Math.abs(chain.torque[0]! / 1.176798 - 1)).toBeLessThan(1e-6);
  });

  it.each([-70, -30, 10, 45, 90])('follows m g (y cos t - z sin t) at %i deg', (deg) => {
    const chain = table([{ name: 'b', carriedBy: 'A', mass: 3, solid: cube(0, 40, -25) }]);
    const t = deg * DEG;
    chain.pose([t, 1]);
    chain.load([0, 0], [0, 0]);
    const closed = 3 * 9.80665 * (0.04 * Math.cos(t) + 0.025 * Math.sin(t));
    expect(chain.torque[0]).toBeCloseTo(closed, 10);
    // Gravity turns nothing about an upright axis; here C has tilted with the cradle but carries nothing.
    expect(chain.torque[1]).toBeCloseTo(0, 12);
  });
});

describe('a disc', () => {
  // m r2 / 2: aluminium 2700 kg/m3, diameter 200, 6 thick: 0.508938 kg, 2.544690e-3 kg m2.
  const mass = 2700 * Math.PI * 0.1 ** 2 * 0.006;
  const solid = {
    shape: 'cylinder' as const,
    from: [0, 0, -6] as [number, number, number],
    to: [0, 0, 0] as [number, number, number],
    radius: 100,
  };

  it('weighs 0.508938 kg and turns as 2.544690e-3 kg m2', () => {
    expect(mass).toBeCloseTo(0.508938, 6);
    expect(solidMass(solid, mass).inertia[2]).toBeCloseTo(2.54469e-3, 8);
  });

  it('needs J alpha to spin up', () => {
    const chain = table([{ name: 'disc', carriedBy: 'C', mass, solid }]);
    chain.pose([0, 0.3]);
    chain.load([0, 2], [0, 50]);
    expect(chain.torque[1]! / (2.54469e-3 * 50)).toBeCloseTo(1, 6);
  });

  it('tilts as m (3 r2 + h2) / 12 + m d2, the parallel-axis theorem', () => {
    const chain = table([{ name: 'disc', carriedBy: 'C', mass, solid }]);
    chain.pose([0, 0]);
    const closed = (mass * (3 * 0.1 ** 2 + 0.006 ** 2)) / 12 + mass * 0.003 ** 2;
    expect(chain.atRest().inertias[0]).toBeCloseTo(closed, 12);
  });

  it('answers a tilt while it spins with the gyroscopic moment: none about its own axis', () => {
    // Euler's equations for a symmetric body: (Ixx - Iyy) wx wy = 0 about the spin axis.
    const chain = table([{ name: 'disc', carriedBy: 'C', mass, solid }]);
    chain.pose([0.4, 1.1]);
    chain.load([3, 40], [0, 0]);
    expect(chain.torque[1]).toBeCloseTo(0, 12);
  });
});

describe('power', () => {
  // Law of energy: what the joints give is what motion and height gain. Difference quotient in time.
  it('equals the gain of energy for random bodies and motions, seed 11', () => {
    const next = seeded(11);
    const r = (span: number) => (next() - 0.5) * 2 * span;
    for (let round = 0; round < 40; round++) {
      const chain = table([
        { name: 'a', carriedBy: 'A', mass: 0.5 + next(), solid: cube(r(80), r(80), r(80), 20) },
        { name: 'b', carriedBy: 'C', mass: 0.5 + next(), solid: cube(r(80), r(80), r(80), 30) },
        {
          name: 'c',
          carriedBy: 'C',
          mass: 0.2,
          solid: { shape: 'cylinder', from: [r(50), r(50), 0], to: [r(50), r(50), 60], radius: 9 },
        },
      ]);
      const q = [r(2), r(3)];
      const v = [r(4), r(8)];
      const a = [r(20), r(30)];
      const energy = (t: number): number => {
        chain.pose(q.map((x, i) => x + v[i]! * t + (a[i]! * t * t) / 2));
        chain.load(
          v.map((x, i) => x + a[i]! * t),
          a,
        );
        return chain.kinetic() + chain.potential();
      };
      const dt = 1e-5;
      const gain = (energy(dt) - energy(-dt)) / (2 * dt);
      energy(0);
      const power = chain.torque[0]! * v[0]! + chain.torque[1]! * v[1]!;
      expect(Math.abs(power - gain)).toBeLessThan(1e-6 * (1 + Math.abs(gain)));
    }
  });
});

describe('a part that grows', () => {
  it('has the mass, centre and inertia of the box whose beads were laid', () => {
    // Box 40 x 30 x 10 mm, 12 g: m (b2 + c2) / 12 about its centre, laid as 100 x 100 rods along X.
    const growth = new GrowingMass();
    const n = 100;
    for (let i = 0; i < n; i++) {
      for (let k = 0; k < n; k++) {
        const y = 0.01 + (0.03 * (i + 0.5)) / n;
        const z = (0.01 * (k + 0.5)) / n;
        growth.add(0.012 / n / n, [0.02, y, z], [0.06, y, z]);
      }
    }
    const { kg, centre, inertia } = growth.mass();
    const box = solidMass({ shape: 'box', from: [20, 10, 0], to: [60, 40, 10] }, 0.012);
    expect(kg).toBeCloseTo(0.012, 12);
    centre.forEach((c, i) => expect(c).toBeCloseTo(box.centre[i]!, 10));
    expect(inertia[0] / ((0.012 * (0.03 ** 2 + 0.01 ** 2)) / 12)).toBeCloseTo(1, 3);
    expect(inertia[1] / ((0.012 * (0.04 ** 2 + 0.01 ** 2)) / 12)).toBeCloseTo(1, 3);
    expect(inertia[3]).toBeCloseTo(0, 12);
  });

  it('adds up like halves of a box', () => {
    const left = solidMass({ shape: 'box', from: [0, 0, 0], to: [10, 20, 30] }, 1);
    const right = solidMass({ shape: 'box', from: [10, 0, 0], to: [40, 20, 30] }, 3);
    const whole = solidMass({ shape: 'box', from: [0, 0, 0], to: [40, 20, 30] }, 4);
    const sum = joined(left, right);
    sum.inertia.forEach((v, i) => expect(v).toBeCloseTo(whole.inertia[i]!, 12));
    sum.centre.forEach((v, i) => expect(v).toBeCloseTo(whole.centre[i]!, 12));
  });
});
