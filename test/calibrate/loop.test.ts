/**
 * The closed loop: a machine with known errors runs the plan of touches, the fit makes a measured
 * machine file of the readings, and the same part is planned on the file as drawn and on the measured
 * one. Both programs are read back and run forward on the true machine: what counts is where the
 * beads come to lie on the true table against where they were planned.
 */
import { beforeAll, describe, expect, it } from 'vitest';
import { fitTouches } from '../../lib/calibrate/fit.js';
import { type FileText, measuredFile } from '../../lib/calibrate/measured.js';
import { stateAt } from '../../lib/calibrate/model.js';
import { planTouches } from '../../lib/calibrate/plan.js';
import { forward } from '../../lib/machine/forward.js';
import type { Machine } from '../../lib/machine/machine.js';
import { readMachine } from '../../lib/machine/read.js';
import { readOptions, readProgram } from '../../lib/program/read.js';
import { jobOf, runJob } from '../support/jobs.js';
import { postWithArm } from '../support/shapes.js';
import { BALL, FACE, errorsOf, normals, sampleJson, touched } from './machines.js';

const NOISE = 0.02;
const name = 'table-table-ac';

describe('errors of 1 mm and 1 deg, touches with 0.02 mm of noise, seed 31', () => {
  let drawn: number[];
  let measured: number[];
  let rms: (offs: number[]) => number;

  beforeAll(async () => {
    const file = sampleJson(name) as FileText;
    const machine = readMachine(file);
    const plan = planTouches(machine, [FACE, BALL], { touches: 80, noise: NOISE });
    // Errors as large as they are said to be, signs from the seed.
    const signs = errorsOf(plan.model, 31);
    const errors = plan.model.parameters.map(({ group, kind }, p) => {
      if (group === 'run-out' || group === 'square' || group === 'tip') return 0.3 * signs[p]!;
      return Math.sign(signs[p]!) * (kind === 'angle' ? 1.745 : 1);
    });
    const truth = stateAt(plan.model, errors);
    const normal = normals(32);
    const fit = fitTouches(
      plan.model,
      touched(plan, truth, () => NOISE * normal()),
      { noise: NOISE },
    );
    const text = measuredFile(file, fit.state, { touches: 80, noise: fit.noise, tip: 0.02 });
    // As it would come back from the disk.
    const again = readMachine(JSON.parse(JSON.stringify(text)));
    drawn = await offs(machine, truth.machine);
    measured = await offs(again, truth.machine);
    rms = (offs) => Math.sqrt(offs.reduce((s, d) => s + d * d, 0) / offs.length);
  }, 120_000);

  it('the measured file makes the shape error at least ten times smaller', () => {
    expect(rms(drawn)).toBeGreaterThan(0.8);
    expect(rms(drawn) / rms(measured)).toBeGreaterThan(10);
    expect(rms(measured)).toBeLessThan(1.2 * NOISE);
    expect(Math.max(...measured)).toBeLessThan(0.1 * Math.max(...drawn));
  });
});

/** Distances, mm, between where every bead of the part ends on the true table and was to end. */
async function offs(believed: Machine, truth: Machine): Promise<number[]> {
  const job = jobOf(postWithArm(12, 24, 12, 8), name, {
    regions: { directions: 40, effort: 12, lean: 0 },
    layers: { thickness: 0.3, first: 0.3 },
    check: false,
  });
  const { program } = await runJob({ ...job, machine: believed });
  const read = readProgram(program, readOptions(believed));
  const n = read.jointCount;
  const out: number[] = [];
  for (let b = 0; b < read.filament.length; b++) {
    const joints = read.joints.subarray(b * n, b * n + n);
    if (!(read.filament[b]! > 0)) continue;
    const [want, is] = [forward(believed, joints).tip, forward(truth, joints).tip];
    out.push(Math.hypot(want[0] - is[0], want[1] - is[1], want[2] - is[2]));
  }
  return out;
}
