/**
 * Play and give from touches: the program of the plan is read back and run through joints with play
 * (the driven side follows only once the play is used up, as any textbook has it) that give under a
 * weight (torque over stiffness); what such a machine reads goes into the fit.
 */
import { describe, expect, it } from 'vitest';
import { seeded } from '../../lib/base/random.js';
import { DEG } from '../../lib/base/vector.js';
import { contact } from '../../lib/calibrate/touch-contact.js';
import {
  planFile,
  planText,
  playTouches,
  readReadings,
  readingsText,
} from '../../lib/calibrate/touch-files.js';
import { type FileText, measuredPlay } from '../../lib/calibrate/measured.js';
import { stateAt } from '../../lib/calibrate/deviation-model.js';
import type { DeviatedMachine } from '../../lib/calibrate/effect.js';
import { type PlayTouch, fitPlay, momentOf, wayRate } from '../../lib/calibrate/play-fit.js';
import { type PlayPlan, planPlay } from '../../lib/calibrate/play-plan.js';
import { touchProgram } from '../../lib/calibrate/program.js';
import { readMachine } from '../../lib/machine/read-files.js';
import { readOptions, readProgram } from '../../lib/program/read-program.js';
import { BALL, FACE, errorsOf, normals, sampleJson, sampleMachine } from './machines.js';

const NOISE = 0.02;
const machine = sampleMachine('table-table-ac');
const [Z, Y, X, A, C] = ['Z', 'Y', 'X', 'A', 'C'].map((l) =>
  machine.joints.findIndex((j) => j.letter === l),
) as [number, number, number, number, number];
/** Below the table's edge on the side of part -Y. */
const weight = { kg: 1, at: [0, -70, 0] as [number, number, number] };
const plan = planPlay(machine, [FACE, BALL], { repeats: 3, noise: NOISE, weight });
const rules = { probe: 'switch', speed: 1, nozzleTemperature: 0, tableTemperature: 0 } as const;

/** Commanded joint values along the program, and the blocks that are touches. */
function courseOf(of: PlayPlan): { joints: Float64Array; touches: number[] } {
  const lines = touchProgram(of, rules)
    .split('\n')
    .filter((l) => l !== 'M0');
  const moves = readProgram(
    lines.map((l) => l.replace('G94 G38.2', 'G94 G1')).join('\n'),
    readOptions(of.model.machine),
  );
  const probing = new Set(lines.flatMap((l, i) => (l.includes('G38.2') ? [i + 1] : [])));
  return {
    joints: moves.joints,
    touches: [...moves.line.keys()].filter((b) => probing.has(moves.line[b]!)),
  };
}

interface Truth {
  /** Play of each joint, mm and rad. */
  readonly play: readonly number[];
  /** rad/(N m) */
  readonly give: readonly number[];
  readonly state: DeviatedMachine;
}

const course = courseOf(plan);

/** What a machine reads that runs the program of the plan. */
function read(truth: Truth, noise: () => number, spoilt?: number): PlayTouch[] {
  const n = machine.joints.length;
  const { play, give, state } = truth;
  const driven = Array.from(machine.ready, (v, j) => v + play[j]! / 2);
  const out: PlayTouch[] = [];
  let seen = -1;
  course.touches.forEach((block, i) => {
    const touch = plan.touches[i]!;
    // Everything up to the place over the touch; the touch itself moves Z alone.
    for (let b = seen + 1; b < block; b++) {
      for (let j = 0; j < n; j++) {
        const asked = course.joints[b * n + j]!;
        driven[j] = Math.min(Math.max(driven[j]!, asked - play[j]! / 2), asked + play[j]! / 2);
      }
    }
    seen = block - 1;
    const above = course.joints.subarray(seen * n, seen * n + n);
    const off = driven.map((d, j) => {
      const turn = touch.loaded ? momentOf(machine, touch.joints, j, weight) * give[j]! : 0;
      return d - above[j]! + turn;
    });
    const met = contact(
      state,
      touch.aim,
      above.map((v, j) => v + off[j]!),
      touch.down,
    )!;
    const by = noise() + (touch.number === spoilt ? 0.5 : 0);
    const joints = met.map((v, j) => v - off[j]! + by * touch.down[j]!);
    out.push({ number: touch.number, aim: touch.aim, joints, play: touch.play });
  });
  return out;
}

const exact = stateAt(plan.model, new Float64Array(plan.model.parameters.length));
const truthOf = (seed: number, state = exact): Truth => {
  const random = seeded(seed);
  const play = machine.joints.map((joint, j) => {
    const most = joint.kind === 'rotary' ? 0.3 * DEG : 0.15;
    return j === Z ? 0 : most * random();
  });
  // 2 to 10 N m/deg.
  const give = machine.joints.map((j) => (j.kind === 'rotary' ? DEG / (2 + 8 * random()) : 0));
  return { play, give, state };
};
const trueOf = ({ play, give }: Truth, u: { kind: string; joint: number }): number =>
  (u.kind === 'play' ? play : give)[u.joint]!;

describe('levers in closed form', () => {
  it('a table that tilts by dA about X lifts its face at y by y dA', () => {
    const joints = new Float64Array(5);
    joints[Y] = 40;
    expect(Math.abs(wayRate(plan.model, { aim: 'face', joints }, A))).toBeCloseTo(40, 4);
    // Level, X and Y move along the face and C turns it in itself.
    for (const j of [X, Y, C])
      expect(wayRate(plan.model, { aim: 'face', joints }, j)).toBeCloseTo(0, 6);
  });

  it('a weight pulls by m g (y cos a - z sin a), y and z from the axis: 1 kg at y -70, z -6', () => {
    for (const deg of [0, 30, -45]) {
      const joints = new Float64Array(5);
      joints[A] = deg * DEG;
      const lever = -70 * Math.cos(deg * DEG) - -6 * Math.sin(deg * DEG);
      // Rising A lifts the side of +Y: what hangs there pulls A down.
      expect(momentOf(machine, joints, A, weight)).toBeCloseTo((-9.80665 * lever) / 1000, 6);
    }
  });
});

it('the plan asks for X, Y, A and C, and says that Z comes down with the touch', () => {
  expect(plan.touches).toHaveLength(72);
  expect(plan.undetermined).toEqual([{ kind: 'play', joint: Z }]);
  expect(plan.expected.map((e) => `${e.kind} ${machine.joints[e.joint]!.letter}`)).toEqual([
    'play Y',
    'play X',
    'play A',
    'play C',
    'give A',
    'give C',
  ]);
});

it('the weight presses each joint onto the flank that it lies on, so play adds nothing to the give', () => {
  const loaded = plan.touches.filter((t) => t.loaded);
  expect(loaded).toHaveLength(12);
  for (const t of loaded) {
    expect(t.play.from).toBe('below');
    expect(momentOf(machine, t.joints, t.play.joint, weight)).toBeLessThan(0);
  }
});

describe('machines with play to 0.3 deg and 0.15 mm, stiffness 2 to 10 N m/deg, noise 0.02 mm', () => {
  const SEEDS = 300;

  it(`seeds 1 to ${SEEDS}: every value within three times its uncertainty in at least 99 %`, () => {
    let missed = 0;
    let asked = 0;
    for (let seed = 1; seed <= SEEDS; seed++) {
      const truth = truthOf(seed);
      const normal = normals(1000 + seed);
      const fit = fitPlay(
        plan.model,
        read(truth, () => NOISE * normal()),
        weight,
        NOISE,
      );
      expect(fit.undetermined).toEqual([]);
      for (const e of fit.estimates) {
        asked++;
        if (Math.abs(e.value - trueOf(truth, e)) > 3 * e.uncertainty) missed++;
      }
    }
    expect(asked).toBe(6 * SEEDS);
    expect(missed / asked).toBeLessThanOrEqual(0.01);
  });

  it('without noise everything comes back to a hundredth (the rates are those of no play), seed 7', () => {
    const truth = truthOf(7);
    const { estimates, after } = fitPlay(
      plan.model,
      read(truth, () => 0),
      weight,
      NOISE,
    );
    for (const e of estimates) expect(Math.abs(e.value / trueOf(truth, e) - 1)).toBeLessThan(0.01);
    expect(Math.max(...after.map(Math.abs))).toBeLessThan(2e-3);
  });

  it('what a calibration leaves, a fiftieth of 1 mm and 1 deg, changes nothing by 2 %, seed 8', () => {
    const left = errorsOf(plan.model, 8).map((e) => e / 50);
    const truth = truthOf(8, stateAt(plan.model, left));
    const { estimates } = fitPlay(
      plan.model,
      read(truth, () => 0),
      weight,
      NOISE,
    );
    for (const e of estimates) {
      expect(Math.abs(e.value / trueOf(truth, e) - 1)).toBeLessThan(0.02);
    }
  });

  it.each([3, 30, 41, 70])('touch %s, spoilt by 0.5 mm, is named and set aside', (bad) => {
    const truth = truthOf(9);
    const normal = normals(90);
    const fit = fitPlay(
      plan.model,
      read(truth, () => NOISE * normal(), bad),
      weight,
      NOISE,
    );
    expect(fit.bad.map((b) => b.touch.number)).toEqual([bad]);
    for (const e of fit.estimates) {
      expect(Math.abs(e.value - trueOf(truth, e))).toBeLessThan(4 * e.uncertainty);
    }
  });
});

describe('what is written', () => {
  const file = sampleJson('table-table-ac') as FileText;
  const tight: Truth = {
    play: machine.joints.map((_, j) => (j === A ? 0.2 * DEG : 0)),
    give: machine.joints.map((_, j) => (j === A ? DEG / 5 : 0)),
    state: exact,
  };
  const normal = normals(3);
  const fit = fitPlay(
    plan.model,
    read(tight, () => 0.005 * normal()),
    weight,
    0.005,
  );
  const written = readMachine(JSON.parse(JSON.stringify(measuredPlay(file, fit))));

  it('play and stiffness with their uncertainty', () => {
    const a = written.joints[A]!;
    expect(Math.abs(a.backlash - 0.2 * DEG)).toBeLessThan(3 * a.backlashUncertainty!);
    // 5 N m/deg.
    expect(Math.abs(a.stiffness! * DEG - 5)).toBeLessThan(3 * a.stiffnessUncertainty! * DEG);
    expect(a.stiffnessUncertainty! * DEG).toBeLessThan(0.6);
  });

  it('play not to be told from none is 0 with its uncertainty, a joint too stiff to tell keeps its file', () => {
    for (const j of [X, Y, C]) expect(written.joints[j]!.backlash).toBe(0);
    for (const j of [X, Y, C]) expect(written.joints[j]!.backlashUncertainty).toBeGreaterThan(0);
    expect(written.joints[C]!.stiffness).toBeUndefined();
    // Z was not asked.
    expect(written.joints[Z]!.backlash).toBe(machine.joints[Z]!.backlash);
  });

  it('plan and readings come back from their files', () => {
    const text = planText(
      plan,
      [{ kind: 'face' }, { kind: 'ball', at: [45, 0, 20], diameter: 20 }],
      NOISE,
    );
    const again = planFile.parse(JSON.parse(JSON.stringify(text)));
    const touches = read(tight, () => 0);
    const back = readReadings(readingsText(machine, touches), machine, again).touches;
    expect(playTouches(machine, again, back)!.map((t) => t.play)).toEqual(
      plan.touches.map((t) => t.play),
    );
    expect(again.weight).toEqual({ kg: 1, at: [0, -70, 0] });
  });
});

it.each(['table-table-bc', 'head-table'])(
  '%s: both rotary joints and two linear ones are asked',
  (name) => {
    const other = sampleMachine(name);
    const { expected, undetermined } = planPlay(other, [FACE, BALL], { repeats: 2, noise: NOISE });
    const told = expected.map((e) => other.joints[e.joint]!.letter).sort();
    expect(told).toHaveLength(4);
    expect(undetermined.map((u) => other.joints[u.joint]!.letter)).toEqual(['Z']);
  },
);
