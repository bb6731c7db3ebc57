/**
 * Filament block by block: a nozzle that is not heated, what is still drawn back, and sections out of line
 * with their neighbours, on both sides of each limit.
 */
import { describe, expect, it } from 'vitest';
import type { Finding } from '../../lib/base/fault.js';
import { readOptions, readProgram } from '../../lib/program/read-program.js';
import { reportFeed } from '../../lib/verify/feed.js';
import { Tally } from '../../lib/verify/tally.js';
import { traceOf } from '../../lib/verify/trace.js';
import { FILAMENT, printer } from './prints.js';

const machine = printer();

function judged(lines: readonly string[], of = machine): Finding[] {
  const program = readProgram([...lines, 'M2'].join('\n'), {
    ...readOptions(of),
  });
  const tally = new Tally();
  reportFeed(traceOf(program, of), program, of, tally);
  return tally.findings();
}
const MOVES = ['G21 G90 G94', 'G1 X0 Y0 Z0.2 A0 C0 F6000'];
const HEAT = 'M101 P210';

describe('the temperature of the nozzle', () => {
  const bead = 'X5 E0.2 F600';
  const codes = (...lines: string[]): string[] => judged(lines).map((f) => f.message);
  it('must be set before the first bead', () => {
    expect(codes(HEAT, ...MOVES, bead)).toEqual([]);
    expect(judged([...MOVES, bead, HEAT, 'X9 E0.2'])).toEqual([
      {
        code: 'verify/cold',
        severity: 'error',
        message: 'material is laid and no line before sets the temperature of the nozzle',
        at: { line: 3, time: expect.any(Number), point: [5, 0, 0.2], frame: 'part' },
      },
    ]);
  });
  it('must be a hundred degrees or more, and is told once until it is set anew', () => {
    expect(codes('M101 P100', ...MOVES, bead)).toEqual([]);
    const cold = 'material is laid with the nozzle set to 99.5 deg C, the limit is 100 deg C';
    expect(codes('M101 P99.5', ...MOVES, bead, 'X9 E0.2')).toEqual([cold]);
    expect(codes('M101 P99.5', ...MOVES, bead, HEAT, 'X9 E0.2')).toEqual([cold]);
    const off = 'material is laid with the nozzle set to 0 deg C, the limit is 100 deg C';
    expect(codes(HEAT, ...MOVES, bead, 'M101 P0', 'X9 E0.2', 'X12 E0.2')).toEqual([off]);
  });
  it('of a machine whose programs do not set it is no matter', () => {
    const other = printer((json) => (json.dialect.start = ['G21']));
    expect(judged([...MOVES, bead], other)).toEqual([]);
  });
  it('may be set by lines of its own, with other values beside it', () => {
    const own = printer((json) => {
      json.dialect.start = ['M101 Q{tableTemperature} P{nozzleTemperature} (heat up)'];
      json.dialect.nozzleTemperature = 'M109 S{value}';
    });
    expect(judged(['M101 Q60 P210 (heat up)', ...MOVES, bead], own)).toEqual([]);
    expect(judged(['M109 S215', ...MOVES, bead], own)).toEqual([]);
    expect(judged(['M109 S40', ...MOVES, bead], own)).toHaveLength(1);
    // A pattern is taken as it is written: neither more words nor fewer.
    expect(judged(['M101 Q60 P210', ...MOVES, bead], own)).toHaveLength(1);
  });
});

describe('filament that is drawn back', () => {
  it('must be primed before a bead', () => {
    const bead = (primed: string): Finding[] =>
      judged([HEAT, ...MOVES, 'X5 E0.5 F600', 'E-1', 'Y1', primed, 'X0 E0.5']);
    expect(bead('E1')).toEqual([]);
    expect(bead('E1.2')).toEqual([]);
    // 0.4 % of the bead, and 4 %.
    expect(bead('E0.998')).toEqual([]);
    const [found, ...more] = bead('E0.98');
    expect(more).toEqual([]);
    expect(found).toMatchObject({
      code: 'verify/unprimed',
      severity: 'error',
      message: 'the bead begins with 0.020 mm of filament still drawn back',
      at: { line: 8 },
    });
  });
});

describe('sections along a level', () => {
  /** Beads of 4 mm one after the other, as sections in mm2. */
  const level = (sections: readonly number[], z = 0.2, size = 4): string[] => {
    let x = 0;
    return sections.map((s) => {
      x += size;
      return `X${x} Y0 Z${z} E${((s * size) / FILAMENT).toFixed(5)} F600`;
    });
  };
  const steps = (lines: readonly string[]): (number | undefined)[] =>
    judged([HEAT, ...MOVES, ...lines])
      .filter((f) => f.code === 'verify/flow-step')
      .map((f) => f.at!.line);
  const FIRST = 4;

  it.each([
    ['alike', [0.1, 0.1, 0.1, 0.1, 0.1], []],
    ['1.75 times as much', [0.1, 0.1, 0.175, 0.1, 0.1], []],
    ['1.9 times as much', [0.1, 0.1, 0.19, 0.1, 0.1], [FIRST + 2]],
    ['less by 1.75', [0.175, 0.175, 0.1, 0.175, 0.175], []],
    ['less by 1.9', [0.19, 0.19, 0.1, 0.19, 0.19], [FIRST + 2]],
    ['the first', [0.19, 0.1, 0.1, 0.1], [FIRST]],
    ['the last', [0.1, 0.1, 0.1, 0.19], [FIRST + 3]],
    ['neighbours that differ by a fifth', [0.1, 0.1, 0.22, 0.12, 0.12], []],
    ['neighbours that differ by a twentieth', [0.1, 0.1, 0.22, 0.105, 0.105], [FIRST + 2]],
    ['two alone', [0.1, 0.3], []],
    ['a step that stays', [0.1, 0.1, 0.3, 0.3, 0.3], []],
  ])('%s', (_, sections, want) => {
    expect(steps(level(sections))).toEqual(want);
  });

  it('are compared within one level', () => {
    const over = level([0.1, 0.1, 0.1, 0.1], 0.4).map((l, i) => (i ? l : l.replace('X4 ', 'X4 ')));
    expect(steps([...level([0.1, 0.1, 0.1, 0.3]).slice(0, 2), ...over])).toEqual([]);
    const two = [...level([0.1, 0.1]), 'Z0.4', ...level([0.3, 0.3], 0.4)];
    expect(steps(two)).toEqual([]);
    const near = [...level([0.1, 0.1], 0.2), ...level([0.3], 0.204), ...level([0.1, 0.1], 0.2)];
    expect(steps(near)).toEqual([FIRST + 2]);
  });

  it('of beads shorter than the bore say nothing', () => {
    expect(steps(level([0.1, 0.1, 0.4, 0.1, 0.1], 0.2, 0.39))).toEqual([]);
    expect(steps(level([0.1, 0.1, 0.4, 0.1, 0.1], 0.2, 0.41))).toEqual([FIRST + 2]);
  });

  it('go on round a bead that closes: its last block stands before its first', () => {
    const square = (sections: readonly number[], back = 0): string[] =>
      ['X8 Y0', 'X8 Y8', 'X0 Y8', `X0 Y${back}`].map(
        (to, i) => `${to} E${((sections[i]! * 8) / FILAMENT).toFixed(5)} F600`,
      );
    const rest = ['Y20', ...['X8', 'X0'].map((to) => `${to} E${(0.8 / FILAMENT).toFixed(5)}`)];
    // The last side is as the first: no step, where the beads come back to where they began.
    const closed = [...square([0.2, 0.2, 0.1, 0.2]), ...rest];
    expect(steps(closed)).toEqual([FIRST + 2]);
    // After it the next bead of the level is half as thick: it is not the neighbour of the last side.
    expect(steps([...square([0.2, 0.2, 0.2, 0.2]), ...rest])).toEqual([]);
    expect(steps([...square([0.2, 0.1, 0.1, 0.1]), ...rest])).toEqual([FIRST]);
    expect(steps([...square([0.1, 0.1, 0.1, 0.2]), ...rest])).toEqual([FIRST + 3]);
  });

  it('are told with all three, and the length of the block', () => {
    const [found] = judged([HEAT, ...MOVES, ...level([0.1, 0.1, 0.25, 0.1, 0.1])]);
    expect(found).toMatchObject({
      severity: 'warning',
      message:
        "the bead's section is 0.2500 mm2 here, 0.1000 and 0.1000 mm2 in the beads next to it",
    });
    const twice = [
      ...level([0.1, 0.1, 0.25, 0.1, 0.1]),
      'X0 Z0.4',
      ...level([0.1, 0.1, 0.25, 0.1, 0.1], 0.4),
    ];
    const [both] = judged([HEAT, ...MOVES, ...twice]);
    expect(both!.message).toContain('2 places in run 1, 8.0 mm in all (lines 6, 12)');
  });
});
