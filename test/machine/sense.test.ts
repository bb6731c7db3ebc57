/**
 * What an operator sees of each turning joint, against the formula of the five-axis literature: a table
 * that turns by +A and +C carries the point p of the part to r + d + Rx(A) [ Rz(C)(p - r) - d ] (B in place
 * of A: Ry); Lee and She, Int J Adv Manuf Technol 13(9), 1997, 658-665; Sorby, Int J Mach Tools Manuf 47,
 * 2007, 299-306. A head that turns by +B about Y moves what it carries by Ry(B). The other sense turns all
 * of them round that carry the table (ISO 841: tool against workpiece).
 */
import { readFileSync } from 'node:fs';
import { describe, expect, it, test } from 'vitest';
import { DEG, type Vec3 } from '../../lib/base/vector.js';
import type { Machine } from '../../lib/machine/machine.js';
import { readMachine } from '../../lib/machine/read-files.js';
import { sensesOf } from '../../lib/machine/sense.js';
import { acJson, headHeadJson } from './machines.js';

const sample = (name: string, positive: 'body' | 'tool'): Machine => {
  const url = new URL(`../../samples/machines/${name}.json`, import.meta.url);
  return readMachine({ ...(JSON.parse(readFileSync(url, 'utf8')) as object), positive });
};

// Written out here, apart from the library's own frames.
const [c, s] = [Math.cos(10 * DEG), Math.sin(10 * DEG)];
const TURNS: Record<string, (p: Vec3, sign: number) => Vec3> = {
  A: ([x, y, z], k) => [x, c * y - k * s * z, k * s * y + c * z],
  B: ([x, y, z], k) => [c * x + k * s * z, y, -k * s * x + c * z],
  C: ([x, y, z], k) => [c * x - k * s * y, k * s * x + c * y, z],
};
const EDGES: Record<string, Vec3> = {
  'X+ (your right)': [80, 0, 0],
  'X- (your left)': [-80, 0, 0],
  'Y+ (far from you)': [0, 80, 0],
  'Y- (near you)': [0, -80, 0],
};
/** Name of the edge that comes down furthest by the formula. */
const lowest = (letter: string, sign: number): string =>
  Object.entries(EDGES).sort(
    ([, a], [, b]) => TURNS[letter]!(a, sign)[2] - TURNS[letter]!(b, sign)[2],
  )[0]![0];
const opposite: Record<string, string> = {
  'X+ (your right)': 'X- (your left)',
  'X- (your left)': 'X+ (your right)',
  'Y+ (far from you)': 'Y- (near you)',
  'Y- (near you)': 'Y+ (far from you)',
};

describe.each(['body', 'tool'] as const)('positive: %s', (positive) => {
  const sign = positive === 'body' ? 1 : -1;

  it.each([
    ['table-table-ac', 'A'],
    ['table-table-bc', 'B'],
  ])('%s: the edge of the table that goes down', (name, letter) => {
    const told = sensesOf(sample(name, positive));
    const down = lowest(letter, sign);
    expect(told.map((t) => t.joint)).toEqual([letter, 'C']);
    expect(told[0]!.text).toBe(
      `${letter}+10: the table edge on the side of ${down} goes down, the one on the side of ${opposite[down]} goes up`,
    );
  });

  it.each(['table-table-ac', 'table-table-bc', 'head-table'])(
    '%s: where the near edge of the turning table goes',
    (name) => {
      const { text } = sensesOf(sample(name, positive)).find((t) => t.joint === 'C')!;
      const right = TURNS['C']!(EDGES['Y- (near you)']!, sign)[0] > 0;
      // X to Y is counter-clockwise seen from +Z (ISO 80000-2, right-handed frames).
      expect(text).toBe(
        `C+10: the table turns ${right ? 'counter-clockwise' : 'clockwise'} seen from above, its edge on the side of Y- (near you) goes to the ${right ? 'right' : 'left'}`,
      );
    },
  );

  it('head-table: where the tip goes, which is the same in both senses, for it is the tool', () => {
    const { text } = sensesOf(sample('head-table', positive))[0]!;
    // The tip hangs 80 mm under the axis.
    expect(TURNS['B']!([0, 0, -80], 1)[0]).toBeLessThan(0);
    expect(text).toBe(
      'B+10: the tip of the nozzle goes towards X- (your left); the upper end of the head leans towards X+ (your right) of the tip',
    );
  });
});

test('an axis that is turned round in the file turns the sentence round', () => {
  const json = acJson();
  const plain = sensesOf(readMachine(json))[0]!.text;
  json.table.joints[0]!.axis = [-1, 0, 0];
  const turned = sensesOf(readMachine(json))[0]!.text;
  expect(plain).toMatch(/Y- \(near you\) goes down/);
  expect(turned).toMatch(/Y\+ \(far from you\) goes down/);
});

test('a head that turns about the vertical, and a table tilted about a diagonal', () => {
  expect(sensesOf(readMachine(headHeadJson()))[0]!.text).toBe(
    'C+10: the head turns counter-clockwise seen from above',
  );
  const json = acJson();
  json.table.joints[0]!.axis = [1, 1, 0];
  // About (1, 1, 0) the point (1, -1, 0) goes to -Z: the axis times the point is (0, 0, -2).
  expect(sensesOf(readMachine(json))[0]!.text).toMatch(/side of X\+ and Y- goes down/);
});
