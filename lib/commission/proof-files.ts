/**
 * Plan and form of a proof as files: the plan as JSON, what was seen as CSV. What is read is checked row by row.
 */
import { z } from 'zod';
import { Fault } from '../base/fault.js';
import type { Vec3 } from '../base/vector.js';
import { rowsOf } from '../calibrate/touch-files.js';
import type { Machine } from '../machine/machine.js';
import { aName } from '../machine/text-lengths.js';
import { fileUnit, valueText } from './joint-words.js';
import type { ProofPlan } from './proof-plan.js';
import { turnsText } from './proof-program.js';
import type { WhatWasSeen } from './proof-verdict.js';
import { NOTHING_SEEN, SIGHTS, expectedSight } from './seen.js';

const jointValues = z.record(aName, z.number()).describe('mm and deg by letter');

/** The schema of a plan that was kept as JSON: mm and deg. */
export const proofFile = z.strictObject({
  machine: aName.describe('name of the machine that the proof was planned for'),
  place: z
    .tuple([z.number(), z.number(), z.number()])
    .describe('where the tip is to stand over the table in all poses, part frame, mm'),
  steps: z
    .array(
      z.strictObject({
        step: z.int().positive(),
        joint: aName.describe('letter'),
        by: z.number().describe('mm or deg, from the ready place and back'),
        expected: z.string().max(200).describe('what must be seen'),
      }),
    )
    .min(1),
  poses: z
    .array(z.strictObject({ pose: z.int().positive(), joints: jointValues }))
    .describe('none where none keep clear'),
});
/** A plan that was kept as JSON. */
export type ProofFile = z.output<typeof proofFile>;

const shown = (x: number): number => Number(x.toFixed(5)) + 0;

/** A plan as JSON, from which `proofFrom` makes the plan again, to 1e-5 mm and deg. */
export const proofText = ({ machine, place, steps, poses }: ProofPlan): ProofFile => ({
  machine: machine.name,
  place: [...place],
  steps: steps.map(({ number, joint: j, by, expected }) => ({
    step: number,
    joint: machine.joints[j]!.letter,
    by: shown(by / fileUnit(machine.joints[j]!)),
    expected: expected.words,
  })),
  poses: poses.map(({ number, joints }) => ({
    pose: number,
    joints: Object.fromEntries(
      machine.joints.map((j, i) => [j.letter, shown(joints[i]! / fileUnit(j))] as const),
    ),
  })),
});

/**
 * The plan of a proof that was kept as JSON, on the machine that it is judged by.
 * @throws Fault `prove/other-machine`
 */
export function proofFrom(
  machine: Machine,
  { machine: name, place, steps, poses }: ProofFile,
): ProofPlan {
  const refuse = (message: string): never => {
    throw new Fault('prove/other-machine', message);
  };
  if (name !== machine.name)
    refuse(`the proof was planned for "${name}", the machine file says "${machine.name}"`);
  const index = (letter: string): number => {
    const j = machine.joints.findIndex((joint) => joint.letter === letter);
    return j < 0 ? refuse(`the proof moves ${letter}, which is no joint of the machine file`) : j;
  };
  return {
    machine,
    place,
    steps: steps.map(({ step, joint: letter, by }) => {
      const joint = index(letter);
      const own = by * fileUnit(machine.joints[joint]!);
      return {
        number: step,
        joint,
        by: own,
        expected: expectedSight(machine, machine.ready, joint, own),
      };
    }),
    poses: poses.map(({ pose, joints }) => ({
      number: pose,
      joints: Float64Array.from(machine.joints, (j) => {
        const value = joints[j.letter];
        if (value === undefined) return refuse(`pose ${pose} says nothing of joint ${j.letter}`);
        return value * fileUnit(j);
      }),
    })),
  };
}

export const SEEN_COLUMNS = ['row', 'what', 'seen', 'x mm', 'y mm', 'z mm'] as const;

export interface SeenRow {
  /** "step 1", "pose 2" */
  readonly row: string;
  /** "X +10 mm", "A 25 deg and C 60 deg" */
  readonly what: string;
}

/** The rows of the form, in the order in which they are filled in. No commas, for CSV. */
export const seenRows = ({ machine, steps, poses }: ProofPlan): SeenRow[] => [
  ...steps.map(({ number, joint, by }) => ({
    row: `step ${number}`,
    what: `${machine.joints[joint]!.letter} ${by > 0 ? '+' : ''}${valueText(machine.joints[joint]!, by)}`,
  })),
  ...poses.map(({ number, joints }) => ({
    row: `pose ${number}`,
    what: turnsText(machine, joints).replaceAll(', ', ' and '),
  })),
];

/** A form of a proof as CSV, empty or with what was seen; `readSeen` reads it. */
export function seenText(plan: ProofPlan, seen?: WhatWasSeen): string {
  const rows = seenRows(plan).map(({ row, what }, i) => {
    const pose = seen?.poses[i - plan.steps.length];
    return [row, what, seen?.steps[i] ?? '', ...(pose ? pose.map(shown) : ['', '', ''])];
  });
  return `${[SEEN_COLUMNS, ...rows].map((row) => row.join(',')).join('\n')}\n`;
}

/**
 * Reads what was seen of a proof from the filled-in form.
 * @param text comma, semicolon or tab between columns; numbers with a point
 * @throws Fault `readings/...` for the table, `seen/...` for what stands in it, with the line
 */
export function readSeen(text: string, plan: ProofPlan, file?: string): WhatWasSeen {
  const wanted = seenRows(plan);
  const steps: (string | undefined)[] = plan.steps.map(() => undefined);
  const poses: (Vec3 | undefined)[] = plan.poses.map(() => undefined);
  const done = new Set<string>();
  for (const { cells, line } of rowsOf(text, [...SEEN_COLUMNS], file)) {
    const refuse = (code: string, message: string): never => {
      throw new Fault(code, `line ${line}: ${message}`, { line, ...(file && { file }) });
    };
    const i = wanted.findIndex(({ row }) => row === cells[0]);
    if (i < 0) refuse('seen/row', `"${cells[0]}" is no row of this proof`);
    const { row, what } = wanted[i]!;
    if (cells[1] !== what)
      refuse('seen/other-proof', `${row} is "${cells[1]}", in the plan "${what}"`);
    if (done.has(row)) refuse('seen/row', `${row} stands in two rows`);
    done.add(row);
    const [words, ...place] = cells.slice(2) as [string, string, string, string];
    if (i < plan.steps.length) {
      if (place.some((c) => c !== ''))
        refuse('seen/step', `${row} has a place; only poses have one`);
      if (words !== '') steps[i] = wordsFrom(words, row, refuse);
      continue;
    }
    if (words !== '') refuse('seen/pose', `${row} has words; a pose has a place, mm`);
    if (place.every((c) => c === '')) continue;
    const values = place.map((c) => (/^[+-]?(\d+\.?\d*|\.\d+)$/.test(c) ? Number(c) : NaN));
    const bad = values.findIndex((v) => !(Math.abs(v) <= RULER_REACH));
    if (bad >= 0) {
      refuse(
        'seen/pose',
        `${'xyz'[bad]} of ${row} is "${place[bad]}", a number from -${RULER_REACH} to ${RULER_REACH} mm was expected`,
      );
    }
    poses[i - plan.steps.length] = values as unknown as Vec3;
  }
  return { steps, poses };
}

/** No ruler on the table reaches farther, mm. */
const RULER_REACH = 1000;

function wordsFrom(
  words: string,
  row: string,
  refuse: (code: string, message: string) => never,
): string {
  const known = [...SIGHTS.map((s) => s.words), NOTHING_SEEN];
  return known.includes(words)
    ? words
    : refuse('seen/step', `${row} has "${words}"; the form knows: ${known.join(', ')}`);
}
