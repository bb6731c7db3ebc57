/**
 * Plan and readings as files: the plan as JSON, the readings as CSV with units in the header. What is
 * written can be opened in any spreadsheet program; what is read is checked row by row.
 */
import { parse as parseCsv } from 'csv-parse/sync';
import { z } from 'zod';
import { Fault } from '../base/fault.js';
import { DEG } from '../base/vector.js';
import type { Machine } from '../machine/machine.js';
import { aName } from '../machine/text-lengths.js';
import type { PlayTouch, Reversal } from './play-fit.js';
import type { TouchSequence, TouchStep } from './program.js';
import type { TouchReading } from './least-squares.js';
import { AIMS, type TargetFile, targetFile } from './targets.js';

export const planFile = z.strictObject({
  machine: aName.describe('name of the machine that the plan was made for'),
  noise: z.number().positive().describe('standard deviation of one touch that is expected, mm'),
  targets: z.array(targetFile).min(1),
  also: z
    .array(aName)
    .default([])
    .describe(
      'effects that the plan tells and the fit finds beside the errors of axes, face and tip',
    ),
  weight: z
    .strictObject({
      kg: z.number().positive(),
      at: z.tuple([z.number(), z.number(), z.number()]).describe('part frame, mm'),
    })
    .optional()
    .describe('hung on the table for the loaded touches'),
  touches: z
    .array(
      z.strictObject({
        touch: z.int().positive(),
        aim: z.enum(AIMS),
        joints: z.record(aName, z.number()).describe('at the touch as drawn, mm and deg'),
        play: z
          .strictObject({
            place: z.int().min(0).describe('touches of one place differ only by what follows'),
            joint: aName.describe('letter of the joint that is asked about'),
            from: z.enum(['below', 'above']),
            loaded: z.boolean().describe('true while the weight hangs'),
          })
          .optional()
          .describe('in a plan for play and stiffness'),
      }),
    )
    .min(1),
});
export type PlanFile = z.output<typeof planFile>;

export const sizeOf = (joint: Machine['joints'][number]): number =>
  joint.kind === 'rotary' ? DEG : 1;
const show = (value: number): number => Number(value.toFixed(5)) + 0;

/** Joint values of a planned touch, order of Machine.joints, mm and rad. */
export function plannedJoints(machine: Machine, plan: PlanFile, number: number): Float64Array {
  const { joints } = plan.touches.find((t) => t.touch === number)!;
  return Float64Array.from(machine.joints, (j) => joints[j.letter]! * sizeOf(j));
}

type Planned = TouchStep & { readonly play?: Reversal };

export function planText(
  {
    model,
    touches,
    weight,
  }: Omit<TouchSequence, 'touches'> & { readonly touches: readonly Planned[] },
  targets: readonly TargetFile[],
  noise: number,
): PlanFile {
  const { joints, name } = model.machine;
  return {
    machine: name,
    noise,
    targets: [...targets],
    also: model.effects.map((e) => e.name),
    ...(weight && { weight: { kg: weight.kg, at: [...weight.at] } }),
    touches: touches.map((t) => ({
      touch: t.number,
      aim: t.aim,
      joints: Object.fromEntries(
        joints.map((j, i) => [j.letter, show(t.joints[i]! / sizeOf(j))] as const),
      ),
      ...(t.play && { play: { ...t.play, joint: joints[t.play.joint]!.letter } }),
    })),
  };
}

/** "touch,aim,X mm,Y mm,Z mm,A deg,C deg" */
export const columnsOf = (machine: Machine): string[] => [
  'touch',
  'aim',
  ...machine.joints.map((j) => `${j.letter} ${j.kind === 'rotary' ? 'deg' : 'mm'}`),
];

/** A form: what is planned stands in it, the linear joints are left to be filled in. */
export function formText(machine: Machine, plan: PlanFile): string {
  const rows = plan.touches.map(({ touch, aim, joints }) => [
    touch,
    aim,
    ...machine.joints.map((j) => (j.kind === 'rotary' ? joints[j.letter]! : '')),
  ]);
  return `${[columnsOf(machine), ...rows].map((row) => row.join(',')).join('\n')}\n`;
}

/** Readings as a filled form. */
export function readingsText(machine: Machine, touches: readonly TouchReading[]): string {
  const rows = touches.map((t) => [
    t.number,
    t.aim,
    ...machine.joints.map((j, i) => show(t.joints[i]! / sizeOf(j))),
  ]);
  return `${[columnsOf(machine), ...rows].map((row) => row.join(',')).join('\n')}\n`;
}

export interface Readings {
  readonly touches: readonly TouchReading[];
  /** Touches of the plan without a reading. */
  readonly missing: readonly number[];
}

/** A rotary reading this far from the plan is no reading of that touch, rad. */
const OTHER_TOUCH_TURN = 1 * DEG;

/**
 * @param text comma, semicolon or tab between columns; numbers with a point
 * @throws Fault `readings/...` with the line
 */
export function readReadings(
  text: string,
  machine: Machine,
  plan: PlanFile,
  file?: string,
): Readings {
  const rows = rowsOf(text, columnsOf(machine), file);
  const seen = new Set<number>();
  const touches = rows.flatMap(({ cells, line }): TouchReading[] => {
    const refuse = refuseAt(line, file);
    const number = Number(cells[0]);
    const planned = plan.touches.find((t) => t.touch === number);
    if (!planned) {
      return refuse(
        'touch',
        `touch "${cells[0]}" is not in the plan, which has 1 to ${plan.touches.length}`,
      );
    }
    if (cells[1] !== planned.aim) {
      return refuse(
        'aim',
        `touch ${number} is aimed at "${cells[1]}", in the plan at "${planned.aim}"`,
      );
    }
    const linear = machine.joints.flatMap((j, i) => (j.kind === 'linear' ? [cells[2 + i]!] : []));
    if (linear.every((c) => c === '')) return [];
    if (seen.has(number)) return refuse('twice', `touch ${number} stands in two rows`);
    seen.add(number);
    const joints = Float64Array.from(machine.joints, (j, i) => {
      const value = numberFrom(cells[2 + i]!, `${j.letter} of touch ${number}`, refuse);
      const out = value * sizeOf(j);
      const want = planned.joints[j.letter]! * sizeOf(j);
      if (j.kind === 'rotary' && !(Math.abs(out - want) <= OTHER_TOUCH_TURN)) {
        refuse(
          'turned',
          `${j.letter} of touch ${number} reads ${value} deg, planned were ${planned.joints[j.letter]} deg, the limit is 1 deg apart`,
        );
      }
      return out;
    });
    return [{ number, aim: planned.aim, joints }];
  });
  const missing = plan.touches.map((t) => t.touch).filter((n) => !seen.has(n));
  return { touches, missing };
}

/** Readings with what each touch of a plan for play asks; undefined for a plan of another kind. */
export function playTouches(
  machine: Machine,
  plan: PlanFile,
  touches: readonly TouchReading[],
): PlayTouch[] | undefined {
  if (plan.touches.every((t) => t.play === undefined)) return undefined;
  return touches.map((touch) => {
    const { play } = plan.touches.find((t) => t.touch === touch.number)!;
    const joint = machine.joints.findIndex((j) => j.letter === play?.joint);
    if (!play || joint < 0) {
      throw new Fault(
        'calibrate/plan',
        `touch ${touch.number} asks for the play of "${play?.joint ?? 'nothing'}", which is no joint of the machine`,
      );
    }
    return { ...touch, play: { ...play, joint } };
  });
}

type RefuseRow = (what: string, message: string) => never;

const refuseAt =
  (line: number, file?: string): RefuseRow =>
  (what, message) => {
    throw new Fault(`readings/${what}`, `line ${line}: ${message}`, {
      line,
      ...(file && { file }),
    });
  };

function numberFrom(cell: string, name: string, refuse: RefuseRow): number {
  if (/^[+-]?(\d+\.?\d*|\.\d+)$/.test(cell)) return Number(cell);
  return refuse('number', `${name} is "${cell}", a number with a point was expected`);
}

interface ReadingRow {
  readonly cells: readonly string[];
  readonly line: number;
}

/** Rows under a header that must be the wanted one. */
export function rowsOf(text: string, columns: readonly string[], file?: string): ReadingRow[] {
  let records: { record: string[]; info: { lines: number } }[];
  try {
    records = parseCsv(text, {
      info: true,
      bom: true,
      trim: true,
      delimiter: [',', ';', '\t'],
      skip_empty_lines: true,
      relax_column_count: true,
    }) as unknown as typeof records;
  } catch (error) {
    throw new Fault('readings/csv', `no table: ${(error as Error).message}`, {
      ...(file && { file }),
    });
  }
  const [header, ...rest] = records.map(({ record, info }) => ({
    cells: record,
    line: info.lines,
  }));
  if (!header || header.cells.join(',') !== columns.join(',')) {
    const found = header ? header.cells.join(',') : 'nothing';
    refuseAt(1, file)('header', `the header is "${found}", it must be "${columns.join(',')}"`);
  }
  return rest.map((row) => {
    if (row.cells.length !== columns.length) {
      refuseAt(row.line, file)(
        'columns',
        `${row.cells.length} columns, the header has ${columns.length}`,
      );
    }
    return row;
  });
}
