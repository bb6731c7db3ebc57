/**
 * The measured machine file: the file as it was written and the fitted machine come in, the same
 * file with measured axes, origin, table normal, run-out and flat of the tip goes out. Everything
 * else, the user's own order of keys among it, stays as it is.
 */
import type { z } from 'zod';
import type { Vec3 } from '../base/vector.js';
import { scale } from '../base/vector.js';
import type { Joint, machineFile } from '../machine/machine.js';
import type { State } from './model.js';

export type FileText = z.input<typeof machineFile>;
type FileJoint = FileText['head']['joints'][number];

/** Decimals of what is written: 1e-6 mm, and 1e-9 of a direction (1e-7 mm at 100 mm). */
const MM = 6;
const PART = 9;

/** @param file what the machine was read from; checked already */
export function measuredFile(
  file: FileText,
  { machine, flat }: State,
  measured: NonNullable<FileText['measured']>,
): FileText {
  const joint = (drawn: FileJoint, carriesTable: boolean): FileJoint => {
    const sense = file.positive === 'tool' && carriesTable ? -1 : 1;
    const found = machine.joints.find((j) => j.letter === drawn.letter)!;
    return { ...drawn, ...lineOf(found, sense) } as FileJoint;
  };
  const { head, table } = file;
  const m = machine.mount;
  return {
    ...file,
    head: { ...head, joints: head.joints.map((j) => joint(j, false)) },
    table: {
      ...table,
      joints: table.joints.map((j) => joint(j, true)),
      origin: rounded(machine.origin, MM),
      normal: rounded([m[8]!, m[9]!, m[10]!], PART),
    },
    measured,
    nozzle: { ...file.nozzle, flat: Math.max(file.nozzle.diameter, round(2 * flat, 4)) },
  };
}

function lineOf(joint: Joint, sense: 1 | -1): object {
  const axis = rounded(scale(joint.axis, sense), PART);
  if (joint.kind === 'linear') return { axis };
  const runOut = joint.runOut.map((x) => round(sense * x, MM));
  return { axis, point: rounded(joint.point, MM), ...(runOut.some((x) => x !== 0) && { runOut }) };
}

/** No minus before a zero. */
const round = (x: number, digits: number): number => Number(x.toFixed(digits)) + 0;

const rounded = (v: Vec3, digits: number): [number, number, number] => [
  round(v[0], digits),
  round(v[1], digits),
  round(v[2], digits),
];
