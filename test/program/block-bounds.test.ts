/**
 * What a line may ask for. Without bounds, five lines kept a command busy for hours. The limits are ours
 * (lib/base/bounds.ts); there is no outside source for them. That a refused line leaves nothing behind is
 * of NISTIR 6556: a block is executed or it is an error.
 */
import { describe, expect, test } from 'vitest';
import { BOUNDS } from '../../lib/base/bounds.js';
import { Fault } from '../../lib/base/fault.js';
import { BlockReader } from '../../lib/program/block.js';
import { BlockBounds } from '../../lib/program/block-bounds.js';
import { readOptions } from '../../lib/program/options.js';
import { readProgram, standardOptions } from '../../lib/program/read-program.js';
import { printer } from '../verify/prints.js';

const options = readOptions(printer());
const START = 'G21 G90 G94\nG1 X0 Y0 Z10 A0 C0 F1000\n';
const read = (lines: string): ReturnType<typeof readProgram> =>
  readProgram(`${START}${lines}\nM2\n`, options);

function faultOf(lines: string): Fault {
  try {
    read(lines);
  } catch (error) {
    if (error instanceof Fault) return error;
    throw error;
  }
  throw new Error('not refused');
}

describe('a line that asks for too much is refused with line, value, limit and unit', () => {
  test.each([
    ['G1 C99999999', 'program/too-far', 'C would go to 99999999 deg; the limit is 36000000 deg'],
    ['G1 C7236', 'program/many-turns', 'C turns 20.1 times in a block; the limit is 20'],
    ['G1 X10001', 'program/too-far', 'X would go to 10001 mm; the limit is 10000 mm'],
    ['G91 G1 Y-20000', 'program/too-far', 'Y would go to -20000 mm; the limit is 10000 mm'],
    ['G20 G1 X400', 'program/too-far', 'X would go to 10160 mm; the limit is 10000 mm'],
    ['G1 X1 E10001', 'program/too-far', 'E meters 10001 mm in a block; the limit is 10000 mm'],
    ['G4 P86401', 'program/too-long', 'the block lasts 86401 s; the limit is 86400 s'],
    ['G1 X100 F0.001', 'program/too-long', 'the block lasts 6000000 s; the limit is 86400 s'],
    ['G2 X0 Y0 I99999 J0', 'program/too-far', 'an arc of 99999 mm radius; the limit is 10000 mm'],
    ['G1 X[10**10]', 'program/too-large', 'the number 10000000000; the limit is 1000000000'],
    [`G1 X${'9'.repeat(200)}`, 'program/too-large', 'the number 1e+200; the limit is 1000000000'],
    ['#1=[2**1000*2**1000]', 'program/too-large', 'the number Infinity; the limit is 1000000000'],
  ])('%s', (line, code, words) => {
    const fault = faultOf(line);
    expect([fault.code, fault.at?.line]).toEqual([code, 3]);
    expect(fault.message).toContain(words);
    expect(fault.message).toMatch(/^line 3, column \d+: /);
  });

  test('what is just within is read', () => {
    const { seconds } = read('G1 C7200\nG1 X10000 F10000\nG1 X0\nG1 E10000\nG4 P86400');
    expect(seconds.length).toBe(6);
  });

  test('arcs are bounded in all: each line is small, their sum is not', () => {
    const bounds = new BlockBounds(new BlockReader('X', undefined, new Float64Array(2)), options);
    bounds.arc(10, BOUNDS.arcPieces);
    expect(() => bounds.arc(10, 1)).toThrow(
      `the arcs up to here make ${BOUNDS.arcPieces + 1} straight pieces; the limit is ${BOUNDS.arcPieces}`,
    );
  });
});

describe('a refused block leaves nothing behind', () => {
  const after = (bad: string): ReturnType<typeof readProgram> => {
    const faults: Fault[] = [];
    const program = readProgram(`${START}${bad}\nG1 X10\nM2\n`, {
      ...options,
      onFault: (fault) => faults.push(fault),
    });
    expect(faults.map((f) => f.at?.line)).toEqual([3]);
    return program;
  };
  const clean = readProgram(`${START}G1 X10\nM2\n`, options);

  test.each([
    ['a dwell and a move without its feed', 'G93 G4 P1 G1 X5'],
    ['units and a move that goes too far', 'G20 G91 G1 X999999'],
    ['a coordinate system with a bad move', 'G54 G1 X99999'],
    ['the way home by a place too far away', 'G28 X99999'],
    ['an arc of no circle', 'G18 G2 X5 Z5 I1 K0'],
    ['filament beyond the limit', 'G1 X3 E99999'],
  ])('%s', (_, bad) => {
    const { joints, seconds } = after(bad);
    // X10 is what it would be had the line not been there: absolute, in mm, at F1000.
    expect([...joints]).toEqual([...clean.joints]);
    expect([...seconds]).toEqual([...clean.seconds]);
  });
});

test("lines of the machine's own text are compared in one pass", () => {
  const machine = printer((json) => {
    json.dialect.start = [`M101 P${'{nozzleTemperature} '.repeat(11)}S`];
  });
  const own = readOptions(machine).own!;
  const line = `M101 P${'1 '.repeat(120)}`;
  expect(line.length).toBeLessThanOrEqual(256);
  // (120 choose 11) ways to share the blanks among the places: a regular expression tried them all.
  expect(own.lines[0]!.test(line)).toBe(false);
  expect(own.lines[0]!.test(`${line} S`)).toBe(true);
});

test('a line longer than an interpreter reads is refused at once, whatever it holds', () => {
  const text = `M101 P${' '.repeat(3_000_000)}x\nM2\n`;
  const read = (): unknown => readProgram(text, options);
  expect(read).toThrow(/3000007 characters, the limit is 256/);
});

test('deep brackets within a line are read', () => {
  const deep = `X${'['.repeat(120)}1${']'.repeat(120)}`;
  const { joints } = readProgram(`G21\nG0 ${deep}\nM2\n`, standardOptions('X'));
  expect([...joints]).toEqual([1]);
});
