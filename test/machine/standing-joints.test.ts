/**
 * Where joints stand under load: closed forms of a pendulum on a spring, and a machine simulated apart from the
 * library (test/support/heavy-machine.ts: energies and false position in place of torques and a fixed point).
 */
import { describe, expect, it } from 'vitest';
import { seeded } from '../../lib/base/random.js';
import { DEG } from '../../lib/base/vector.js';
import type { Machine } from '../../lib/machine/machine.js';
import { readMachine } from '../../lib/machine/read-files.js';
import { StandingJoints } from '../../lib/machine/standing-joints.js';
import { type DrivesJson, drives } from '../drives/machines.js';
import type { File } from '../recount/chain.js';
import { HeavyMachine } from '../support/heavy-machine.js';
import { sampleJson } from '../support/jobs.js';
import { type Json, acJson } from './machines.js';

const GRAVITY = 9.80665; // m/s2, CGPM 1901

interface Cradle {
  readonly stiffness?: number;
  readonly backlash?: number;
  readonly bodies?: DrivesJson['bodies'];
  readonly joints?: DrivesJson['joints'];
  readonly play?: 'program' | 'controller' | 'nobody';
}

/** 3 kg 40 mm off the tilting axis A, which runs through the origin, and 25 mm under it. */
const weight: DrivesJson['bodies'] = [
  {
    name: 'cradle',
    carriedBy: 'A',
    mass: 3,
    solid: { shape: 'box', from: [-1, 39, -26], to: [1, 41, -24] },
  },
];

function cradleJson({ stiffness, backlash = 0, bodies = weight, joints = {}, play }: Cradle): Json {
  const json = acJson();
  const table = json.table.joints.map((j) =>
    j.letter === 'A' ? { ...j, backlash, ...(stiffness && { stiffness }) } : j,
  ) as Json['table']['joints'];
  return {
    ...json,
    table: { ...json.table, joints: table },
    dialect: { ...json.dialect, ...(play && { play }) },
    drives: drives({ bodies, joints }),
  };
}

const standingOf = (cradle: Cradle): StandingJoints =>
  StandingJoints.of(readMachine(cradleJson(cradle)))!;

/** Where A stands, deg, that is told a value, with its drive on the flank that its load holds. */
function standsAt(standing: StandingJoints, told: number): number {
  const out = new Float64Array(5);
  const at = [0, 0, 0, told * DEG, 0];
  standing.standInto(at, out, 0);
  at[3]! += standing.flankOf(standing.heldAt(out, 0, 3), 3);
  standing.standInto(at, out, 0);
  return out[3]! / DEG;
}

describe('give', () => {
  // A mass m at (y, z) off the axis is held with m g (y cos t - z sin t), closed form.
  const held = (t: number): number => 3 * GRAVITY * (0.04 * Math.cos(t) + 0.025 * Math.sin(t));

  it.each([-110, -60, -5, 0, 30, 90])('told %i deg, spring and weight are in balance', (told) => {
    const standing = standingOf({ stiffness: 5 });
    const t = standsAt(standing, told) * DEG;
    // 5 N m/deg against the change of the torque since the ready values, A at 0.
    expect(5 * (told - t / DEG)).toBeCloseTo(held(t) - held(0), 9);
  });

  it('at the ready values nothing gives, whatever they are', () => {
    const json = cradleJson({ stiffness: 2 });
    const standing = StandingJoints.of(readMachine({ ...json, ready: { A: 35 } }))!;
    expect(standsAt(standing, 35)).toBeCloseTo(35, 12);
  });

  it('a part of 0.2 kg 50 mm off the axis turns the level table by 0.098 N m / 5 N m/deg', () => {
    const standing = standingOf({ stiffness: 5 });
    standing.lay(0.2, [-10, 50, 0], [10, 50, 0]);
    const t = standsAt(standing, 0) * DEG;
    const part = 0.2 * GRAVITY * 0.05 * Math.cos(t);
    expect(-5 * (t / DEG)).toBeCloseTo(part + held(t) - held(0), 9);
    expect(t / DEG).toBeCloseTo((-0.2 * GRAVITY * 0.05) / 5, 3);
  });

  it('a spring that takes the sine of the weight off leaves its cosine, and its own slope', () => {
    // Near 0 the sine is the angle: 3 kg x g x 25 mm = 0.735 N m/rad, taken off by a spring that pushes up.
    const rate = 3 * GRAVITY * 0.025 * DEG;
    const joints = { A: { balance: { torque: 0, at: 0, rate } } };
    const standing = standingOf({ stiffness: 5, joints });
    const t = standsAt(standing, 20) * DEG;
    const push = -rate * (t / DEG);
    expect(5 * (20 - t / DEG)).toBeCloseTo(held(t) - push - held(0), 9);
  });

  it('where nobody states a stiffness or a weight there is nothing to know', () => {
    expect(
      StandingJoints.of(readMachine(cradleJson({ stiffness: 5, bodies: [] }))),
    ).toBeUndefined();
    expect(StandingJoints.of(readMachine(cradleJson({})))).toBeUndefined();
    expect(StandingJoints.of(readMachine(acJson()))).toBeUndefined();
  });
});

describe('flank', () => {
  // Held with 3 g (0.04 cos t + 0.025 sin t): 1.177 N m level, 0.736 at 90 deg, none at -57.99 deg.
  const loose: Cradle = { backlash: 0.1, joints: { A: { friction: 0.3 } } };
  const off = (cradle: Cradle, told: number): number =>
    Number((standsAt(standingOf(cradle), told) - told).toFixed(9));

  it.each([
    [0, 0], // pressed down with 1.177 N m, as at the ready values
    [90, 0],
    [-40, 0], // still with 0.429 N m
    [-50, 0], // 0.193 N m: friction holds it where it came to from below
    [-80, 0.1], // pressed up with 0.520 N m
    [-110, 0.1],
  ])('told %i deg it stands %s deg higher', (told, by) => {
    expect(off(loose, told)).toBe(by);
  });

  it('counts from the flank on which it lies at the ready values', () => {
    // A balance that pushes with 3 N m turns the load round: up at 0, and everywhere.
    const pushed = { ...loose, joints: { A: { friction: 0.3, balance: { torque: 3 } } } };
    expect(off(pushed, 0)).toBe(0);
    expect(off(pushed, -80)).toBe(0);
    // With 1.6 N m it is pressed up by 0.42 N m at 0, and down by nothing.
    const some = { ...loose, joints: { A: { friction: 0.3, balance: { torque: 0.8 } } } };
    expect(off(some, 0)).toBe(0); // held up with 0.377 N m
    expect(off(some, -30)).toBe(0); // -0.149 N m: friction, and from below
    expect(off(some, -60)).toBe(0.1);
  });

  it('is not known without a friction, or where the controller shifts the joint itself', () => {
    expect(StandingJoints.of(readMachine(cradleJson({ backlash: 0.1 })))).toBeUndefined();
    const controlled = cradleJson({ ...loose, play: 'controller' });
    expect(StandingJoints.of(readMachine(controlled))).toBeUndefined();
  });
});

/** A sample machine, every rotary joint soft, loose and of little friction. */
const softSample = (name: string): File => {
  const file = sampleJson(`machines/${name}.json`) as File;
  const soft = (joints: File['table']['joints']): File['table']['joints'] =>
    joints.map((j) => (j.kind === 'rotary' ? { ...j, stiffness: 2.5, backlash: 0.08 } : j));
  const easy = Object.entries(file.drives!.joints!).map(([letter, j]) => [
    letter,
    { ...j, friction: 0.02 },
  ]);
  return {
    ...file,
    drives: { ...file.drives!, joints: Object.fromEntries(easy) as never },
    head: { ...file.head, joints: soft(file.head.joints) },
    table: { ...file.table, joints: soft(file.table.joints) },
  };
};

describe.each(['table-table-ac', 'table-table-bc', 'head-table'])('%s, simulated apart', (name) => {
  const file = softSample(name);
  const machine: Machine = readMachine(JSON.parse(JSON.stringify(file)));
  const size = machine.joints.map((j) => (j.kind === 'rotary' ? DEG : 1));

  it.each([1, 2, 3])('stands where the simulated one does, seed %i', (seed) => {
    const random = seeded(seed);
    const standing = StandingJoints.of(machine)!;
    const heavy = new HeavyMachine(file);
    let [flanks, held] = [0, 0];
    for (let i = 0; i < 40; i++) {
      const told = machine.joints.map((j) => {
        const [low, high] =
          j.kind === 'rotary' ? [Math.max(j.least, -2), Math.min(j.most, 2)] : [-50, 50];
        return low + (high - low) * random();
      });
      const kg = 0.02 * random();
      const at = [60 * random() - 30, 60 * random() - 30, 80 * random()] as const;
      standing.lay(kg, at, at);
      heavy.lay(kg, at);
      const drive = Float64Array.from(told);
      const out = new Float64Array(5);
      standing.standInto(drive, out, 0);
      const known = told.map((_, j) => standing.heldAt(out, 0, j));
      known.forEach((flank, j) => (drive[j]! += standing.flankOf(flank, j)));
      standing.standInto(drive, out, 0);
      const stands = heavy.go(told.map((v, j) => v / size[j]!));
      machine.joints.forEach((joint, j) => {
        if (joint.kind === 'linear') return;
        if (known[j] === 0) return; // The way of arrival decides; driven-joints.test.ts counts that.
        held++;
        if (known[j]! > 0) flanks++;
        // Loads are found anew when the part has grown by 0.1 % of what the table carries, of 0.9 kg at most
        // here, up to 85 mm off the axis: 7.5e-4 N m over 2.5 N m/deg.
        expect(Math.abs(out[j]! / size[j]! - stands[j]!)).toBeLessThan(3e-4);
      });
    }
    expect(held).toBeGreaterThan(20);
    expect(flanks).toBeGreaterThan(5);
  });
});

describe('numbers that contradict each other are refused', () => {
  const faultOf = (json: Json): string => {
    try {
      readMachine(json);
      return 'read';
    } catch (error) {
      return String((error as Error).message);
    }
  };
  const belted: DrivesJson['drives'] = drives().drives.map((d) =>
    d.name === 'tilt' ? { ...d, belt: { radius: 38.197, stiffness: 10000, span: 100 } } : d,
  );
  const withBelt = (stiffness: number): Json => {
    const json = cradleJson({ stiffness });
    return { ...json, drives: { ...json.drives!, drives: belted } };
  };

  it('a stiffness in N m/rad, 57.3 times that of the belts', () => {
    // 2 x 10 kN / 100 mm at 38.197 mm: 291.8 N m/rad, 5.093 N m/deg (two springs side by side).
    expect(faultOf(withBelt(291.8))).toMatch(
      /joint A has a stiffness of 291.8 N m\/deg, 57.3 times the 5.093 N m\/deg of its belts.*N m\/rad\?/,
    );
    expect(faultOf(withBelt(5.09))).toBe('read');
  });

  it('a compliance in deg/(N m) in its place', () => {
    // 1/5.09 N m/deg; 3 g (40 cos t + 25 sin t - 40) mm is -2.402 N m at the end of the travel, -120 deg.
    expect(faultOf(cradleJson({ stiffness: 1 / 5.09 }))).toMatch(
      /joint A would give 12\.23 deg under the 2\.402 N m that it carries, the limit is 3 deg.*deg\/\(N m\)/,
    );
  });

  it('a friction that exceeds the motor', () => {
    // 0.3 N m at a ratio of 20 are 6 N m.
    expect(faultOf(cradleJson({ joints: { A: { friction: 7 } } }))).toMatch(
      /joint A has a friction of 7 N m, and tilt bring it 6 N m at most/,
    );
    expect(faultOf(cradleJson({ joints: { A: { friction: 5 } } }))).toBe('read');
  });
});
