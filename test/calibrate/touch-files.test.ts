/** Readings and plans as files, and the program of touches read line by line. */
import { describe, expect, it } from 'vitest';
import { applyPoint, compose, inverse } from '../../lib/base/frame.js';
import {
  formText,
  planFile,
  planText,
  readReadings,
  readingsText,
} from '../../lib/calibrate/touch-files.js';
import { stateAt } from '../../lib/calibrate/deviation-model.js';
import { planTouches } from '../../lib/calibrate/touch-plan.js';
import { touchProgram } from '../../lib/calibrate/program.js';
import { machineFromHead, machineFromPart } from '../../lib/machine/joint-chain.js';
import { headDistance } from '../../lib/machine/solid-distance.js';
import { readOptions, readProgram } from '../../lib/program/read-program.js';
import { BALL, FACE, errorsOf, sampleMachine, touched } from './machines.js';

const machine = sampleMachine('table-table-ac');
const plan = planTouches(machine, [FACE, BALL], { touches: 40, noise: 0.02 });
const text = planText(
  plan,
  [{ kind: 'face' }, { kind: 'ball', at: [45, 0, 20], diameter: 20 }],
  0.02,
);
const touches = touched(plan, stateAt(plan.model, errorsOf(plan.model, 3)), () => 0);

describe('readings', () => {
  const csv = readingsText(machine, touches);
  const lines = csv.trimEnd().split('\n');
  const read = (table: string): ReturnType<typeof readReadings> =>
    readReadings(table, machine, text, 'readings.csv');

  it('come back from CSV to its five decimals', () => {
    const { touches: again, missing } = read(csv);
    expect(missing).toEqual([]);
    again.forEach((t, i) => {
      expect(t.number).toBe(touches[i]!.number);
      t.joints.forEach((v, j) => expect(Math.abs(v - touches[i]!.joints[j]!)).toBeLessThan(1e-5));
    });
  });

  it('semicolons, blanks and a byte order mark do no harm', () => {
    const table = `\ufeff${csv.replaceAll(',', ' ; ').replaceAll('\n', '\r\n')}\r\n\r\n`;
    expect(read(table).touches).toHaveLength(40);
  });

  it('the empty form is forty touches without a reading', () => {
    const { touches: none, missing } = read(formText(machine, text));
    expect(none).toEqual([]);
    expect(missing).toHaveLength(40);
  });

  const change = (line: number, edit: (cells: string[]) => string[]): string =>
    lines.map((l, i) => (i === line - 1 ? edit(l.split(',')).join(',') : l)).join('\n');

  it.each<[string, string, RegExp]>([
    [
      'another header',
      csv.replace('X mm', 'X in'),
      /line 1: the header is .*X in.* must be "touch,/,
    ],
    [
      'a word for a number',
      change(7, (c) => [...c.slice(0, 2), 'abc', ...c.slice(3)]),
      /line 7: Z of touch 6 is "abc"/,
    ],
    [
      'an exponent',
      change(7, (c) => [...c.slice(0, 2), '1e3', ...c.slice(3)]),
      /line 7: .*with a point/,
    ],
    ['a missing column', change(9, (c) => c.slice(0, 6)), /line 9: 6 columns, the header has 7/],
    [
      'a half-filled row',
      change(4, (c) => [...c.slice(0, 2), '', ...c.slice(3)]),
      /line 4: Z of touch 3 is ""/,
    ],
    [
      'a touch that was not planned',
      change(5, (c) => ['99', ...c.slice(1)]),
      /line 5: touch "99" is not in the plan, which has 1 to 40/,
    ],
    [
      'another aim',
      change(5, (c) => [c[0]!, 'block +x', ...c.slice(2)]),
      /line 5: touch 4 is aimed at "block \+x"/,
    ],
    [
      'another turn',
      change(6, (c) => [...c.slice(0, 6), String(Number(c[6]) + 2)]),
      /line 6: C of touch 5 reads .* the limit is 1 deg/,
    ],
    ['one touch twice', `${csv}${lines[3]}\n`, /line 42: touch 3 stands in two rows/],
    ['a quote left open', csv.replace('face', '"face'), /no table/],
  ])('%s is refused with its line', (_, table, message) => {
    expect(() => read(table)).toThrow(message);
  });

  it('the plan reads as it was written', () => {
    expect(planFile.parse(JSON.parse(JSON.stringify(text)))).toEqual(text);
  });
});

describe('the program of touches', () => {
  const rules = { probe: 'switch', speed: 1, nozzleTemperature: 0, tableTemperature: 0 } as const;
  const program = touchProgram(plan, rules);
  const lines = program.split('\n');

  it('has a slow move on contact and a stop for every touch, and says what can hurt', () => {
    const probes = lines.filter((l) => l.includes('G38.2'));
    expect(probes).toHaveLength(40);
    expect(probes.every((l) => / F60$/.test(l) && !/[AC]-?\d/.test(l))).toBe(true);
    expect(lines.filter((l) => l === 'M0')).toHaveLength(40);
    expect(lines.filter((l) => l.startsWith('(CAUTION')).length).toBeGreaterThan(3);
    expect(lines.at(-2)).toBe('M2');
  });

  // A straight move on contact runs like G1 where nothing is touched (RS-274/NGC, G38.2).
  const moves = readProgram(
    lines
      .filter((l) => l !== 'M0')
      .map((l) => l.replace('G94 G38.2', 'G94 G1'))
      .join('\n'),
    readOptions(machine),
  );
  const n = moves.jointCount;
  const at = (b: number): Float64Array => moves.joints.subarray(b * n, b * n + n);
  const probeLines = new Set(
    lines.filter((l) => l !== 'M0').flatMap((l, i) => (l.includes('G38.2') ? [i + 1] : [])),
  );
  const probes = [...moves.line.keys()].filter((b) => probeLines.has(moves.line[b]!));

  it('every touch begins 6 mm over the place planned and gives up 3 mm below it', () => {
    expect(probes).toHaveLength(40);
    probes.forEach((b, i) => {
      const { joints, down } = plan.touches[i]!;
      joints.forEach((v, j) => {
        expect(Math.abs(at(b - 1)[j]! - (v - 6 * down[j]!))).toBeLessThan(1e-4);
        expect(Math.abs(at(b)[j]! - (v + 3 * down[j]!))).toBeLessThan(1e-4);
      });
    });
  });

  it('on its way the head stays 3 mm and more from ball and face, sampled every half mm or so', () => {
    let least = Infinity;
    for (let b = 1; b < moves.line.length; b++) {
      // The touch itself and the way up from it belong to the touch.
      if (probes.includes(b) || probes.includes(b - 1)) continue;
      // Down to the place over a touch the distance is that of the touch, six mm.
      for (let s = 0; s <= 40; s++) {
        const joints = at(b - 1).map((v, j) => v + (s / 40) * (at(b)[j]! - v));
        const f = compose(
          inverse(machineFromHead(machine, joints)),
          machineFromPart(machine, joints),
        );
        least = Math.min(least, headDistance(machine, applyPoint(f, [45, 0, 20])) - 10);
        for (let k = 0; k < 16; k++) {
          const a = (k * Math.PI) / 8;
          least = Math.min(
            least,
            headDistance(machine, applyPoint(f, [75 * Math.cos(a), 75 * Math.sin(a), 0])),
          );
        }
      }
    }
    expect(least).toBeGreaterThan(3);
  });

  it('by hand there is no move on contact, only stops', () => {
    const byHand = touchProgram(plan, { ...rules, probe: 'hand' }).split('\n');
    expect(byHand.some((l) => l.includes('G38'))).toBe(false);
    expect(byHand.filter((l) => l === 'M0')).toHaveLength(40);
  });
});
