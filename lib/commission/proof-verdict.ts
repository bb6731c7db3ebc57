/**
 * Which value of a machine file is wrong, by what was seen of the real machine. Pure: from the file's machine, the
 * plan and what somebody has written down.
 *
 * Steps: what a joint moved, along or about which axis and which way, against what the file says of each joint. Two
 * joints that did what was expected of one another have their letters mixed up; the other way round is a sign; the
 * other body is a chain with head and table mixed up. One value that explains several joints is preferred.
 *
 * Poses: for every machine that differs from the file in one thing (order of two neighbours, place of an axis, zero
 * of an axis, place of the tip) the values that explain the measured places best, by least squares (Gauss-Newton);
 * then in two things. Those that explain all of them to within what a ruler shows are the answer, and if there are
 * several, all are told.
 */
import type { Finding } from '../base/fault.js';
import { DEG, type Vec3, length, sub } from '../base/vector.js';
import type { Joint, Machine, MachineFile } from '../machine/machine.js';
import { short } from './joint-words.js';
import { type PlaceExplanation, explainPlaces } from './explain-places.js';
import type { ProofPlan } from './proof-plan.js';
import { SIGHTS, type Sight } from './seen.js';

/** What somebody saw and measured while a proof ran, in the order of its plan. */
export interface WhatWasSeen {
  /** Words of `SIGHTS`, or `NOTHING_SEEN`, for each step; undefined where nothing was written down. */
  readonly steps: readonly (string | undefined)[];
  /** Where the tip was measured over the table, part frame, mm; undefined likewise. */
  readonly poses: readonly (Vec3 | undefined)[];
}

/** Which values of a machine file are wrong, by what was seen. */
export interface ProofVerdict {
  /** What is wrong, as errors whose `at.key` is the key of the file; notes for what is right. */
  readonly findings: readonly Finding[];
  /** True if every joint goes as the file says. */
  readonly stepsRight: boolean;
  /** True if the tip stands where the file says in every pose. */
  readonly posesRight: boolean;
}

/** What a ruler and a square show for sure, mm. Common practice, no source. */
export const RULER = 3;

/**
 * Says which value of the machine file is wrong, by what was seen of a proof: sign, letter, list, order, axis
 * place, zero. Several that would explain the same are all told.
 * @param positive of the machine file
 */
export function judgeProof(
  plan: ProofPlan,
  positive: MachineFile['positive'],
  seen: WhatWasSeen,
): ProofVerdict {
  const wrong = stepFindings(plan, positive, seen.steps);
  const open = plan.steps.filter((_, i) => seen.steps[i] === undefined);
  const letters = open.map(({ joint }) => plan.machine.joints[joint]!.letter);
  if (wrong.length > 0) return { findings: wrong, stepsRight: false, posesRight: false };
  if (letters.length > 0) {
    const message = `nothing is written down of the steps of ${letters.join(' ')}; the poses are for a machine whose joints all go as its file says`;
    return {
      findings: [{ code: 'prove/steps-open', severity: 'warning', message }],
      stepsRight: false,
      posesRight: false,
    };
  }
  const steps: Finding = {
    code: 'prove/steps-right',
    severity: 'note',
    message: 'every joint moves what the file says, along the axis and in the sense that it says',
  };
  const poses = poseFindings(plan, seen.poses);
  return {
    findings: [steps, ...poses],
    stepsRight: true,
    posesRight: poses.every((f) => f.code === 'prove/poses-right'),
  };
}

/** Key of a joint in the file. */
export function jointKey({ joints }: Pick<Machine, 'joints'>, j: number): string {
  const { carriesTable } = joints[j]!;
  const before = joints.slice(0, j).filter((o) => o.carriesTable === carriesTable).length;
  return `${carriesTable ? 'table' : 'head'}.joints.${before}`;
}

const error = (code: string, key: string, message: string): Finding => ({
  code,
  severity: 'error',
  message: `${key}: ${message}`,
  at: { key },
});

interface SeenStep {
  readonly joint: Joint;
  readonly index: number;
  readonly expected: Sight;
  readonly words: string;
  /** Undefined where nothing moved. */
  readonly sight: Sight | undefined;
  /** -1 where the step went back, for want of travel. */
  readonly sense: 1 | -1;
}

const sameLine = (a: Sight, b: Sight): boolean =>
  a.body === b.body && a.kind === b.kind && a.axis === b.axis;

function stepFindings(
  { machine, steps }: ProofPlan,
  positive: MachineFile['positive'],
  seen: WhatWasSeen['steps'],
): Finding[] {
  const all = steps.flatMap(({ joint, expected, by }, i): SeenStep[] => {
    const words = seen[i];
    if (words === undefined) return [];
    const sight = SIGHTS.find((s) => s.words === words);
    const sense = by > 0 ? 1 : -1;
    return [{ joint: machine.joints[joint]!, index: joint, expected, words, sight, sense }];
  });
  const off = all.filter(({ expected, words }) => words !== expected.words);
  const left = new Set(off);
  const out: Finding[] = [];
  const key = ({ index }: SeenStep, what: string): string =>
    `${jointKey(machine, index)}${what && `.${what}`}`;
  // Letters: each did what is expected of the other.
  for (const a of off) {
    for (const b of off) {
      if (a.index >= b.index || !left.has(a) || !left.has(b)) continue;
      if (!a.sight || !b.sight || a.joint.kind !== b.joint.kind) continue;
      if (!sameLine(a.sight, b.expected) || !sameLine(b.sight, a.expected)) continue;
      left.delete(a);
      left.delete(b);
      const letters = `${a.joint.letter} and ${b.joint.letter}`;
      out.push(
        error(
          'prove/letters',
          key(a, 'letter'),
          `${letters} are mixed up: each moved what the file has for the other; exchange the letters of ${jointKey(machine, a.index)} and ${jointKey(machine, b.index)}`,
        ),
      );
      for (const [one, other] of [
        [a, b],
        [b, a],
      ] as const) {
        if (one.sense * one.sight!.way === other.sense * other.expected.way) continue;
        out.push(
          error(
            'prove/sign',
            key(other, 'axis'),
            reversed(one.joint.letter, { ...one, expected: other.expected }),
          ),
        );
      }
    }
  }
  const turnedRound = [...left].filter(
    ({ sight, expected }) => sight && sameLine(sight, expected) && sight.way !== expected.way,
  );
  out.push(...signFindings(machine, positive, all, turnedRound, key));
  for (const one of turnedRound) left.delete(one);
  for (const one of left) out.push(otherFinding(one, key));
  return out;
}

const reversed = (letter: string, { words, expected }: SeenStep): string =>
  `${letter} counts the other way round: seen was "${words}", the file means "${expected.words}"; turn the sign of its axis`;

/** One wrong `positive` turns all joints of the table round at once, and none of the head. */
function signFindings(
  machine: Machine,
  positive: MachineFile['positive'],
  all: readonly SeenStep[],
  turnedRound: readonly SeenStep[],
  key: (s: SeenStep, what: string) => string,
): Finding[] {
  const table = machine.joints.filter((j) => j.carriesTable).length;
  const whole =
    table > 1 && turnedRound.length === table && turnedRound.every((s) => s.joint.carriesTable);
  if (whole && all.length === machine.joints.length) {
    const other = positive === 'body' ? 'tool' : 'body';
    return [
      error(
        'prove/positive',
        'positive',
        `every joint of the table (${turnedRound.map((s) => s.joint.letter).join(' ')}) counts the other way round and none of the head: "${positive}" is to be "${other}"`,
      ),
    ];
  }
  return turnedRound.map((s) => error('prove/sign', key(s, 'axis'), reversed(s.joint.letter, s)));
}

/** A joint that moved something else than its own body along or about its own axis. */
function otherFinding(one: SeenStep, key: (s: SeenStep, what: string) => string): Finding {
  const { joint, sight, expected, words } = one;
  const said = `seen was "${words}", the file means "${expected.words}"`;
  if (!sight) {
    return error(
      'prove/nothing-moved',
      key(one, 'letter'),
      `nothing moved at ${joint.letter}: is that the letter by which the controller knows it, and is its motor on?`,
    );
  }
  if (sight.kind !== joint.kind) {
    return error(
      'prove/kind',
      key(one, 'kind'),
      `${joint.letter} is no ${joint.kind} joint: ${said}`,
    );
  }
  if (sight.body !== expected.body) {
    return error(
      'prove/carrier',
      key(one, ''),
      `${joint.letter} carries the ${sight.body}, not the ${expected.body}: ${said}; it belongs under ${sight.body}.joints`,
    );
  }
  return error('prove/axis', key(one, 'axis'), `${joint.letter} has another axis: ${said}`);
}

function poseFindings(plan: ProofPlan, measured: WhatWasSeen['poses']): Finding[] {
  const { poses, place, machine } = plan;
  if (poses.length === 0) {
    const message =
      'this proof has no poses, for none kept clear: order, places and zeros of the axes are not proved yet';
    return [{ code: 'prove/poses-open', severity: 'warning', message }];
  }
  const missing = poses.filter((_, i) => measured[i] === undefined).map((p) => p.number);
  if (missing.length > 0) {
    const message = `nothing is written down of pose ${missing.join(', ')}: order, places and zeros of the axes are not proved yet`;
    return [{ code: 'prove/poses-open', severity: 'warning', message }];
  }
  const places = measured as readonly Vec3[];
  const off = places.map((p) => length(sub(p, place)));
  const most = Math.max(...off);
  if (places.every((p) => sub(p, place).every((d) => Math.abs(d) <= RULER))) {
    const message = `the tip stands within ${short(most)} mm of its place in every pose, a ruler shows ${RULER} mm: order and places of the axes are right to that; "tiltwright calibrate" finds the rest`;
    return [{ code: 'prove/poses-right', severity: 'note', message }];
  }
  const found = explainPlaces(plan, places, RULER);
  if (found.length === 0) {
    const worst = poses[off.indexOf(most)]!.number;
    return [
      error(
        'prove/unexplained',
        'head',
        `the tip is ${short(most)} mm off in pose ${worst}, the limit is ${RULER} mm, and no one or two values of the file explain it: measure again, and check the steps`,
      ),
    ];
  }
  const rivals = found.slice(1);
  return found[0]!.changes.map((change): Finding => {
    const also = rivals.length
      ? `; it could as well be ${rivals.map((r) => r.changes.map((c) => `${keyOf(machine, c)} (${wordsOf(machine, c)})`).join(' and ')).join(', or ')}`
      : '';
    return error(CODES[change.what], keyOf(machine, change), `${wordsOf(machine, change)}${also}`);
  });
}

const CODES: Readonly<Record<Change['what'], string>> = {
  order: 'prove/order',
  'axis-place': 'prove/axis-place',
  zero: 'prove/zero',
  tip: 'prove/tip',
};

type Change = PlaceExplanation['changes'][number];

function keyOf(machine: Machine, change: Change): string {
  switch (change.what) {
    case 'order':
      return jointKey(machine, change.joint);
    case 'axis-place':
      return `${jointKey(machine, change.joint)}.point`;
    case 'zero':
      return jointKey(machine, change.joint);
    case 'tip':
      return 'head.tip';
  }
}

const point = (p: Vec3): string => `[${p.map(short).join(', ')}]`;

function wordsOf({ joints, tip }: Machine, change: Change): string {
  switch (change.what) {
    case 'order': {
      const [outer, inner] = [joints[change.joint]!, joints[change.joint + 1]!];
      return `the order of ${outer.letter} and ${inner.letter} is the other way round: ${inner.letter} carries ${outer.letter}; exchange them in the list`;
    }
    case 'axis-place': {
      const { letter, point: drawn } = joints[change.joint]!;
      return `the axis of ${letter} runs elsewhere: the file has the point ${point(drawn)}, seen is ${point(change.to)}, ${short(length(sub(change.to, drawn)))} mm off`;
    }
    case 'zero': {
      const { letter } = joints[change.joint]!;
      return `the zero of ${letter} is off: it stands at ${short(change.by / DEG)} deg where the controller says 0; correct the homing, or the axes and solids of what it carries`;
    }
    case 'tip':
      return `with all joints at zero the tip stands elsewhere: the file has ${point(tip)}, seen is ${point(change.to)}; correct the zeros of X, Y and Z at the controller, or this value`;
  }
}
