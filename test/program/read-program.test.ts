/**
 * The reader against RS-274/NGC. Where a case is published the source stands beside it: "overview"
 * is the interpreter overview adapted from NISTIR 6556 (Kramer, Proctor, Messina 2000), "examples"
 * the worked examples published with that interpreter.
 */
import { describe, expect, it } from 'vitest';
import { Fault } from '../../lib/base/fault.js';
import { DEG } from '../../lib/base/vector.js';
import {
  BlockFlag,
  type Program,
  type ProgramReadOptions,
  readProgram,
  standardOptions,
} from '../../lib/program/read-program.js';

const END = '\nM2\n';
const DEGREES = 'ABC';

/** Reads with the standard alone, from `at`. */
function run(
  lines: string,
  at: Record<string, number> = {},
  more: Partial<ProgramReadOptions> = {},
) {
  const options = standardOptions();
  const start = options.axes.map((a) => (at[a.letter] ?? 0) * (a.kind === 'rotary' ? DEG : 1));
  return readProgram(lines + END, { ...options, start, ...more });
}

const letters = 'XYZABC';
/** Joint values at the end of block b (the last if left out), deg for rotary axes. */
function place(p: Program, b = p.seconds.length - 1): Record<string, number> {
  const values = [...p.joints.subarray(6 * b, 6 * b + 6)];
  return Object.fromEntries(
    [...letters].map((l, i) => [l, DEGREES.includes(l) ? values[i]! / DEG : values[i]!]),
  );
}

function expectPlace(p: Program, want: Record<string, number>, b?: number): void {
  const got = place(p, b);
  for (const [l, v] of Object.entries(want)) expect(got[l], l).toBeCloseTo(v, 9);
}

function faultOf(text: string, options: ProgramReadOptions = standardOptions()): Fault {
  try {
    readProgram(text, options);
  } catch (error) {
    if (error instanceof Fault) return error;
    throw error;
  }
  throw new Error(`accepted: ${text}`);
}

describe('numbers and expressions', () => {
  it('blanks mean nothing, not even inside a number (overview: "g0x +0. 12 34y 7")', () => {
    expectPlace(run('g0x +0. 12 34y 7'), { X: 0.1234, Y: 7 });
  });

  // Overview, except where another source is named.
  const values: [string, number][] = [
    ['[2.0 / 3 * 1.5 - 5.5 / 11.0]', 0.5],
    ['FIX[-2.8]', -3],
    ['FIX[2.8]', 2],
    ['FUP[2.8]', 3],
    ['FUP[-2.8]', -2],
    // Arithmetic and trigonometry, closed form.
    ['[2 ** 3 * 2]', 16],
    ['[2 * 2 ** 3]', 16],
    ['[10 - 2 - 3]', 5],
    ['[7 MOD 4 + 1]', 4],
    ['[1 AND 0 OR 1]', 1],
    ['[1 XOR 1]', 0],
    ['SIN[30]', 0.5],
    ['ACOS[0.5]', 60],
    ['ATAN[1]/[-1]', 135],
    ['SQRT[ABS[-9]]', 3],
    ['ROUND[2.5]', 3],
    ['ROUND[-2.5]', -3],
    ['EXP[LN[2]]', 2],
    ['-[1 + 2]', -3],
    ['.5', 0.5],
    ['-.5', -0.5],
    ['+5.', 5],
    ['00012', 12],
    ['123456789.123456789', 123456789.123456789],
  ];
  it.each(values)('X%s is %d', (text, value) => {
    expectPlace(run(`G0 X${text}`), { X: value });
  });

  it('a setting takes effect after its block (overview: #3=6 G0 X#3 moves to 15)', () => {
    const p = run('#3=15\n#3=6 G0 X#3\nX#3');
    expectPlace(p, { X: 15 }, 0);
    expectPlace(p, { X: 6 }, 1);
  });

  it('parameters by parameter and by expression', () => {
    expectPlace(run('#1=2 #2=7\nG0 X##1 Y#[1+1]'), { X: 7, Y: 7 });
  });
});

describe('accepted', () => {
  // Overview; ";" is a later extension of the same interpreter [from memory].
  it.each([
    'g0 x1',
    'G0 X1 ; rest (of the line',
    'N123456 G0 X1',
    'G0 X.5 Y-.5 Z+5.',
    'G4 P0.5',
    'G93 G0 X1',
    'G0 X1 (comment) Y2 (another)',
    '/G0 X5',
    '(nothing)',
    '',
    'G17 G21 G40 G49 G54 G61 G80 G90 G94 G98',
    'M3 S1000\nM8\nM5 M9',
  ])('%s', (line) => {
    expect(run(line).end).toBe('M2');
  });

  it('bare axis words keep the motion mode', () => {
    expectPlace(run('G1 F60 X1\nX2\nY3'), { X: 2, Y: 3 });
  });

  it('% ... %: the second one ends the program, what follows is not read', () => {
    const p = readProgram('%\nG0 X1\n%\nrubbish', standardOptions());
    expect(p.end).toBe('%');
    expect(p.seconds).toHaveLength(1);
  });

  it('text after M2 is not read', () => {
    expect(readProgram('G0 X1\nM2\nrubbish (', standardOptions()).lines).toBe(2);
    expect(readProgram('M30\nrubbish', standardOptions()).end).toBe('M30');
  });

  it('a block with a slash runs when the switch is off', () => {
    expectPlace(run('/G0 X5', {}, { blockDelete: false }), { X: 5 });
    expect(run('/G0 X5').seconds).toHaveLength(0);
  });

  it('lines may end with carriage return and line feed, and come in pieces', () => {
    const p = readProgram(['G0 X1\r\nX2\r\n', 'X3\r\nM2'], standardOptions());
    expect([...p.line]).toEqual([1, 2, 3]);
  });

  it('a dwell takes its seconds', () => {
    const p = run('G4 P0.5');
    expect(p.seconds[0]).toBe(0.5);
    expect(p.flags[0]).toBe(BlockFlag.dwell);
  });
});

describe('refused', () => {
  // Overview; the column is that of the offending text.
  const cases: [string, string, number?][] = [
    ['G93 G1 X1', 'feed-missing'],
    ['G1 X1', 'feed-missing'],
    ['G1 X1 F0', 'feed-zero'],
    ['G93 G1 X1 F0', 'feed-zero'],
    ['G1 X1 F-5', 'negative-word', 7],
    ['G1 X1 F10 F20', 'repeated-word', 11],
    ['G0 X1 X2', 'repeated-word', 7],
    ['G0 G1 X1 F1', 'same-group', 4],
    ['G90 G91', 'same-group'],
    ['G93 G94', 'same-group'],
    ['G54 G55', 'same-group'],
    ['M3 M4', 'same-group'],
    ['G1 G92 X1', 'axes-claimed-twice'],
    ['G0 X1 (open', 'comment-open', 7],
    ['G0 X1 (one (two))', 'comment-nested', 12],
    ['G0 N5 X1', 'late-line-number', 4],
    ['X.', 'bad-number'],
    ['G0 X1,5', 'bad-character', 6],
    ['G0 XNaN', 'bad-number', 5],
    ['G0 X1e3', 'exponent', 6],
    ['G0 X1e-7', 'exponent', 6],
    ['G0 X--1', 'bad-number'],
    ['G0 X', 'bad-number'],
    ['G0 X[1+2', 'bad-expression'],
    ['G0 X[1/0]', 'bad-expression'],
    ['G0 XSQRT[-1]', 'bad-expression'],
    ['G0 XFOO[1]', 'bad-number'],
    ['#0=1', 'bad-parameter'],
    ['#6000=1', 'bad-parameter'],
    ['E2', 'unknown-letter', 1],
    ['G0 X1 E2', 'unknown-letter', 7],
    ['U1', 'unknown-letter'],
    ['M3 S(speed)100', 'bad-number', 5],
    ['G0 X1 M104', 'unknown-code', 7],
    ['G7', 'unknown-code'],
    ['G1.5 X1 F1', 'unknown-code'],
    ['M2.5', 'unknown-code'],
    ['M3 M6 M8 M48 M0', 'many-m-words'],
    ['G41', 'code-not-run'],
    ['G81 X1 R1', 'code-not-run'],
    ['X1', 'no-motion-mode'],
    ['G80 X1', 'no-motion-mode'],
    ['G0', 'no-axis-words'],
    ['G92', 'no-axis-words'],
    ['G53 X1', 'no-motion-mode'],
    ['G53', 'g53-alone'],
    ['G4', 'dwell-time'],
    ['G4 P-1', 'dwell-time'],
    ['G10 L2 P0 X1', 'g10'],
    ['G10 L2 P1.5 X1', 'g10'],
    ['G10 P1 X1', 'g10'],
    ['G0 X1 P1', 'unused-word', 7],
    ['G0 X1 I1', 'unused-word'],
    ['G0 X1 R1', 'unused-word'],
    ['M3 S-1', 'negative-word'],
    [`G0 X1 (${'x'.repeat(250)})`, 'long-line'],
    ['G2 X1 F1', 'arc'],
    ['G2 X1 I1 R1 F1', 'arc'],
    ['G2 X1 I0.4 F1', 'arc'],
    ['G2 X1 K1 F1', 'arc'],
    ['G2 X10 R4 F1', 'arc'],
    ['G2 X0 R4 F1', 'arc'],
    ['G2 I5 F1', 'no-axis-words'],
  ];
  it.each(cases)('%s: program/%s', (line, what, column) => {
    const fault = faultOf(`G21\n${line}${END}`);
    expect(fault.code).toBe(`program/${what}`);
    expect(fault.at?.line).toBe(2);
    if (column) expect(fault.at?.column).toBe(column);
    expect(fault.message).toMatch(/^line 2, column \d+: /);
  });

  it('a program without an end', () => {
    expect(faultOf('G0 X1\n').code).toBe('program/no-end');
    expect(faultOf('%\nG0 X1\n').code).toBe('program/no-end');
  });

  it('a line of 256 characters is read, one more is not', () => {
    const line = (n: number) => `G0 X1 (${'x'.repeat(n - 8)})`;
    expect(line(256)).toHaveLength(256);
    expect(run(line(256)).end).toBe('M2');
    expect(faultOf(line(257) + END).code).toBe('program/long-line');
  });

  it('all bad lines are told, the others still run', () => {
    const faults: Fault[] = [];
    const p = readProgram('G0 X1\nX1e-7\nY2\nG1 Z3\nM2', {
      ...standardOptions(),
      onFault: (f) => faults.push(f),
    });
    expect(faults.map((f) => [f.code, f.at?.line])).toEqual([
      ['program/exponent', 2],
      ['program/feed-missing', 4],
    ]);
    expectPlace(p, { X: 1, Y: 2, Z: 0 });
  });
});

describe('coordinates', () => {
  it('G92 at X4: the offset is -3 and X7 does not move (examples)', () => {
    const p = run('G92 X7\nG0 X7', { X: 4 });
    expectPlace(p, { X: 4 });
    expectPlace(run('G92 X7\nG0 X[7+#5211]', { X: 4 }), { X: 1 });
  });

  it('G92.2 keeps the parameters, G92.3 brings the offset back, G92.1 clears both', () => {
    expectPlace(run('G92 X7\nG92.2\nG0 X7', { X: 4 }), { X: 7 });
    expectPlace(run('G92 X7\nG92.2\nG92.3\nG0 X7', { X: 4 }), { X: 4 });
    expectPlace(run('G92 X7\nG92.1\nG92.3\nG0 X7', { X: 4 }), { X: 7 });
  });

  it('G10 L2 and G53 (examples: machine zero reads as -10 -20 -30)', () => {
    const p = run('G10 L2 P1 X10 Y20 Z30\nG54\nG53 G0 X0 Y0 Z0\nG0 X-10 Y-20 Z-30\nX0', { X: 5 });
    expectPlace(p, { X: 0, Y: 0, Z: 0 }, 0);
    expectPlace(p, { X: 0, Y: 0, Z: 0 }, 1);
    expectPlace(p, { X: 10 }, 2);
  });

  it('nine coordinate systems, each with its origin', () => {
    const systems = ['G54', 'G55', 'G56', 'G57', 'G58', 'G59', 'G59.1', 'G59.2', 'G59.3'];
    const set = systems.map((_, i) => `G10 L2 P${i + 1} X${10 * (i + 1)}`).join('\n');
    systems.forEach((s, i) => expectPlace(run(`${set}\n${s}\nG0 X1`), { X: 10 * (i + 1) + 1 }));
  });

  it('G10 L2 of a system that is not in force moves nothing yet', () => {
    expectPlace(run('G10 L2 P2 X50\nG0 X1'), { X: 1 });
    expectPlace(run('G10 L2 P1 X50\nG0 X1'), { X: 51 });
  });

  it('G91 and G90 (examples)', () => {
    const p = run('G21 G91 F100 G1 X1 Y2\nG1 X1\nG90\nG1 X1');
    expectPlace(p, { X: 1, Y: 2 }, 0);
    expectPlace(p, { X: 2, Y: 2 }, 1);
    expectPlace(p, { X: 1, Y: 2 }, 2);
  });

  it('G20: inches for lengths, degrees stay degrees (definition of the inch)', () => {
    expectPlace(run('G20 G0 X1 A10\nG21 Y1'), { X: 25.4, A: 10, Y: 1 });
  });

  it('G28 goes by the named place to the stored one (overview)', () => {
    const p = run('#5161=3 #5162=4\nG28 Z9', { X: 1, Y: 1, Z: 1 });
    expectPlace(p, { X: 1, Y: 1, Z: 9 }, 0);
    expectPlace(p, { X: 3, Y: 4, Z: 0 }, 1);
    expectPlace(run('#5181=7\nG30', { X: 1 }), { X: 7 });
  });

  it('a place that is not known stays so under G91 and is refused where an arc begins', () => {
    const start = new Float64Array(6).fill(NaN);
    const options = { ...standardOptions(), start };
    expect(faultOf(`G2 X1 Y1 I1 F1${END}`, options).code).toBe('program/place-unknown');
    const p = readProgram(`G91 G0 Z5\nG90 G1 X1 Y2 Z3 A0 B0 C0 F60\nX2${END}`, options);
    expect(place(p, 0).Z).toBeNaN();
    expect(p.flags[0]! & BlockFlag.fromUnknown).toBeTruthy();
    expect(p.flags[1]! & BlockFlag.fromUnknown).toBeTruthy();
    expect(p.flags[2]! & BlockFlag.fromUnknown).toBe(0);
    expect(p.seconds[2]).toBeCloseTo(1, 12);
  });

  it('G92 at a place that is not known makes it known', () => {
    const start = new Float64Array(6).fill(NaN);
    const p = readProgram(`G92 X7\nG91 G0 X1${END}`, { ...standardOptions(), start });
    expect(place(p).X).toBe(8);
  });
});

describe('feed', () => {
  // Worked examples published with the interpreter (examples); time is length / feed.
  it('G93 G1 X20 C90 F2 from X10: 20 mm/min over 10 mm, half a minute', () => {
    expect(run('G93 G1 X20 C90 F2', { X: 10 }).seconds[0]).toBeCloseTo(30, 9);
  });
  it('G93 G1 X13 Y4 C45 F3 from X10 Y0: 15 mm/min over 5 mm', () => {
    expect(run('G93 G1 X13 Y4 C45 F3', { X: 10 }).seconds[0]).toBeCloseTo(20, 9);
  });
  it('G93 G1 C0 F6 from C90: 540 deg/min over 90 deg', () => {
    expect(run('G93 G1 C0 F6', { C: 90 }).seconds[0]).toBeCloseTo(10, 9);
  });
  it('X 0.001 and C 90 at F2: raised to 0.1 mm/min, 0.01 min instead of 0.5', () => {
    const p = run('G93 G1 X0.001 C90 F2');
    expect(p.seconds[0]).toBeCloseTo(0.6, 9);
    expect(p.flags[0]! & BlockFlag.raised).toBeTruthy();
    expect(p.raised).toHaveLength(1);
    expect(p.raised[0]!.askedSeconds).toBe(30);
    expect(p.raised[0]!.lastsSeconds).toBeCloseTo(0.6, 9);
  });
  it('F2 in G93 is half a minute (definition of G93)', () => {
    expect(run('G93 G1 X1000 F2').seconds[0]).toBeCloseTo(30, 9);
  });
  it('G94 after G93 wants F again', () => {
    expect(faultOf(`G93 G1 X1 F2\nG94 X2${END}`).code).toBe('program/feed-missing');
    expect(run('G93 G1 X1 F2\nG94 X2 F60').seconds[1]).toBeCloseTo(1, 9);
  });
  it('G94 counts X Y Z if they move, else degrees (F rule of the overview)', () => {
    expect(run('G1 X3 Y4 A90 F60').seconds[0]).toBeCloseTo(5, 9);
    expect(run('G1 A30 C40 F60').seconds[0]).toBeCloseTo(50, 9);
  });
  it('inches: 60 inches a minute are 1 inch a second, 60 deg stay 60 deg', () => {
    expect(run('G20 G1 X2 F60').seconds[0]).toBeCloseTo(2, 9);
    expect(run('G20 G1 A2 F60').seconds[0]).toBeCloseTo(2, 9);
  });
  it('a rapid lasts as long as its slowest axis', () => {
    const axes = standardOptions().axes.map((a) => ({
      ...a,
      speed: a.kind === 'linear' ? 10 : 90,
    }));
    const p = run('G0 X20 Y5 C90', {}, { axes });
    expect(p.seconds[0]).toBeCloseTo(2, 9);
    expect(p.flags[0]).toBe(BlockFlag.rapid);
  });
});

describe('arcs', () => {
  /** Greatest distance of the blocks' ends from a circle in two of the axes. */
  function offCircle(p: Program, axes: [string, string], centre: [number, number], r: number) {
    const off = [...p.seconds.keys()].map((b) => {
      const at = place(p, b);
      return Math.abs(Math.hypot(at[axes[0]]! - centre[0], at[axes[1]]! - centre[1]) - r);
    });
    return Math.max(...off);
  }
  const total = (p: Program) => p.seconds.reduce((a, b) => a + b, 0);

  it('at X7 Y7 Z0 `G17 G2 x10 y16 i3 j4 z9`: centre 10 11, radius 5 (examples)', () => {
    const p = run('F60 G17 G2 x10 y16 i3 j4 z9', { X: 7, Y: 7 });
    expectPlace(p, { X: 10, Y: 16, Z: 9 });
    expect(offCircle(p, ['X', 'Y'], [10, 11], 5)).toBeLessThan(1e-9);
    // Clockwise from (-3, -4) to (0, 5) about the centre: pi - atan(3/4), closed form.
    const sweep = Math.PI - Math.atan2(3, 4);
    expect(total(p)).toBeCloseTo(Math.hypot(5 * sweep, 9), 9);
    // On the way left of the centre (clockwise), height in step with the angle.
    const mid = place(p, Math.floor(p.seconds.length / 2));
    expect(mid.X).toBeLessThan(10);
  });

  it('pieces stay within the arc error: sagitta r (1 - cos(step/2)), closed form', () => {
    const p = run('F60 G3 X-100 I-100', { X: 100 }, { arcError: 0.01 });
    const step = Math.PI / p.seconds.length;
    expect(100 * (1 - Math.cos(step / 2))).toBeLessThanOrEqual(0.01);
    // Largest step 1.6205829 deg for 0.01 mm at 100 mm: 112 pieces for half a turn.
    expect(p.seconds).toHaveLength(112);
  });

  it.each([
    ['G17', 'X', 'Y', 'I'],
    ['G18', 'Z', 'X', 'K'],
    ['G19', 'Y', 'Z', 'J'],
  ] as const)('%s: G3 turns from %s to %s', (plane, first, second, centre) => {
    const p = run(`F60 ${plane} G3 ${first}0 ${second}10 ${centre}-10`, { [first]: 10 });
    expect(offCircle(p, [first, second], [0, 0], 10)).toBeLessThan(1e-9);
    expect(total(p)).toBeCloseTo(5 * Math.PI, 9);
  });

  it('radius: positive for the short arc, negative for the long one', () => {
    const short = run('F60 G3 X0 Y10 R10', { X: 10 });
    const long = run('F60 G3 X0 Y10 R-10', { X: 10 });
    expect(total(short)).toBeCloseTo(5 * Math.PI, 9);
    expect(offCircle(short, ['X', 'Y'], [0, 0], 10)).toBeLessThan(1e-9);
    expect(total(long)).toBeCloseTo(15 * Math.PI, 9);
    expect(offCircle(long, ['X', 'Y'], [10, 10], 10)).toBeLessThan(1e-9);
    const back = run('F60 G2 X0 Y10 R10', { X: 10 });
    expect(offCircle(back, ['X', 'Y'], [10, 10], 10)).toBeLessThan(1e-9);
  });

  it('a full circle where start and end are one', () => {
    expect(total(run('F60 G2 X10 I-10', { X: 10 }))).toBeCloseTo(20 * Math.PI, 9);
    expect(total(run('F60 G3 X10 I-10', { X: 10 }))).toBeCloseTo(20 * Math.PI, 9);
  });

  it('G93: the whole arc in one over F minutes', () => {
    const p = run('G93 G3 X-10 I-10 F2', { X: 10 });
    expect(total(p)).toBeCloseTo(30, 9);
    expect(p.flags[0]).toBe(BlockFlag.arc | BlockFlag.inverseTime);
  });

  it('rotary axes run evenly along the arc', () => {
    const p = run('F60 G3 X-10 I-10 C90', { X: 10 });
    const n = p.seconds.length;
    expect(place(p, 0).C).toBeCloseTo(90 / n, 9);
    expectPlace(p, { C: 90 });
  });
});

describe('for a machine: a filament letter, codes of its own, a motion code without words', () => {
  const own = { codes: new Set(['M104', 'G28.4']), lines: [/^heat up$/] };
  const axes = standardOptions().axes;
  const printer = (mode: 'absolute' | 'relative'): ProgramReadOptions => ({
    axes,
    filament: { letter: 'E', mode },
    own,
    bareMotion: true,
  });
  const runs = (lines: string, mode: 'absolute' | 'relative' = 'relative') =>
    readProgram(lines + END, printer(mode));

  it('filament as steps, as a running sum, and set by G92', () => {
    expect([...runs('G1 F60 X1 E2\nX2 E3').filament]).toEqual([2, 3]);
    expect([...runs('G1 F60 X1 E2\nX2 E3', 'absolute').filament]).toEqual([2, 1]);
    const p = runs('G92 E10\nG1 F60 X1 E12\nG92 E0\nX2 E1', 'absolute');
    expect([...p.filament]).toEqual([2, 1]);
    expectPlace(p, { X: 2 });
  });

  it('filament alone is timed by its own length', () => {
    expect(runs('G1 E-2 F60').seconds[0]).toBeCloseTo(2, 12);
  });

  it('an exponent as a computer writes it is refused, a filament word is not', () => {
    for (const word of ['X1e-7', 'X1E-7', 'X1e+21', 'X1.5e-7 Y2', 'X1e3']) {
      expect(faultOf(`G0 ${word}${END}`, printer('relative')).code).toBe('program/exponent');
    }
    for (const word of ['X1 E-7', 'X1E-7.0', 'X1E7', 'X1 e-7']) {
      expect(runs(`G1 F60 ${word}`).filament[0]).toBe(Number(word.split(/E/i)[1]));
    }
  });

  it('a code of its own takes the words of its block, unless a motion code stands there too', () => {
    const p = runs('M104 S200 P3 X5 F9\nG1 X1 F60 M104\nheat up');
    expect(p.own.map((o) => o.line)).toEqual([1, 2, 3]);
    expect(p.seconds).toHaveLength(1);
    expectPlace(p, { X: 1 });
    expect(p.seconds[0]).toBeCloseTo(1, 12);
  });

  it('after a G code of its own the place is not known', () => {
    const p = runs('G0 X1 Y1\nG28.4 X0\nG0 X3');
    expect(place(p).X).toBe(3);
    expect(place(p).Y).toBeNaN();
  });

  it('a motion code alone sets the mode; a full circle needs no axis word', () => {
    expectPlace(runs('G1 F60\nX2'), { X: 2 });
    const circle = runs('G2 I5 F60');
    expect(circle.seconds.reduce((a, b) => a + b, 0)).toBeCloseTo(10 * Math.PI, 9);
  });

  it('codes that are neither of the standard nor its own stay refused', () => {
    expect(faultOf(`M105${END}`, printer('relative')).code).toBe('program/unknown-code');
    expect(faultOf(`heat down${END}`, printer('relative')).code).toMatch(/^program\//);
  });
});
