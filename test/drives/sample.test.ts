import { expect, it } from 'vitest';
import { seeded } from '../../lib/base/random.js';
import {
  type JointPath,
  pathOfMotion,
  pathOfProgram,
  timed,
  withLimits,
} from '../../lib/drives/job-path.js';
import { studyDrives } from '../../lib/drives/study.js';
import { secondsOf, secondsOn } from '../../lib/motion/timing/time-path.js';
import { readOptions } from '../../lib/program/options.js';
import { readProgram } from '../../lib/program/read-program.js';
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
    const study = studyDrives(pathOfMotion(result.motion), machine, options);
    expect(study.energy.turnover).toBeGreaterThan(10);
    expect(Math.abs(study.energyError)).toBeLessThan(0.01);
    // What is laid weighs what its volume does: closed form from the report's own check volume.
    expect(study.part.kg / (result.report.check!.volumeMm3 * 1.24e-6)).toBeCloseTo(1, 2);
    // One time law: the job takes what its plan says, and so does its program, up to the feeds that
    // were rounded or kept from falling too low (common practice, no source for the 2%).
    expect(study.seconds / result.motion.totalSeconds).toBeCloseTo(1, 9);
    const read = readProgram(result.program, readOptions(machine));
    const again = studyDrives(pathOfProgram(read, machine, options.deviation), machine, options);
    expect(Math.abs(again.energyError)).toBeLessThan(0.01);
    expect(again.part.kg / study.part.kg).toBeCloseTo(1, 3);
    expect(Math.abs(again.seconds / study.seconds - 1)).toBeLessThan(0.02);
    again.joints.forEach((j, i) => {
      expect(j.fall.pull).toBeCloseTo(study.joints[i]!.fall.pull, 2);
      expect(j.loads.acceleration).toBeLessThan(
        machine.joints[i]!.acceleration * (j.rotary ? 1 : 1e-3) * 1.0001,
      );
    });
  },
);

// A ride in which a joint stands is left as it was: the short way must agree with the long one.
it('pace on a machine with one joint changed: in part as all of it anew, seed 9', () => {
  const machine = sampleMachine('table-table-ac');
  const random = seeded(9);
  const at = [...machine.ready];
  const joints = Array.from({ length: 300 }, (_, b) => {
    if (b % 7 === 0) return [...at];
    const j = Math.floor(random() * 5);
    at[j]! += (random() - 0.5) * (machine.joints[j]!.kind === 'rotary' ? 0.3 : 20);
    return [...at];
  });
  const way = { jointCount: 5, from: machine.ready, joints: Float64Array.from(joints.flat()) };
  const path: JointPath = {
    ...way,
    filament: new Float64Array(300),
    line: Uint32Array.from(joints, (_, b) => b + 1),
    counts: 'block',
    free: true,
    start: Uint32Array.from({ length: 301 }, (_, b) => b),
    runs: way,
    least: new Float64Array(300).map(() => 0.1 * random()),
  };
  const known = timed(path, machine, 0.05);
  machine.joints.forEach((joint, j) => {
    const other = withLimits(machine, j, 2 * joint.speed, 0.5 * joint.acceleration);
    const anew = secondsOf(timed(path, other, 0.05));
    expect(secondsOn(other, j, known) / anew).toBeCloseTo(1, 9);
    expect(Math.abs(anew / secondsOf(known) - 1)).toBeGreaterThan(1e-3);
  });
});
