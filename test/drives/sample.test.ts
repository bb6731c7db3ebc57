import { expect, it } from 'vitest';
import { pathOfMotion, pathOfProgram } from '../../lib/drives/path.js';
import { studyDrives } from '../../lib/drives/study.js';
import { readOptions } from '../../lib/program/options.js';
import { readProgram } from '../../lib/program/read.js';
import { jobOf, runJob, sampleMachine } from '../support/jobs.js';
import { postWithArm } from '../support/shapes.js';

// The law of energy, on a job that leans: two regions, so that cradle, table and gantry all move.
it.each(['table-table-ac', 'table-table-bc', 'head-table'])(
  'a whole job on %s: energies agree with torque times speed within 1%%, and job and program agree',
  async (name) => {
    const input = jobOf(postWithArm(14, 30, 12, 12), name, {
      paths: { contours: 1, fill: { density: 0.1 } },
    });
    const result = await runJob(input);
    const machine = sampleMachine(name);
    const options = { density: 1.24, deviation: 0.05, sweep: false };
    const study = studyDrives(pathOfMotion(result.motion, input.job.motion), machine, options);
    expect(study.energy.turnover).toBeGreaterThan(10);
    expect(Math.abs(study.energyError)).toBeLessThan(0.01);
    // What is laid weighs what its volume does: closed form from the report's own check volume.
    expect(study.part.kg / (result.report.check!.volumeMm3 * 1.24e-6)).toBeCloseTo(1, 2);
    // The controller's law can be no faster than the feeds, and not much slower than the plan.
    const read = readProgram(result.program, readOptions(machine));
    const again = studyDrives(pathOfProgram(read, machine), machine, options);
    expect(Math.abs(again.energyError)).toBeLessThan(0.01);
    expect(again.part.kg / study.part.kg).toBeCloseTo(1, 3);
    expect(again.seconds / study.seconds).toBeGreaterThan(0.98);
    again.joints.forEach((j, i) => {
      expect(j.fall.pull).toBeCloseTo(study.joints[i]!.fall.pull, 2);
      expect(j.loads.acceleration).toBeLessThan(
        machine.joints[i]!.acceleration * (j.rotary ? 1 : 1e-3) * 1.0001,
      );
    });
  },
);
