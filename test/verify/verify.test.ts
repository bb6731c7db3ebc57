/**
 * The check, by faults that are planted in the text of a sound program: each must be found with its
 * code and its line. Limits and places come from the machine file and from closed forms.
 */
import { beforeAll, describe, expect, it } from 'vitest';
import type { Finding } from '../../lib/base/fault.js';
import { DEG } from '../../lib/base/vector.js';
import type { Machine } from '../../lib/machine/machine.js';
import { writeProgram } from '../../lib/program/write-program.js';
import { type ProgramCheck, type Facts, verify } from '../../lib/verify/verify.js';
import { Tally } from '../../lib/verify/tally.js';
import { acJson, machineOf, rotary } from '../machine/machines.js';
import { type BlockOf, motionOf, pla } from '../program/motions.js';

const AREA = (Math.PI / 4) * 1.75 ** 2;

/** A-C machine whose table cable allows two turns. */
function machine(): Machine {
  const json = acJson();
  const [a] = json.table.joints;
  const c = { ...rotary('C', [0, 0, 1], 'endless'), turns: 2 };
  return machineOf({ ...json, table: { ...json.table, joints: [a!, c] } });
}

/** A frame of four walls, 20 mm wide, in ten layers, and a turned layer at its end. */
function sound(): { text: string; volume: number } {
  const blocks: BlockOf[] = [];
  let fed = 0;
  /** Corners of the part; with C at 90 deg the table's +X lies along the machine's +Y. */
  const square = (z: number, layer: number, a: number, c: number): void => {
    const corners = [
      [20, 0],
      [20, 20],
      [0, 20],
      [0, 0],
    ];
    for (const [px, py] of corners) {
      const [x, y] = c === 90 ? [-py!, px!] : [px!, py!];
      // 20 mm at 40 mm/s and 2.4 mm3/s: the area of the bead is 0.06 mm2.
      const filament = (20 * 0.06) / AREA;
      fed += filament;
      blocks.push({ joints: [x, y, z, a * DEG, c * DEG], seconds: 0.5, filament, layer });
    }
  };
  for (let layer = 0; layer < 10; layer++) {
    const z = 0.2 * (layer + 1);
    blocks.push({ joints: [0, 0, z, 0, 0], seconds: 0.2, kind: 'link', layer });
    square(z, layer, 0, 0);
  }
  blocks.push({ joints: [0, 0, 40, 0, 0], seconds: 1, kind: 'transfer', layer: 9 });
  blocks.push({ joints: [0, 0, 40, 0, 90 * DEG], seconds: 2, kind: 'transfer', layer: 9 });
  blocks.push({ joints: [0, 0, 2.2, 0, 90 * DEG], seconds: 1, kind: 'transfer', layer: 9 });
  square(2.2, 10, 0, 90);
  const m = machine();
  const motion = motionOf(m, [0, 0, 0.2, 0, 0], blocks);
  const program = writeProgram(motion, m, pla({ fan: 0 }), { part: 'sprinkler cap' });
  return { text: program.chunks.join(''), volume: fed * AREA };
}

let text = '';
let volume = 0;
beforeAll(() => {
  ({ text, volume } = sound());
});

const facts = (): Facts => ({ plannedVolumeMm3: volume, flow: { least: 0.5, most: 8 } });
const check = (changed: string): ProgramCheck => verify(changed, machine(), facts()).check;
const serious = (c: ProgramCheck): Finding[] => c.findings.filter((f) => f.severity !== 'note');

/** Changes the line after the nth one that matches; gives text and number of that line. */
function plant(match: RegExp, change: (line: string) => string, nth = 0): [string, number] {
  const lines = text.split('\n');
  const found = lines.flatMap((l, i) => (match.test(l) ? [i] : []))[nth];
  if (found === undefined) throw new Error(`no line ${match}`);
  lines[found] = change(lines[found]!);
  return [lines.join('\n'), found + 1];
}

function expectOne(changed: [string, number], code: string): Finding {
  const found = serious(check(changed[0]));
  const finding = found.find((f) => f.code === code);
  expect(found.map((f) => `${f.code} ${f.at?.line}`)).toContain(`${code} ${changed[1]}`);
  return finding!;
}

describe('a sound program', () => {
  it('has no finding but notes, and figures that are those of the motion', () => {
    const c = check(text);
    expect(serious(c)).toEqual([]);
    // 11 squares of 4 x 20 mm x 0.06 mm2.
    expect(c.volumeMm3).toBeCloseTo(11 * 80 * 0.06, 2);
    expect(c.volumeShare).toBeCloseTo(1, 4);
    expect(c.filamentMm).toBeCloseTo((11 * 80 * 0.06) / AREA, 3);
    expect(c.depositMm).toBeCloseTo(11 * 80, 6);
    expect(c.flow!.least).toBeCloseTo(2.4, 3);
    expect(c.flow!.most).toBeCloseTo(2.4, 3);
    expect(c.seconds).toBeCloseTo(10 * 2.2 + 3 + 1 + 2, 3);
    expect(c.lowestTipMm).toBeCloseTo(0.2, 9);
    expect(c.joints.map((j) => j.letter)).toEqual(['X', 'Y', 'Z', 'A', 'C']);
    expect(c.joints[0]).toMatchObject({ least: -20, most: 20 });
    // 90 deg in 2 s; 20 mm in 0.5 s.
    expect(c.joints[4]!.speed).toBeCloseTo(45, 3);
    expect(c.joints[4]!.speedShare).toBeCloseTo(0.5, 4);
    expect(c.joints[0]!.speed).toBeCloseTo(40, 3);
    expect(JSON.parse(JSON.stringify(c))).toEqual(c);
  });

  it('tells as a note where the controller cannot keep the feed: corners at 40 mm/s', () => {
    // The speed of X changes by 40 mm/s between blocks of 0.5 s: 80 mm/s2, within 2000.
    expect(check(text).counts['verify/feed-not-kept']).toBeUndefined();
    const [jump] = plant(/^X20 E/, () => 'X0.1 F3000\nX0 F3000\nX20 F2400');
    // From +50 to -50 mm/s between two blocks of 2 ms: 50,000 mm/s2.
    expect(verify(jump, machine(), {}).check.counts['verify/feed-not-kept']).toBeGreaterThan(0);
  });
});

describe('planted faults', () => {
  it('an exponent', () => {
    expectOne(
      plant(/^X20 /, (l) => l.replace('X20', 'X1e-7')),
      'program/exponent',
    );
  });
  it('F missing after G93', () => {
    expectOne(
      plant(/^G93 /, (l) => l.replace(/ F\S+/, '')),
      'program/feed-missing',
    );
  });
  it('F missing after the change back to G94', () => {
    expectOne(
      plant(/^G94 .*Z2\.2/, (l) => l.replace(/ F\S+/, '')),
      'program/feed-missing',
    );
  });
  it('a feed that the interpreter raises', () => {
    const f = expectOne(
      plant(/^G93 C90/, () => 'G93 X0.001 C90 F2'),
      'verify/feed-raised',
    );
    expect(f.message).toContain('0.600 s');
    expect(f.message).toContain('30.000 s');
  });
  it('a raised feed in an arc, once for all its pieces', () => {
    // Half a turn of radius 2 mm at F0.01: 6.283 mm times 0.01 is below 0.1.
    const f = expectOne(
      plant(/^G93 C90/, () => 'G93 G3 X-4 I-2 F0.01\nG93 G1 C90 F30'),
      'verify/feed-raised',
    );
    expect(f.message).toContain('6000.000 s');
  });
  it('a missing end', () => {
    const found = serious(check(text.replace(/M2\n$/, '')));
    expect(found.map((f) => f.code)).toEqual(['program/no-end']);
  });
  it('a turn too many', () => {
    expectOne(
      plant(/^G93 C90/, () => 'G93 C810 F0.5'),
      'verify/cable-turns',
    );
  });
  it('a place beyond the travel', () => {
    const f = expectOne(
      plant(/^X20 /, (l) => l.replace('X20', 'X501')),
      'verify/joint-travel',
    );
    expect(f.message).toBe('X at 501 mm, its travel is -500 mm to 500 mm');
  });
  it('a joint too fast: 90 deg in half a second', () => {
    const f = expectOne(
      plant(/^G93 C90/, () => 'G93 C90 F120'),
      'verify/joint-speed',
    );
    expect(f.message).toBe('C at 180 deg/s, its limit is 90 deg/s');
  });
  it('a tip under the table face', () => {
    const f = expectOne(
      plant(/Z0\.4/, (l) => l.replace('Z0.4', 'Z-0.4')),
      'verify/below-table',
    );
    expect(f.at?.point?.[2]).toBeCloseTo(-0.4, 9);
  });
  it('a tip that dips under the face only in the middle of a turn', () => {
    // A from -90 to 90 deg with the tip at Y0 Z-5: it stands 5 mm beside the face at both ends and
    // under it between (A-C machine: part z = y sin A + z cos A).
    const f = expectOne(
      plant(/^G93 C90/, () => 'G0 Z100\nG0 Y0 A-90\nG0 Z-5\nG93 A90 F20').map((v) =>
        typeof v === 'number' ? v + 3 : v,
      ) as [string, number],
      'verify/below-table',
    );
    expect(f.message).toContain('5.000 mm under');
  });
  it('flow five times too high in one block', () => {
    expectOne(
      plant(/^X20 E/, (l) => l.replace(/E(\S+)/, (_, e: string) => `E${Number(e) * 5}`), 3),
      'verify/flow-high',
    );
  });
  it('flow a tenth of what it should be in one block', () => {
    expectOne(
      plant(
        /^X20 E/,
        (l) => l.replace(/E(\S+)/, (_, e: string) => `E${(Number(e) / 10).toFixed(5)}`),
        3,
      ),
      'verify/flow-low',
    );
  });
  // A nozzle lays on what it holds for 0.2 s (the project's own rule): a tenth of the flow for part of a block.
  it.each([
    [0.19, false],
    [0.21, true],
  ])('a tenth of the flow for %d s: told %s', (seconds, told) => {
    const lines = text.split('\n');
    const at = lines.flatMap((l, i) => (/^X20 E/.test(l) ? [i] : []))[3]!;
    const feed = Number(
      lines
        .slice(0, at + 1)
        .reverse()
        .find((l) => /F[\d.]+/.test(l))!
        .match(/F([\d.]+)/)![1],
    );
    const whole = Number(/E(\S+)/.exec(lines[at]!)![1]);
    const far = (feed / 60) * seconds;
    const laid = (share: number): string => ((whole * share * far) / 20).toFixed(5);
    lines[at] = `X${far.toFixed(4)} E${laid(0.1)} F${feed}\nX20 E${laid(20 / far - 1)}`;
    const found = check(lines.join('\n')).findings.filter((f) => f.code === 'verify/flow-low');
    expect(found.length > 0).toBe(told);
  });
  it('a dropped layer', () => {
    const lines = text.split('\n');
    const from = lines.findIndex((l) => l.startsWith('(region 1, layer 4 '));
    const to = lines.findIndex((l) => l.startsWith('(region 1, layer 5 '));
    const dropped = [...lines.slice(0, from), ...lines.slice(to)].join('\n');
    const c = check(dropped);
    expect(serious(c).map((f) => f.code)).toEqual([
      'verify/in-air',
      'verify/in-air-share',
      'verify/level-step',
      'verify/layer-in-air',
      'verify/volume',
    ]);
    expect(c.volumeShare).toBeCloseTo(10 / 11, 4);
  });
  it('places that are not stated', () => {
    const changed = plant(/^G94 G1 X0 Y0 Z0\.2 A0 C0 F/, (l) => l.replace('C0 ', ''));
    const c = check(changed[0]);
    // The next block that says all places is the first of the first layer.
    expect(c.counts['verify/place-unknown']).toBe(1);
    const unknown = serious(c).filter((f) => f.code === 'verify/place-unknown');
    expect(unknown.map((f) => f.at?.line)).toEqual([changed[1]]);
  });
  it('a rapid move of several joints, as a note', () => {
    const [changed, line] = plant(/^G93 C90/, (l) => `G0 X5 Y5\n${l.replace('G93', 'G93 G1')}`);
    const found = check(changed).findings.find((f) => f.code === 'verify/rapid-way');
    expect(found?.severity).toBe('note');
    expect(found?.at?.line).toBe(line);
  });
  it('units that are not stated', () => {
    const found = serious(check(text.replaceAll('G21 ', '').replaceAll('G21\n', '')));
    expect(found.map((f) => f.code)).toEqual(['verify/units-not-stated']);
  });
  it('inches instead of millimetres', () => {
    const found = serious(check(text.replaceAll('G21', 'G20')));
    expect(found.map((f) => f.code)).toContain('verify/joint-travel');
  });
  it('an empty program', () => {
    const found = serious(check('M2\n'));
    expect(found.map((f) => f.code).sort()).toEqual(['verify/nothing-moves', 'verify/volume']);
  });
});

describe('filament', () => {
  it('drawn back and primed again counts once', () => {
    const [drawn] = plant(/^G94 G1 X0 Y0 Z0\.4/, (l) => `G94 G1 E-1 F1800\n${l}\nE1 F1800`);
    const c = check(drawn);
    expect(c.volumeShare).toBeCloseTo(1, 4);
    expect(serious(c)).toEqual([]);
  });

  const startTexts: [string, string[]][] = [
    ['at places that are not known', ['G21', 'G1 X60 E20 F600', 'G1 E-1']],
    ['at known places', ['G0 X0 Y-50 Z0.3 A0 C0', 'G1 X60 E20 F600', 'G1 E-1']],
  ];
  it.each(startTexts)('what the start text feeds %s is no material of the part', (_, start) => {
    const json = acJson();
    const wiping = machineOf({ ...json, dialect: { ...json.dialect, start } });
    const motion = motionOf(
      wiping,
      [0, 0, 0.2, 0, 0],
      [
        { joints: [0, 0, 0.2, 0, 0], seconds: 0.1, filament: 1, kind: 'filament' },
        { joints: [20, 0, 0.2, 0, 0], seconds: 1, filament: 0.5 },
      ],
    );
    const program = writeProgram(motion, wiping, pla({ fan: 0 }), { part: 'x' });
    const c = verify(program.chunks, wiping, { plannedVolumeMm3: 0.5 * AREA }).check;
    expect(c.filamentMm).toBeCloseTo(0.5, 9);
    expect(serious(c)).toEqual([]);
  });
});

describe('tally', () => {
  const place = (tally: Tally, severity: 'error' | 'warning', i: number, run = 0): void => {
    const size = i === 40 ? 99 : i;
    const said = (): { message: string; at: { line: number } } => ({
      message: `size ${size}`,
      at: { line: i },
    });
    tally.add('a/b', severity, size, said, { run, amount: 0.5, unit: 'mm2' });
  };
  it('tells the first places of an error, the count of all and the worst', () => {
    const tally = new Tally();
    for (let i = 1; i <= 57; i++) place(tally, 'error', i);
    const findings = tally.findings();
    expect(tally.counts()).toEqual({ 'a/b': 57 });
    expect(findings).toHaveLength(21);
    expect(findings[19]!.at?.line).toBe(20);
    expect(findings[20]!.message).toBe('37 more of this kind, 57 in all; the worst: size 99');
    expect(findings[20]!.at?.line).toBe(40);
  });
  it('tells warnings of a code once, with count and sum run by run and the worst place', () => {
    const tally = new Tally();
    for (let i = 1; i <= 57; i++) place(tally, 'warning', i, i <= 3 ? 0 : 2);
    place(tally, 'warning', 58, 3);
    expect(tally.counts()).toEqual({ 'a/b': 58 });
    expect(tally.findings().map((f) => [f.message, f.at?.line])).toEqual([
      [
        '3 places in run 1, 1.5 mm2 in all (lines 1, 2, 3); 54 places in run 3, 27.0 mm2 in all (first lines 4, 5, 6, 7, 8); 1 place in run 4, 0.5 mm2 in all; the worst: size 99',
        40,
      ],
    ]);
  });
});
