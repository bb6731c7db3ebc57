/**
 * Where a program brings the joints of a machine that gives and has play, block by block, against a machine
 * simulated apart from the library (test/support/heavy-machine.ts).
 */
import { describe, expect, it } from 'vitest';
import { seeded } from '../../lib/base/random.js';
import { DEG } from '../../lib/base/vector.js';
import { readMachine } from '../../lib/machine/read-files.js';
import { readOptions, readProgram } from '../../lib/program/read-program.js';
import { traceOf } from '../../lib/verify/trace.js';
import type { File } from '../recount/chain.js';
import { readMoves } from '../recount/program.js';
import { runHeavy } from '../support/heavy-machine.js';
import { sampleJson } from '../support/jobs.js';

/** The sample machine with a loose, soft tilt; little friction, or so much that it holds all that is carried. */
function tilting(friction: number, play: 'nobody' | 'program' | undefined): File {
  const file = sampleJson('machines/table-table-ac.json') as File;
  const joints = file.table.joints.map((j) =>
    j.letter === 'A' ? { ...j, backlash: 0.2, stiffness: 4 } : { ...j, backlash: 0 },
  );
  const linear = file.head.joints.map((j) => ({ ...j, backlash: 0 }));
  return {
    ...file,
    head: { ...file.head, joints: linear },
    table: { ...file.table, joints },
    drives: { ...file.drives!, joints: { ...file.drives!.joints, A: { friction } } },
    dialect: { ...file.dialect, ...(play && { play }) },
  };
}

/** Beads at random tilts, some turned to and fro by less than the play. */
function program(seed: number): string {
  const random = seeded(seed);
  const lines = ['G21 G90', 'G93 G1 X0 Y0 Z80 A0 C0 F6'];
  let a = 0;
  for (let i = 0; i < 120; i++) {
    a = i % 3 === 0 ? 120 * random() - 60 : a + 0.3 * (random() - 0.5);
    const [x, y, z, c] = [40 * random(), 40 * random(), 60 + 10 * random(), 360 * random()];
    const words = [x, y, z, a, c].map((v, j) => `${'XYZAC'[j]}${v.toFixed(4)}`);
    lines.push(`G93 G1 ${words.join(' ')} E${(8 * random()).toFixed(3)} F6`);
  }
  return [...lines, 'M2'].join('\n');
}

describe.each([
  ['gravity chooses the flank', 0.02, 'nobody'],
  ['friction holds it, so the way of arrival does', 0.6, 'nobody'],
  ['both, by the place', 0.15, 'program'],
] as const)('%s', (_, friction, play) => {
  it.each([1, 2, 3])('joints stand where the simulated ones do, seed %i', (seed) => {
    const file = tilting(friction, play);
    const machine = readMachine(JSON.parse(JSON.stringify(file)));
    const text = program(seed);
    const trace = traceOf(readProgram(text, readOptions(machine)), machine, { density: 1.27 });
    const moves = readMoves(text, file);
    const heavy = runHeavy(file, moves, 1.27);
    expect(heavy.joints.length).toBe(trace.joints.length);
    let moved = 0;
    for (let i = 3; i < trace.joints.length; i += 5) {
      moved = Math.max(moved, Math.abs(heavy.joints[i]! - moves.joints[i]!));
      // 0.1 % of 0.75 kg, up to 100 mm off the axis, over 4 N m/deg.
      expect(Math.abs(trace.joints[i]! / DEG - heavy.joints[i]!)).toBeLessThan(2e-4);
    }
    expect(moved).toBeGreaterThan(0.1);
  });
});

it('without weights it stands where it is told', () => {
  const { drives: _, ...file } = tilting(0.1, undefined);
  const machine = readMachine(JSON.parse(JSON.stringify(file)));
  const read = readProgram(program(4), readOptions(machine));
  expect(traceOf(read, machine, { density: 1.27 }).joints).toEqual(read.joints);
});
