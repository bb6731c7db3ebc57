/**
 * A program's blocks judged one by one: travel, speed, steps of speed, table, rapid moves and unknown places,
 * on either side of each limit. Limits are those of the machine file; rounding is one last decimal of what
 * is written.
 */
import { describe, expect, it } from 'vitest';
import type { Finding } from '../../lib/base/fault.js';
import { readOptions, readProgram } from '../../lib/program/read-program.js';
import { Tally } from '../../lib/verify/tally.js';
import { traceOf } from '../../lib/verify/trace.js';
import { Walk, placeOf } from '../../lib/verify/walk.js';
import { type Json, acJson, machineOf } from '../machine/machines.js';
import { traceOfBlocks } from './traces.js';

const START = ['G21 G90 G94', 'G1 X0 Y0 Z10 A0 C0 F6000'];

function walked(
  lines: readonly string[],
  change: (json: Json) => void = () => {},
  own = 0,
  start = START,
) {
  const json = acJson();
  change(json);
  const machine = machineOf(json);
  const program = readProgram([...start, ...lines, 'M2'].join('\n'), readOptions(machine));
  const tally = new Tally();
  const trace = traceOf(program, machine, { ownEnd: own });
  const walk = new Walk(machine, program, trace, own, tally);
  for (let b = 0; b < program.seconds.length; b++) walk.block(b);
  const findings = tally.findings();
  return {
    walk,
    findings,
    of: (code: string): Finding[] => findings.filter((f) => f.code === code),
  };
}
const line = START.length + 1;

describe('figures', () => {
  it('are the least and the most of each joint, and its speed less rounding', () => {
    const { walk, findings } = walked(['X12 Y-3 F600', 'G93 A30 C-45 F20', 'G94 X10 F60']);
    expect(findings.filter((f) => f.severity !== 'note')).toEqual([]);
    const [x, y, z, a, c] = walk.joints();
    expect(x).toMatchObject({ letter: 'X', least: 0, most: 12 });
    expect(y).toMatchObject({ letter: 'Y', least: -3, most: 0 });
    expect(z).toMatchObject({ letter: 'Z', least: 10, most: 10, speed: 0, speedShare: 0 });
    expect(a!.least).toBeCloseTo(0, 9);
    expect(a!.most).toBeCloseTo(30, 9);
    expect(c!.least).toBeCloseTo(-45, 9);
    // F20 in G93 is 3 s: 10 and 15 deg/s, of 90.
    expect(a!.speed).toBeCloseTo(10, 3);
    expect(c!.speed).toBeCloseTo(15, 3);
    expect(c!.speedShare).toBeCloseTo(15 / 90, 4);
    // 10 mm/s on a way of hypot(12, 3): X has 12 of it.
    expect(x!.speed).toBeCloseTo((10 * 12) / Math.hypot(12, 3), 2);
    expect(walk.lowestTip).toBeLessThanOrEqual(10);
  });

  it('of joints that were never stated are none', () => {
    const { walk } = walked(['G1 X1 F600'], undefined, 0, ['G21 G90 G94']);
    expect(walk.joints().map((j) => [j.least, j.most])).toEqual(new Array(5).fill([0, 0]));
  });

  it('sum what is laid', () => {
    const { walk } = walked(['X10 E1 F600', 'E-1', 'Y10', 'E1', 'X0 E2']);
    expect(walk.filament).toBeCloseTo(3, 9);
    expect(walk.volume).toBeCloseTo(3 * (Math.PI / 4) * 1.75 ** 2, 9);
    expect(walk.depositLength).toBeCloseTo(20, 9);
  });
});

describe('travel', () => {
  it.each([
    ['X500', 0],
    ['X500.00004', 0],
    // Half of the last decimal, as exactly as numbers hold it.
    ['X500.00005', 0],
    ['X500.0002', 1],
    ['X-500.0002', 1],
    ['A120.00004', 0],
    ['A120.0002', 1],
    ['A-120.0002', 1],
  ])('%s', (to, count) => {
    const { of } = walked([`${to} F600`]);
    expect(of('verify/joint-travel')).toHaveLength(count);
  });

  it('is told with joint, value, limits, line, place and time', () => {
    const { of, walk } = walked(['X510 F6000']);
    expect(of('verify/joint-travel')).toEqual([
      {
        code: 'verify/joint-travel',
        severity: 'error',
        message: 'X at 510 mm, its travel is -500 mm to 500 mm',
        at: { line, time: expect.any(Number), point: [510, 0, 10], frame: 'part' },
      },
    ]);
    expect(walk.beyond).toBeUndefined();
    const turned = walked(['A-121.5 F600']).of('verify/joint-travel')[0]!;
    expect(turned.message).toBe('A at -121.5 deg, its travel is -120 deg to 120 deg');
  });

  it('farther outside than half of it ends what is judged, at the first such block', () => {
    expect(walked(['X1000 F6000']).walk.beyond).toBeUndefined();
    const { walk } = walked(['X0.5', 'Y-1001 F6000', 'X1400']);
    expect(walk.beyond).toEqual({
      block: 2,
      where: 'Y at -1001 mm, its travel is -500 mm to 500 mm',
    });
  });

  it('of an endless joint is that of its cable', () => {
    const cable = (json: Json): void => {
      Object.assign(json.table.joints[1]!, { turns: 2 });
    };
    const [found] = walked(['C730 F6000'], cable).of('verify/cable-turns');
    expect(found!.message).toBe('C at 730 deg, its travel is -720 deg to 720 deg');
    expect(walked(['C719 F6000'], cable).of('verify/cable-turns')).toEqual([]);
  });
});

describe('speed', () => {
  // X may go 200 mm/s: 20 mm in 0.1 s, and a thousandth and one decimal over the time more.
  it.each([
    [12_000, 0],
    [12_011, 0],
    [12_200, 1],
  ])('F%d', (feed, count) => {
    const found = walked([`X20 F${feed}`]).of('verify/joint-speed');
    expect(found).toHaveLength(count);
    if (count)
      expect(found[0]).toMatchObject({
        severity: 'error',
        message: 'X at 203.333 mm/s, its limit is 200 mm/s',
        at: { line, point: [20, 0, 10], frame: 'part' },
      });
  });

  it('of a short block may be over it by a decimal over its time', () => {
    // In a tenth of a millisecond a ten-thousandth of a millimetre is 1 mm/s.
    expect(walked(['G93 X0.0201 F600000']).of('verify/joint-speed')).toEqual([]);
    expect(walked(['G93 X0.0203 F600000']).of('verify/joint-speed')).toHaveLength(1);
  });

  it('of a turn is told in degrees', () => {
    // 60 deg in half a second.
    const [found] = walked(['G93 A60 F120']).of('verify/joint-speed');
    expect(found!.message).toBe('A at 120 deg/s, its limit is 90 deg/s');
  });

  it('of blocks that are no longer than rounding is none', () => {
    // 0.0001 mm in 0.1 ms would be 1 mm/s too little to tell from rounding.
    const { walk } = walked(['G93 X0.0001 F60']);
    expect(walk.joints()[0]!.speed).toBeLessThanOrEqual(1e-9);
  });
});

describe('steps of speed', () => {
  // X takes 2,000 mm/s2. Blocks of 0.1 s: from 10 to 50 mm/s is 400 mm/s2, from -150 to 150 is 3,000.
  const pair = (one: number, two: number): Finding[] =>
    walked(['G93 X100 F60', `X${100 + one} F600`, `X${100 + one + two} F600`]).of(
      'verify/feed-not-kept',
    );
  it('within the acceleration are none', () => {
    expect(pair(1, 5)).toEqual([]);
    expect(pair(-9.9, 10)).toEqual([]);
  });
  it('beyond it are told with its share, at the second block', () => {
    const [found, ...more] = pair(-15, 15);
    expect(more).toEqual([]);
    expect(found).toMatchObject({ severity: 'note', at: { line: line + 2 } });
    expect(found!.message).toBe(
      'to keep the feed X would need 1.5 times its acceleration of 2000 mm/s2, so the controller slows down here',
    );
  });
  it('of the joint that is hardest to move are told', () => {
    const [found] = walked(['G93 X100 Y100 F60', 'X85 Y80 F600', 'X100 Y100 F600']).of(
      'verify/feed-not-kept',
    );
    expect(found!.message).toContain('Y would need 2.0 times');
    const [turned] = walked(['G93 A0 F60', 'A-8 F600', 'A0 F600']).of('verify/feed-not-kept');
    // From -80 to 80 deg/s in 0.1 s, of 600 deg/s2.
    expect(turned!.message).toContain('A would need 2.7 times its acceleration of 600 deg/s2');
  });
  it('over blocks too short to tell are taken together', () => {
    // Ten blocks of 0.003 mm in 3 ms each are 1 mm/s; 0.02 mm are noticed.
    const short = Array.from(
      { length: 10 },
      (_, i) => `X${(100 + 0.003 * (i + 1)).toFixed(4)} F20000`,
    );
    expect(walked(['G93 X100 F60', ...short]).of('verify/feed-not-kept')).toEqual([]);
  });
  it('across a rapid move, a dwell or a place that was lost say nothing', () => {
    for (const between of ['G0 X85.5', 'G4 P0.1']) {
      const lines = ['G93 X100 F60', 'X85 F600', between, 'G93 G1 X100 F600'];
      expect(walked(lines).of('verify/feed-not-kept')).toEqual([]);
    }
  });
});

describe('the table', () => {
  it.each([
    ['Z0', 0],
    ['Z-0.0009', 0],
    ['Z-0.0012', 1],
  ])('%s', (to, count) => {
    expect(walked([`${to} F600`]).of('verify/below-table')).toHaveLength(count);
  });
  it('is told with the depth, over the face alone', () => {
    const { of, walk } = walked(['Z-0.25 F600']);
    expect(of('verify/below-table')[0]).toMatchObject({
      severity: 'error',
      message: 'the tip is 0.250 mm under the table face',
      at: { line, point: [0, 0, -0.25] },
    });
    expect(walk.lowestTip).toBe(-0.25);
    expect(walked(['X101 F600', 'Z-5']).of('verify/below-table')).toEqual([]);
  });
});

describe('rapid moves', () => {
  const of = (lines: string[], own = 0): Finding[] =>
    walked(lines, undefined, own).of('verify/rapid-way');
  it('of one joint have one way, of more any', () => {
    expect(of(['G0 X10', 'Y5'])).toEqual([]);
    expect(of(['G0 X10 Y5'])).toEqual([
      {
        code: 'verify/rapid-way',
        severity: 'note',
        message:
          "a rapid move of 2 joints: whether they arrive together, and so the way between, is the controller's matter",
        at: { line, time: expect.any(Number), point: [10, 5, 10], frame: 'part' },
      },
    ]);
    expect(of(['G0 X10 Y5 A3'])[0]!.message).toContain('of 3 joints');
  });
  it('of the start text are its own matter', () => {
    expect(of(['G0 X10 Y5'], line)).toEqual([]);
    expect(of(['G0 X10 Y5'], line - 1)).toHaveLength(1);
  });
});

describe('places that nobody knows', () => {
  const lost = ['G21 G90 G94', 'G1 X1 F600'];
  it('are told by line, but not in the start text or of a dwell', () => {
    const { of } = walked(['Y2', 'G4 P1', 'Y3'], undefined, 0, lost);
    const found = of('verify/place-unknown');
    expect(found).toHaveLength(1);
    expect(found[0]!.message).toContain('3 places in all (lines 2, 3, 5)');
    expect(walked(['Y2', 'G4 P1', 'Y3'], undefined, 4, lost).of('verify/place-unknown')).toEqual([
      {
        code: 'verify/place-unknown',
        severity: 'warning',
        message: 'no block before says where every joint stands, so this one is not judged',
        at: { line: 5 },
      },
    ]);
  });
});

it('a feed that the interpreter raises is told with both times, once for all pieces of an arc', () => {
  // F2 asks for half a minute; 0.001 mm at the least feed of 0.1 mm/min take 0.6 s.
  const { of } = walked(['X1 F600', 'G93 X1.001 C90 F2', 'G94 F600 X5', 'G93 G3 X1 I-2 F0.01']);
  const found = of('verify/feed-raised');
  expect(found.map((f) => [f.severity, f.at!.line])).toEqual([
    ['error', line + 1],
    ['error', line + 3],
  ]);
  expect(found[0]!.message).toBe(
    'length times F is below 0.1, so the block lasts 0.600 s and not the 30.000 s it asks for',
  );
  expect(found[1]!.message).toContain('not the 6000.000 s');
});

describe('a place in the trace', () => {
  const trace = traceOfBlocks(
    [0, 0, 1],
    [{ to: [1.23456, -0.00001, 2], seconds: 0.12345 }, { to: [NaN, 0, 0] }],
  );
  it('has line, time and tip to a thousandth', () => {
    expect(placeOf(trace, 1)).toEqual({
      line: 2,
      time: 1.123,
      point: [1.235, 0, 2],
      frame: 'part',
    });
  });
  it('has no point where the tip is not known', () => {
    expect(placeOf(trace, 2)).toEqual({ line: 3, time: 2.123 });
  });
});
