/**
 * The sources of the error budget other than compliance: for each its size at a spot, its formula and what
 * is not stated.
 */
import { Matrix } from 'ml-matrix';
import { Fault } from '../base/fault.js';
import { DEG } from '../base/vector.js';
import { modelOf } from '../calibrate/deviation-model.js';
import { effectsOf, scaleName } from '../calibrate/effects.js';
import { tipSpread } from '../calibrate/spread.js';
import { sharingOf, stepOf } from '../drives/motor.js';
import { jointsOf } from '../machine/joint-chain.js';
import type { Machine } from '../machine/machine.js';
import { type Trace, TraceKind } from '../verify/trace.js';
import {
  type BudgetRules,
  COVERAGE,
  type ErrorSource,
  type Spot,
  boundOf,
  lacking,
  spreadOf,
} from './spot.js';

/**
 * Joints whose load may hold them stand on a known flank, whichever it is; other rotary joints do so where they
 * came from below, other linear ones if their play is compensated.
 * @param isHeld whether the load holds a joint on one flank at a spot
 */
export function backlashSource(
  machine: Machine,
  isHeld: (spot: Spot, joint: number) => boolean,
): ErrorSource {
  const { joints, dialect } = machine;
  const loose = joints.filter((j) => j.backlash > 0);
  const open = joints.filter((j) => j.backlash > 0 && j.backlashUncertainty === undefined);
  const seen = dialect.play === 'program' || dialect.play === 'controller';
  const off = (spot: Spot): number[] =>
    joints.map((j, i) => {
      const arrived = j.kind === 'linear' ? seen : dialect.play === 'controller' || !spot.above[i];
      const held = arrived || isHeld(spot, i);
      return held ? COVERAGE * (j.backlashUncertainty ?? 0) : j.backlash;
    });
  return {
    name: 'backlash',
    kind: 'systematic',
    formula:
      'lever x play where nobody makes up for it, else twice the uncertainty of the play; joints summed with either sign',
    notStated: [
      ...(open.length ? [`uncertainty of the play of ${open.map((j) => j.letter).join(' ')}`] : []),
      ...(dialect.play === undefined && loose.some((j) => j.kind === 'linear')
        ? ['who makes up for the play of the linear joints (dialect.play): counted as nobody']
        : []),
    ],
    at: (spot) => boundOf(spot, off(spot)),
  };
}

/** A rotary joint that moves by less in a bead does not turn but gives, rad. */
const LEAST_TURN = 1e-5;

/**
 * Corners are rounded, and no more than the sides allow: cut from the middle of one side to that of
 * the other the way misses the corner by half a side times the cosine of half the inner angle. Of the
 * beads that a spot stands for the worst counts.
 */
export function cornerSource(machine: Machine, trace: Trace, rules: BudgetRules): ErrorSource {
  const rotary = jointsOf(machine, 'rotary');
  const { joints, jointCount: n, kind } = trace;
  const turns = (b: number): boolean =>
    kind[b] === TraceKind.deposit &&
    b > 0 &&
    rotary.some((j) => Math.abs(joints[b * n + j]! - joints[b * n - n + j]!) > LEAST_TURN);
  return {
    name: 'corners',
    kind: 'systematic',
    formula:
      'least of motion.cornerDeviation and half the shorter side x cos(half the inner angle), and motion.chordError where a rotary joint turns in a bead; the worst of the beads around',
    notStated: [],
    at: ({ since, block }) => {
      let corner = 0;
      let chord = 0;
      for (let b = since; b <= block; b++) {
        if (corner < rules.cornerDeviation) corner = Math.max(corner, roundingAt(trace, b));
        if (chord === 0 && turns(b)) chord = rules.chordError;
      }
      return Math.min(rules.cornerDeviation, corner) + chord;
    },
  };
}

/** Greatest rounding of the corner at the end of a bead, mm; 0 where no bead goes on from it. */
function roundingAt({ tip, kind }: Trace, b: number): number {
  if (b === 0 || kind[b] !== TraceKind.deposit || kind[b + 1] !== TraceKind.deposit) return 0;
  let [before, after, along] = [0, 0, 0];
  for (let c = 0; c < 3; c++) {
    const u = tip[3 * b + c]! - tip[3 * b - 3 + c]!;
    const v = tip[3 * b + 3 + c]! - tip[3 * b + c]!;
    before += u * u;
    after += v * v;
    along += u * v;
  }
  if (before === 0 || after === 0) return 0;
  const turned = along / Math.sqrt(before * after);
  // The inner angle is 180 deg less the turn: the cosine of its half is the sine of half the turn.
  return (Math.sqrt(Math.min(before, after)) / 2) * Math.sqrt(Math.max(0, (1 - turned) / 2));
}

/** A value rounded to steps of s is off by s / sqrt 12 (even distribution; GUM, JCGM 100:2008, 4.3.7). */
const EVEN = 1 / Math.sqrt(12);

export function resolutionSource(machine: Machine): ErrorSource {
  const { joints, dialect } = machine;
  const { steps, notStated } = stepsOf(machine);
  const deviations = joints.map((j, i) => {
    const decimal = 10 ** -dialect.decimals[j.kind] * (j.kind === 'rotary' ? DEG : 1);
    return EVEN * Math.hypot(decimal, steps[i] ?? 0);
  });
  return {
    name: 'resolution',
    kind: 'random',
    formula:
      'root of the sum of squares of lever x step / sqrt 12, for steps of the drivers and the last decimal of the program (JCGM 100:2008, 4.3.7)',
    notStated,
    at: (spot) => spreadOf(spot, deviations),
  };
}

/** Step of each joint, mm or rad: of two drives on two joints the root of the sum of squares. */
function stepsOf(machine: Machine): {
  readonly steps: readonly (number | undefined)[];
  readonly notStated: readonly string[];
} {
  const { joints, drives } = machine;
  if (!drives) return { steps: [], notStated: ['steps of the drives (drives)'] };
  try {
    const { loads } = sharingOf(machine, drives);
    const steps = joints.map((joint, j): number | undefined => {
      let sum = 0;
      for (const [d, { motor, microsteps }] of drives.drives.entries()) {
        if (loads[d]![j] === 0) continue;
        const own = stepOf(motor, microsteps);
        if (own === undefined) return undefined;
        sum += (own * loads[d]![j]!) ** 2;
      }
      return Math.sqrt(sum) * (joint.kind === 'rotary' ? 1 : 1000);
    });
    const open = [lacking(machine, 'linear', steps), lacking(machine, 'rotary', steps)]
      .filter(Boolean)
      .join(' ');
    return { steps, notStated: open ? [`step angle of the motors of ${open}`] : [] };
  } catch (error) {
    // Drives that do not fit the joints are refused by their own study; here they are unknown.
    if (!(error instanceof Fault)) throw error;
    return { steps: [], notStated: [`steps of the drives: ${error.message}`] };
  }
}

export function calibrationSource(machine: Machine): ErrorSource {
  const { measured } = machine;
  const known = covarianceOf(machine, () => true);
  const flat = measured?.tip;
  return {
    name: 'calibration',
    kind: 'random',
    formula:
      'root of the trace of J C JT, C the covariance of the fitted deviations and J what they move the tip by (JCGM 100:2008, 5.2)',
    notStated: [
      ...(measured ? [] : ['how far the machine is off its file (no calibration)']),
      ...scalesUnknown(machine),
      ...(measured && !known ? ['covariance of the calibration: one value for all places'] : []),
    ],
    at: known ?? (flat === undefined ? undefined : () => flat),
  };
}

export function runOutSource(machine: Machine): ErrorSource {
  return {
    name: 'run-out',
    kind: 'random',
    within: 'calibration',
    formula: 'the same for the first harmonic of the run-out alone; a part of calibration',
    notStated: machine.measured?.covariance ? [] : ['run-out left over (no calibration)'],
    at: covarianceOf(machine, (group) => group === 'run-out'),
  };
}

/** Linear joints of which no calibration has told the scale. */
function scalesUnknown({ joints, measured }: Machine): string[] {
  const told = measured?.covariance?.of ?? [];
  const linear = joints.filter((j) => j.kind === 'linear');
  const open = linear.filter((j) => !told.includes(scaleName(j)));
  if (open.length === 0) return [];
  const which = open.map((j) => j.letter).join(', ');
  return [`scale errors of ${open.length < linear.length ? which : 'the linear joints'}`];
}

/** Standard uncertainty of the tip from the deviations of some groups. */
function covarianceOf(
  machine: Machine,
  counts: (group: string) => boolean,
): ((spot: Spot) => number) | undefined {
  const kept = machine.measured?.covariance;
  if (!kept) return undefined;
  const scales = effectsOf(machine, []).filter(({ name }) => kept.of.includes(name));
  const model = modelOf(machine, [], scales);
  const chosen = kept.of.flatMap((name, row) => {
    const p = model.parameters.findIndex((own) => own.name === name);
    return p >= 0 && counts(model.parameters[p]!.group) ? [{ p, row }] : [];
  });
  if (chosen.length === 0) return undefined;
  const entry = (i: number, k: number): number => {
    const [high, low] = [Math.max(i, k), Math.min(i, k)];
    return kept.rows[high]![low]!;
  };
  const c = new Matrix(chosen.map((a) => chosen.map((b) => entry(a.row, b.row))));
  const active = chosen.map(({ p }) => p);
  const none = new Float64Array(model.parameters.length);
  return ({ joints }) => tipSpread(model, none, active, c, joints);
}
