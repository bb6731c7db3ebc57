import { describe, expect, it } from 'vitest';
import { DEG } from '../../lib/base/vector.js';
import { findingsOf } from '../../lib/drives/findings.js';
import type { JointPath } from '../../lib/drives/job-path.js';
import { type Study, studyDrives } from '../../lib/drives/study.js';
import { acJson, machineOf } from '../machine/machines.js';
import { type DrivesJson, drives, machineWith } from './machines.js';

/** One move of joint C (the last of X Y Z A C) or A, deg, then a pause, s. */
function moves(letter: 'A' | 'C', stops: number[], pause = 0): JointPath {
  const joints: number[] = [];
  const least: number[] = [];
  for (const deg of stops) {
    const q = [0, 0, 0, 0, 0];
    q[letter === 'A' ? 3 : 4] = deg * DEG;
    joints.push(...q);
    least.push(0);
    if (pause > 0) {
      joints.push(...q);
      least.push(pause);
    }
  }
  const way = { jointCount: 5, from: new Float64Array(5), joints: Float64Array.from(joints) };
  return {
    ...way,
    filament: new Float64Array(least.length),
    line: Uint32Array.from(least, (_, i) => i + 1),
    counts: 'block',
    free: true,
    start: Uint32Array.from({ length: least.length + 1 }, (_, i) => i),
    runs: way,
    least: Float64Array.from(least),
  };
}

const options = { density: 1.24, deviation: 0.05, sweep: true };
const study = (path: JointPath, change: Partial<DrivesJson>): Study =>
  studyDrives(path, machineWith(change), options);

const MASS = 0.508938;
const INERTIA = 2.54469e-3;
const disc: DrivesJson['bodies'][number] = {
  name: 'disc',
  carriedBy: 'C',
  mass: MASS,
  solid: { shape: 'cylinder', from: [0, 0, -6], to: [0, 0, 0], radius: 100 },
};

describe('a disc that spins up and stops', () => {
  // Joint C: 90 deg/s, 600 deg/s2. 90 deg: ramps of 0.15 s, 1.15 s in all.
  const speed = 90 * DEG;
  const acceleration = 600 * DEG;
  const ramp = speed / acceleration;
  const total = (90 * DEG) / speed + ramp;

  it('needs J alpha at most, and a root mean square of J alpha sqrt(2 ta / T)', () => {
    const { loads } = study(moves('C', [90]), { bodies: [disc] }).joints[4]!;
    expect(Math.abs(loads.peak) / (INERTIA * acceleration)).toBeCloseTo(1, 4);
    expect(loads.speed / speed).toBeCloseTo(1, 6);
    const closed = INERTIA * acceleration * Math.sqrt((2 * ramp) / total);
    expect(Math.abs(loads.rms / closed - 1)).toBeLessThan(1e-3);
  });

  it('with dry friction f: sqrt(((Ja + f)2 ta + f2 tc + (Ja - f)2 ta) / T)', () => {
    const f = 0.02;
    const { loads } = study(moves('C', [90]), {
      bodies: [disc],
      joints: { C: { friction: f } },
    }).joints[4]!;
    const t = INERTIA * acceleration;
    const closed = Math.sqrt(
      ((t + f) ** 2 * ramp + f ** 2 * (total - 2 * ramp) + (t - f) ** 2 * ramp) / total,
    );
    expect(Math.abs(loads.rms / closed - 1)).toBeLessThan(1e-3);
  });

  it('asks its motor for J alpha / N + JM N alpha, and friction over the efficiency', () => {
    const [, , , , turn] = drives().drives;
    const change = {
      bodies: [disc],
      drives: [...drives().drives.slice(0, 4), { ...turn!, efficiency: 0.8 }],
    };
    const { loads } = study(moves('C', [90]), change).drives[4]!;
    const closed = (INERTIA * acceleration) / 20 / 0.8 + 57e-7 * 20 * acceleration;
    expect(Math.abs(loads.peak / closed - 1)).toBeLessThan(1e-3);
    // 90 deg/s times 20 is 300 rpm, where the curve still has its 0.3 N m.
    expect(Math.abs(loads.reserve / (0.3 / closed) - 1)).toBeLessThan(1e-3);
  });

  it('names itself as what sets the pace, and what doubling it gains', () => {
    const s = study(moves('C', [90]), { bodies: [disc] });
    expect(s.joints[s.pacesetter]!.letter).toBe('C');
    // Doubled: 180 deg/s, 1200 deg/s2: 0.5 + 0.15 s.
    expect(s.gain).toBeCloseTo(total - 0.65, 6);
    expect(s.joints[4]!.share).toBeCloseTo(1, 6);
  });
});

describe('a cradle', () => {
  const weight: DrivesJson['bodies'][number] = {
    name: 'weight',
    carriedBy: 'A',
    mass: 3,
    solid: { shape: 'box', from: [-1, 39, -1], to: [1, 41, 1] },
  };

  it('is held with 1.176798 N m where it stands level, over N at the motor', () => {
    // m g y, closed form.
    const s = study(moves('A', [10, 0], 5), { bodies: [weight] });
    expect(Math.abs(s.joints[3]!.loads.standing / 1.176798 - 1)).toBeLessThan(1e-3);
    expect(Math.abs(s.drives[3]!.loads.holding / (1.176798 / 20) - 1)).toBeLessThan(1e-3);
  });

  it('falls from level to the far side when nothing holds, with the speed of the drop', () => {
    const s = study(moves('A', [10, 0], 5), {
      bodies: [weight],
      motors: [{ ...drives().motors[0]!, detent: 0 }],
    });
    const { fall } = s.joints[3]!;
    expect(fall.falls).toBe(true);
    // From level the weight falls by its lever: m g r = J w2 / 2, J = m r2 + box + JM N2; a quarter turn.
    const inertia = 3 * 0.04 ** 2 + (3 * (2 * 0.002 ** 2)) / 12 + 57e-7 * 400;
    const closed = Math.sqrt((2 * 3 * 9.80665 * 0.04) / inertia);
    expect(Math.abs(fall.speed / closed - 1)).toBeLessThan(1e-3);
    // Travel ends at -120 deg, which lies before the other level at -180.
    expect(fall.toEnd).toBe(true);
    expect(fall.way / DEG).toBeCloseTo(120, 6);
  });

  it.each([
    ['a brake of 1.2 N m', false, { joints: { A: { brake: 1.2 } } }],
    ['a brake of 1.1 N m', true, { joints: { A: { brake: 1.1 } } }],
    ['friction of 1.2 N m', false, { joints: { A: { friction: 1.2 } } }],
    // 0.01 N m over a ratio of 20 hold 0.2 N m; 0.06 hold 1.2.
    ['a detent of 0.01 N m', true, { motors: [{ ...drives().motors[0]!, detent: 0.01 }] }],
    ['a detent of 0.06 N m', false, { motors: [{ ...drives().motors[0]!, detent: 0.06 }] }],
  ])('with %s at 1.1768 N m of pull: falls %s', (_, falls, change) => {
    const s = study(moves('A', [10, 0], 5), {
      bodies: [weight],
      motors: [{ ...drives().motors[0]!, detent: 0 }],
      ...(change as Partial<DrivesJson>),
    });
    expect(s.joints[3]!.fall.falls).toBe(falls);
  });

  // Shigley's Mechanical Engineering Design, example 8-1 (values from memory): square thread, mean diameter
  // 30 mm, lead 8 mm, friction .08, 6.4 kN. Raising takes 15.94 N m in the thread and 10.24 in the collar;
  // lowering takes -.466 N m in the thread alone (it runs down by itself), and 9.77 with the collar.
  it.each([
    ['thread alone, efficiency .511: runs down', (6.4 * 8) / (2 * Math.PI * 15.94), -0.466],
    ['thread and collar, efficiency .311: locks itself', (6.4 * 8) / (2 * Math.PI * 26.18), 9.77],
  ])('a screw with %s', (_, efficiency, lowering) => {
    const head = { ...weight, name: 'gantry', carriedBy: 'Z' };
    const lifted = (change: object): boolean => {
      const s = study(moves('A', [10, 0], 5), {
        bodies: [head],
        motors: [{ ...drives().motors[0]!, detent: 0 }],
        drives: drives().drives.map((d) => (d.name === 'lift' ? { ...d, ...change } : d)),
      });
      return s.joints[2]!.fall.falls;
    };
    expect(lifted({ efficiency })).toBe(lowering < 0);
    // A belt with such losses rubs where nobody knows: only what is stated holds there.
    expect(lifted({ efficiency, by: 'belt' })).toBe(true);
    expect(lifted({ efficiency, selfLocking: true })).toBe(false);
  });

  it('gives back what it took: the energies agree with torque times speed', () => {
    const s = study(moves('A', [80, -60, 30], 0.5), {
      bodies: [weight, disc],
      joints: { A: { friction: 0.1, drag: 0.05 } },
    });
    expect(s.energy.turnover).toBeGreaterThan(1);
    expect(Math.abs(s.energyError)).toBeLessThan(1e-3);
    // Friction alone: dry times the way (80 + 140 + 90 deg), drag times the integral of speed squared.
    expect(s.energy.friction).toBeGreaterThan(0.1 * 310 * DEG);
  });
});

describe('other ratios', () => {
  it('time falls to the best and rises after it; the reserve at the file limits is the motor law', () => {
    const s = study(moves('C', [180, 0, 180]), { bodies: [disc] });
    const sweep = s.sweeps.find((w) => w.drive === 'turn')!;
    expect(sweep.points.map((p) => p.ratio)).toEqual([5, 7, 10, 14, 20, 28, 40, 56, 80]);
    const t = 600 * DEG;
    for (const p of sweep.points) {
      const need = (INERTIA * t) / p.ratio + 57e-7 * p.ratio * t;
      const rpm = 15 * p.ratio;
      // Greatest need at the end of a ramp, where the speed is greatest too.
      const has = Math.max(0, rpm <= 300 ? 0.3 : (0.3 * (1500 - rpm)) / 1200);
      expect(Math.abs(p.reserve / (has / need) - 1)).toBeLessThan(2e-3);
    }
    // sqrt(JL / JM), closed form.
    expect(sweep.byInertia / Math.sqrt(INERTIA / 57e-7)).toBeCloseTo(1, 4);
  });

  it('by time is that by inertia where moves are too short for speed to matter', () => {
    // 0.05 deg at most: at 21 the motor stays under 300 rpm; N / (JL + N2 JM) is greatest at 21.1.
    const s = study(moves('C', [0.05, 0, 0.05]), { bodies: [disc] });
    const sweep = s.sweeps.find((w) => w.drive === 'turn')!;
    expect(sweep.byTime!.ratio).toBe(20);
  });
});

describe('give and tension', () => {
  // A drum whose inertia asks for 1.2 N m at 600 deg/s2, on a pulley of 120 teeth of 2 mm pitch.
  const radius = (120 * 2) / (2 * Math.PI);
  const needed = 1.2 / (600 * DEG);
  const drum = (mass: number): DrivesJson['bodies'][number] => ({ ...disc, mass });
  const driven = (torque: number): Study => {
    const belt = { radius, stiffness: 10000, span: 100, tension: 26.22 };
    const turn = { name: 'turn', motor: 'm', ratio: { C: 20 }, by: 'belt' as const, belt };
    const json = drives();
    const mass = ((needed * torque) / 1.2 / INERTIA) * MASS;
    return study(moves('C', [90]), {
      drives: [...json.drives.slice(0, 4), turn],
      bodies: [drum(mass)],
    });
  };
  const told = (s: Study): string[] =>
    findingsOf(s).flatMap((f) => (f.code === 'drives/belt-tension' ? [f.message] : []));

  it('1.2 N m at 38.197 mm pulls 31.416 N: more than the 26.22 N of a 6 mm belt of 2 mm pitch', () => {
    // 25 lbf per inch of width: 111.2 N x 6 / 25.4 = 26.22 N before derating (SDP/SI D265).
    const s = driven(1.2);
    const { give } = s.drives[4]!;
    expect(give!.tension / 31.41592).toBeCloseTo(1, 3);
    expect(give!.turn / DEG / 0.23561928).toBeCloseTo(1, 3);
    expect(told(s)).toEqual([expect.stringMatching(/pulls with 31\.4\d* N .* allows 26\.22 N/)]);
  });
  it('1.0 N m pulls 26.18 N, which it may; 1.003 N m pulls 26.26 N', () => {
    expect(told(driven(1))).toEqual([]);
    expect(told(driven(1.003))).toHaveLength(1);
  });
  it('a joint whose stiffness is stated gives torque over stiffness, at the rim 100 times as much', () => {
    const json = acJson();
    const joints = json.table.joints.map((j) => (j.letter === 'C' ? { ...j, stiffness: 5 } : j));
    const table = { ...json.table, joints: joints as typeof json.table.joints };
    const machine = machineOf({ ...json, table, drives: drives({ bodies: [disc] }) });
    const { give, loads } = studyDrives(moves('C', [90]), machine, options).joints[4]!;
    // 5 N m a deg; J alpha as above.
    const turn = (INERTIA * 600 * DEG) / 5;
    expect(Math.abs(loads.peak) / (INERTIA * 600 * DEG)).toBeCloseTo(1, 4);
    expect(give!.turn / DEG / turn).toBeCloseTo(1, 4);
    expect(give!.rimMm / (turn * DEG * 100)).toBeCloseTo(1, 4);
    expect(study(moves('C', [90]), { bodies: [disc] }).joints[4]!.give).toBeUndefined();
  });
});
