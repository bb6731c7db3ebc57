/**
 * The writer, by what the reader makes of its text. Rules of RS-274/NGC are those of the interpreter
 * overview adapted from NISTIR 6556; expected places, times and amounts are those of the motion
 * itself, which neither writer nor reader made.
 */
import { describe, expect, it } from 'vitest';
import { Fault } from '../../lib/base/fault.js';
import { seeded } from '../../lib/base/random.js';
import { DEG } from '../../lib/base/vector.js';
import { forward } from '../../lib/machine/forward.js';
import type { Machine } from '../../lib/machine/machine.js';
import type { Motion } from '../../lib/motion/motion.js';
import { BlockFlag, type Program, readOptions, readProgram } from '../../lib/program/read.js';
import { writeProgram } from '../../lib/program/write.js';
import {
  type Json,
  acJson,
  bcJson,
  headHeadJson,
  headTableJson,
  machineOf,
} from '../machine/machines.js';
import { type BlockOf, motionOf, pla, randomMotion } from './motions.js';

const HEADING = { part: 'gutter elbow' };
type DialectJson = Partial<Json['dialect']>;

function machineWith(dialect: DialectJson, json: Json = acJson()): Machine {
  return machineOf({ ...json, dialect: { ...json.dialect, ...dialect } });
}

function write(motion: Motion, machine: Machine, material = pla({ fan: 0 })) {
  const program = writeProgram(motion, machine, material, HEADING);
  const text = program.chunks.join('');
  return { ...program, text, lines: text.split('\n') };
}

const read = (text: string, machine: Machine): Program => readProgram(text, readOptions(machine));

/** Lines that are no comment, and begin after the block that goes to the start. */
function moves(lines: readonly string[]): string[] {
  const body = lines.filter((l) => l && !l.startsWith('('));
  const start = body.findIndex((l) => l.startsWith('G94 G1'));
  return body.slice(start + 1);
}

const rest = [0, 0, 0, 0, 0];
/** A-C machine: joints X Y Z A C. */
function linesOf(dialect: DialectJson, blocks: readonly BlockOf[], from = rest): string[] {
  const machine = machineWith({ end: [], ...dialect });
  return moves(write(motionOf(machine, from, blocks), machine).lines).slice(0, -1);
}
const move = (x: number, seconds: number, c = 0, y = 0): BlockOf => ({
  joints: [x, y, 0, 0, c * DEG],
  seconds,
  kind: 'transfer',
});

describe('round trip', () => {
  const dialects: [string, DialectJson][] = [
    ['G93, relative', { rotaryFeed: 'G93', filament: { letter: 'E', mode: 'relative' } }],
    ['G93, absolute', { rotaryFeed: 'G93', filament: { letter: 'E', mode: 'absolute' } }],
    [
      'G94 tip, absolute U',
      {
        rotaryFeed: 'G94',
        rotaryFeedMeaning: 'tip',
        filament: { letter: 'U', mode: 'absolute' },
      },
    ],
    [
      'G94 xyz, relative D, few decimals',
      {
        rotaryFeed: 'G94',
        rotaryFeedMeaning: 'xyz',
        filament: { letter: 'D', mode: 'relative' },
        decimals: { linear: 3, rotary: 3, filament: 3 },
      },
    ],
  ];
  const machines: [string, Json][] = [
    ['A-C table', acJson('body', [0, 0, 0], [0, 5, -40])],
    ['B-C table', bcJson('tool')],
    ['head and table', headTableJson()],
    ['head', headHeadJson()],
  ];
  const cases = dialects.flatMap(([d, dialect], k) => {
    const [m, json] = machines[k]!;
    return [1, 2, 3].map((seed) => [d, m, seed, machineWith(dialect, json)] as const);
  });

  it.each(cases)('%s on %s, seed %d: places, time, filament', (_d, _m, seed, machine) => {
    const motion = randomMotion(machine, seeded(seed), 3000);
    const { text, lineOf } = write(motion, machine);
    const program = read(text, machine);
    const { linear, rotary, filament } = machine.dialect.decimals;
    const n = motion.jointCount;
    // Last decimal half, plus what may wait for the next block where X Y Z hardly move in a turn.
    const linearRoom = 10 ** -linear / 2 + 5e-4 + 1e-9;
    const rotaryRoom = (10 ** -rotary / 2 + 1e-9) * DEG;
    let b = 0;
    let worst = 0;
    let fed = 0;
    let metered = 0;
    for (let i = 0; i < motion.kind.length; i++) {
      fed += motion.filament[i]!;
      for (; b < program.line.length && program.line[b]! <= lineOf[i]!; b++) {
        metered += program.filament[b]!;
      }
      for (let j = 0; j < n; j++) {
        const off = Math.abs(program.joints[(b - 1) * n + j]! - motion.joints[i * n + j]!);
        const room = machine.joints[j]!.kind === 'linear' ? linearRoom : rotaryRoom;
        worst = Math.max(worst, off / room);
      }
      // Errors of the filament never add up: half the last decimal, unless it waits (under 1 ms).
      if (motion.seconds[i]! > 2e-3)
        worst = Math.max(worst, Math.abs(metered - fed) / (0.51 * 10 ** -filament + 1e-9));
    }
    expect(worst).toBeLessThanOrEqual(1);
    expect(b).toBe(program.line.length);
  });

  it.each(cases)(
    '%s on %s, seed %d: time of every block that G93 states',
    (_d, _m, seed, machine) => {
      const motion = randomMotion(machine, seeded(seed), 3000);
      const { text, lineOf } = write(motion, machine);
      const program = read(text, machine);
      const written = new Float64Array(program.lines + 1);
      program.seconds.forEach((s, b) => (written[program.line[b]!]! += s));
      let planned = 0;
      let stated = 0;
      let line = lineOf[0]! - 1;
      for (let i = 0; i < motion.kind.length; i++) {
        planned += motion.seconds[i]!;
        for (; line < lineOf[i]!; line++) stated += written[line + 1]!;
      }
      expect(Math.abs(stated / planned - 1)).toBeLessThan(2e-3);
      expect(program.raised).toEqual([]);
    },
  );

  it.each(machines)('%s: the tip comes back within 1 um at every block, seed 7', (_m, json) => {
    const machine = machineWith({}, json);
    const motion = randomMotion(machine, seeded(7), 2000);
    const { text, lineOf } = write(motion, machine);
    const program = read(text, machine);
    const n = motion.jointCount;
    const lastOf = new Map<number, number>();
    program.line.forEach((line, b) => lastOf.set(line, b));
    let worst = 0;
    for (let i = 0; i < motion.kind.length; i++) {
      const b = lastOf.get(lineOf[i]!)!;
      const want = forward(machine, motion.joints.subarray(i * n, i * n + n));
      const got = forward(machine, program.joints.subarray(b * n, b * n + n));
      worst = Math.max(worst, Math.hypot(...got.tip.map((v, k) => v - want.tip[k]!)));
    }
    expect(worst).toBeLessThan(1e-3);
  });
});
