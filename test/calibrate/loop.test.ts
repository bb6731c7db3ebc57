/**
 * The closed loop: a machine with known errors runs the plan of touches, the fit makes a measured
 * machine file of the readings, and the same part is planned on the file as drawn and on the measured
 * one. Both programs run on the true machine: by the check, which prints them in the computer and
 * holds them against the part, and bead by bead, against where each was planned to lie.
 */
import { beforeAll, describe, expect, it } from 'vitest';
import { fitTouches } from '../../lib/calibrate/deviation-fit.js';
import { type FileText, measuredFile } from '../../lib/calibrate/measured.js';
import { stateAt } from '../../lib/calibrate/deviation-model.js';
import { planTouches } from '../../lib/calibrate/touch-plan.js';
import { forward } from '../../lib/machine/forward.js';
import type { Machine } from '../../lib/machine/machine.js';
import { readMachine } from '../../lib/machine/read-files.js';
import { readOptions, readProgram } from '../../lib/program/read-program.js';
import { type ShapeFigures, verify } from '../../lib/verify/verify.js';
import { jobOf, runJob } from '../support/jobs.js';
import { postWithArm } from '../support/shapes.js';
import { BALL, FACE, errorsOf, normals, sampleJson, touched } from './machines.js';

const NOISE = 0.02;
const name = 'table-table-ac';

describe('errors of 1 mm and 1 deg, touches with 0.02 mm of noise, seed 31', () => {
  let drawn: Printed;
  let measured: Printed;
  let rms: (offs: number[]) => number;

  beforeAll(async () => {
    const file = sampleJson(name) as FileText;
    const machine = readMachine(file);
    const plan = planTouches(machine, [FACE, BALL], { touches: 80, noise: NOISE });
    // Errors as large as they are said to be, signs from the seed.
    const signs = errorsOf(plan.model, 31);
    const errors = plan.model.parameters.map(({ group, kind }, p) => {
      if (['run-out', 'square', 'tip', 'give', 'play'].includes(group)) return 0.3 * signs[p]!;
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
    drawn = await printed(machine, truth.machine);
    measured = await printed(again, truth.machine);
    rms = (offs) => Math.sqrt(offs.reduce((s, d) => s + d * d, 0) / offs.length);
  });

  it('the check finds the shape error at least ten times smaller with the measured file', () => {
    expect(drawn.shape.p95Mm).toBeGreaterThan(1);
    expect(drawn.shape.p95Mm / measured.shape.p95Mm).toBeGreaterThan(10);
    expect(measured.shape.runs.length).toBeGreaterThan(1);
    for (const { shiftMm } of measured.shape.runs)
      expect(Math.hypot(...shiftMm)).toBeLessThan(0.05);
  });

  it('bead by bead it is at most 1.2 times the noise, and a tenth of what it was', () => {
    const [before, after] = [drawn.offs, measured.offs];
    expect(rms(before)).toBeGreaterThan(0.8);
    expect(rms(before) / rms(after)).toBeGreaterThan(10);
    expect(rms(after)).toBeLessThan(1.2 * NOISE);
    expect(Math.max(...after)).toBeLessThan(0.1 * Math.max(...before));
  });
});

interface Printed {
  /** Distances, mm, between where every bead of the part ends on the true table and was to end. */
  readonly offs: number[];
  readonly shape: ShapeFigures;
}

async function printed(believed: Machine, truth: Machine): Promise<Printed> {
  const job = jobOf(postWithArm(12, 24, 12, 8), name, {
    regions: { directions: 40, effort: 12, lean: 0 },
    layers: { thickness: 0.3, first: 0.3 },
    check: false,
  });
  const { program, plan } = await runJob({ ...job, machine: believed });
  const read = readProgram(program, readOptions(believed));
  const n = read.jointCount;
  const offs: number[] = [];
  for (let b = 0; b < read.filament.length; b++) {
    const joints = read.joints.subarray(b * n, b * n + n);
    if (!(read.filament[b]! > 0)) continue;
    const [want, is] = [forward(believed, joints).tip, forward(truth, joints).tip];
    offs.push(Math.hypot(want[0] - is[0], want[1] - is[1], want[2] - is[2]));
  }
  return { offs, shape: verify(program, truth, { part: plan.part }).check.shape! };
}
