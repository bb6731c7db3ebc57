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
import {
  BlockFlag,
  type Program,
  readOptions,
  readProgram,
} from '../../lib/program/read-program.js';
import { writeProgram } from '../../lib/program/write-program.js';
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

describe('blocks', () => {
  it('only changed words, F only when it changes, again after each change of feed mode', () => {
    const lines = linesOf({}, [
      move(10, 0.5),
      move(20, 0.5),
      move(30, 0.5, 90),
      move(40, 0.5, 180),
      move(50, 0.5, 180),
      move(60, 1, 180),
    ]);
    // 10 mm in half a second is 1200 mm a minute; half a second is G93 F120 (definitions of G94 and G93).
    expect(lines).toEqual([
      'X10 F1200',
      'X20',
      'G93 X30 C90 F120',
      'X40 C180 F120',
      'G94 X50 F1200',
      'X60 F600',
    ]);
  });

  it('F again after a change of feed mode even if the number is the same', () => {
    // 1 mm in half a second is 120 mm a minute; half a second is G93 F120.
    expect(linesOf({}, [move(1, 0.5), move(2, 0.5, 9), move(3, 0.5, 9)])).toEqual([
      'X1 F120',
      'G93 X2 C9 F120',
      'G94 X3 F120',
    ]);
  });

  it('a path at one speed has one F, whatever rounding does to its pieces', () => {
    const decimals = { linear: 2, rotary: 2, filament: 5 };
    const blocks = [1, 2, 3, 4, 5].map((n) => move(n / 3, 1 / 60));
    // A third of a millimetre in a sixtieth of a second: 1200 mm a minute.
    expect(linesOf({ decimals }, blocks)).toEqual(['X0.33 F1200', 'X0.67', 'X1', 'X1.33', 'X1.67']);
  });

  it('less than a millisecond without motion is added to the next block', () => {
    // 1 mm in 0.8 ms and 9.2 ms: 6000 mm a minute.
    expect(linesOf({}, [move(0, 8e-4), move(1, 92e-4)])).toEqual(['X1 F6000']);
    expect(linesOf({}, [move(0, 6e-4), move(0, 6e-4)])).toEqual(['G4 P0.001']);
  });

  it('10 mm at 600 mm/min with a turn is G93 F60 (closed form)', () => {
    expect(linesOf({}, [move(10, 1, 5)])).toEqual(['G93 X10 C5 F60']);
  });

  it('no exponent and no "-0" at any size, seed 5', () => {
    const random = seeded(5);
    const machine = machineWith({ filament: { letter: 'U', mode: 'relative' }, end: [] });
    const tiny = (): number => (random() - 0.5) * 10 ** (-12 * random());
    const blocks = Array.from({ length: 4000 }, (): BlockOf => {
      const joints = machine.joints.map(tiny);
      return { joints, seconds: 10 ** (-3 + 6 * random()), filament: tiny() };
    });
    const { lines, text } = write(motionOf(machine, rest, blocks), machine);
    for (const line of lines.filter((l) => !l.startsWith('('))) {
      expect(line).toMatch(/^([A-Z]-?\d+(\.\d+)?( |$))*$/);
      expect(line).not.toMatch(/-0( |$)/);
    }
    expect(read(text, machine).raised).toEqual([]);
  });

  it('a value of 1e-7 is written as 0 and not as 1e-7', () => {
    expect(linesOf({}, [move(1e-7, 1), move(-1e-7, 1), move(1, 1)])).toEqual([
      'G4 P1',
      'G4 P1',
      'X1 F60',
    ]);
  });

  it('nothing moves: a dwell of the block time', () => {
    expect(linesOf({}, [move(0, 2.5)])).toEqual(['G4 P2.5']);
  });

  it('filament alone runs at its own feed in G94', () => {
    const back: BlockOf = { joints: rest, seconds: 0.05, filament: -1.5, kind: 'filament' };
    // 1.5 mm in 0.05 s is 30 mm/s, 1800 mm a minute; the first block of a region says all places.
    expect(linesOf({}, [move(0, 1, 90), { ...back, joints: move(0, 1, 90).joints }]).at(-1)).toBe(
      'G94 G1 X0 Y0 Z0 A0 C90 E-1.5 F1800',
    );
  });
});

describe('a turn in which X Y Z hardly move (length times F at least 0.1, or no length)', () => {
  it('up to half a micrometre waits for the next block', () => {
    const lines = linesOf({}, [move(0.0004, 30, 90), move(0.0008, 30, 180), move(1, 1, 180)]);
    // 0.0008 mm from the last written place, above the limit of what may wait: a block of its own.
    expect(lines).toEqual(['G93 C90 F2', 'C180 F2', 'G94 X0.0008 F60', 'X1 F59.952']);
  });

  it('more than that follows in a straight block, the turn keeps its time', () => {
    const machine = machineWith({ end: [] });
    const { text, lines } = write(motionOf(machine, rest, [move(0.001, 30, 90)]), machine);
    expect(moves(lines).slice(0, 2)).toEqual(['G93 C90 F2', 'G94 X0.001 F60']);
    const program = read(text, machine);
    expect([...program.seconds].slice(-2)[0]).toBeCloseTo(30, 9);
    expect(program.raised).toEqual([]);
  });

  it('a turn slower than 0.1 deg a minute waits first', () => {
    const machine = machineWith({ end: [] });
    const { text } = write(motionOf(machine, rest, [move(0, 6, 0.001)]), machine);
    const program = read(text, machine);
    // 0.001 deg at 0.1 deg a minute take 0.6 s of the 6 s.
    expect(program.flags.at(-2)).toBe(BlockFlag.dwell);
    expect(program.seconds.at(-1)).toBeCloseTo(0.6, 3);
    expect(program.seconds.at(-1)! + program.seconds.at(-2)!).toBeCloseTo(6, 2);
    expect(program.raised).toEqual([]);
  });

  it('at the limit itself nothing is rewritten', () => {
    // 0.001 mm in 0.5 s: 0.12 mm a minute.
    expect(linesOf({}, [move(0.001, 0.5, 90)])).toEqual(['G93 X0.001 C90 F120']);
  });
});

describe('dialects', () => {
  it('G94 with F of the tip: a quarter turn at radius 50 in 2 s (arc 25 pi, closed form)', () => {
    const tip: DialectJson = { rotaryFeed: 'G94', rotaryFeedMeaning: 'tip' };
    const [line] = linesOf(tip, [move(50, 2, 90)], [50, 0, 0, 0, 0]);
    expect(line).toMatch(/^C90 F/);
    const feed = Number(line!.split('F')[1]);
    expect(feed / ((25 * Math.PI * 60) / 2)).toBeCloseTo(1, 4);
    const machine = machineWith(tip);
    const { text } = write(motionOf(machine, [50, 0, 0, 0, 0], [move(50, 2, 90)]), machine);
    expect(read(text, machine).seconds.at(-1)).toBeCloseTo(2, 5);
  });

  it('G94 with F of the tip: where the tip stands F is in degrees a minute', () => {
    const tip: DialectJson = { rotaryFeed: 'G94', rotaryFeedMeaning: 'tip' };
    expect(linesOf(tip, [move(0, 2, 90)])).toEqual(['C90 F2700']);
  });

  it('G94 with F of X Y Z: their length if they move, else degrees (F rule of RS-274/NGC)', () => {
    const xyz: DialectJson = { rotaryFeed: 'G94', rotaryFeedMeaning: 'xyz' };
    expect(linesOf(xyz, [move(10, 2, 90), move(10, 1, 180)])).toEqual([
      'X10 C90 F300',
      'C180 F5400',
    ]);
  });

  it('joints with other letters: U V W and A B', () => {
    const json = acJson();
    const rename: Record<string, string> = { X: 'U', Y: 'V', Z: 'W', A: 'B', C: 'A' };
    const renamed = JSON.parse(JSON.stringify(json), (key, value: unknown) =>
      key === 'letter' && typeof value === 'string' ? (rename[value] ?? value) : value,
    ) as Json;
    const machine = machineWith({ end: [] }, renamed);
    const motion = motionOf(machine, rest, [move(10, 0.5), move(20, 1, 90)]);
    const { text, lines } = write(motion, machine);
    expect(moves(lines).slice(0, 2)).toEqual(['U10 F1200', 'G93 U20 A90 F60']);
    const program = read(text, machine);
    expect([...program.seconds].slice(-2)).toEqual([0.5, 1]);
  });

  it('the standard alone reads a program whose filament runs on an axis letter', () => {
    for (const mode of ['absolute', 'relative'] as const) {
      const machine = machineWith({ filament: { letter: 'U', mode }, end: [] });
      const { text } = write(randomMotion(machine, seeded(9), 300), machine);
      const axes = [...'XYZACU'].map((letter) => ({
        letter,
        kind: 'AC'.includes(letter) ? ('rotary' as const) : ('linear' as const),
        speed: Infinity,
      }));
      expect(readProgram(text, { axes }).end).toBe('M2');
    }
  });
});

describe('filament', () => {
  const small = Array.from({ length: 10_000 }, (_, i): BlockOf => ({
    joints: [i + 1, 0, 0, 0, 0],
    seconds: 1,
    filament: 0.000004,
  }));
  const words = (lines: readonly string[]): number[] =>
    lines.flatMap((l) => /E(\S+)/.exec(l)?.slice(1).map(Number) ?? []);

  it('absolute words are the rounded running sum: 10,000 times 0.000004 mm is 0.04 mm', () => {
    const lines = linesOf({ filament: { letter: 'E', mode: 'absolute' } }, small);
    expect(words(lines).at(-1)).toBe(0.04);
  });

  it('relative words add up to the same', () => {
    const lines = linesOf({ filament: { letter: 'E', mode: 'relative' } }, small);
    expect(words(lines).reduce((a, b) => a + b, 0)).toBeCloseTo(0.04, 9);
  });

  it('absolute counting begins at a stated zero after the start text', () => {
    const machine = machineWith({
      filament: { letter: 'E', mode: 'absolute' },
      start: ['G1 X5 E7 F60'],
    });
    const { text } = write(motionOf(machine, rest, small.slice(0, 3)), machine);
    const program = read(text, machine);
    expect(program.filament[0]).toBe(7);
    expect(program.filament.slice(1).reduce((a, b) => a + b, 0)).toBeCloseTo(0.00001, 9);
  });
});

describe('text around the motion', () => {
  const one = [move(10, 1)];
  const textOf = (dialect: DialectJson, material = pla({ fan: 0 }), blocks = one) =>
    write(motionOf(machineWith(dialect), rest, blocks), machineWith(dialect), material).lines;
  const faultOf = (machine: Machine, material = pla({ fan: 0 })): Fault => {
    try {
      write(motionOf(machine, rest, [move(1, 1), { ...move(2, 1), layer: 1 }]), machine, material);
    } catch (error) {
      if (error instanceof Fault) return error;
      throw error;
    }
    throw new Error('no fault');
  };

  it('opens with a comment block and states units and distance mode before anything else', () => {
    const lines = textOf({});
    const first = lines.findIndex((l) => !l.startsWith('('));
    expect(lines[first]).toBe('G21 G90 G94');
    const head = lines.slice(0, first).join(' ');
    for (const word of ['gutter elbow', 'X mm', 'C deg', 'frames', 'estimated time', 'CAUTION']) {
      expect(head).toContain(word);
    }
  });

  it('comments never nest, are printable and stay short, whatever the part is called', () => {
    const machine = machineWith({});
    const part = `elbow (left) (${'long '.repeat(60)}) \u00e9\n${'x'.repeat(300)}`;
    const program = writeProgram(motionOf(machine, rest, one), machine, pla({ fan: 0 }), { part });
    for (const line of program.chunks
      .join('')
      .split('\n')
      .filter((l) => l.startsWith('('))) {
      expect(line).toMatch(/^\([\x20-\x7e]*\)$/);
      expect(line.slice(1, -1)).not.toMatch(/[()]/);
      expect(line.length).toBeLessThanOrEqual(120);
    }
  });

  it('ends with M2, once, unless the end text ends it', () => {
    const ends = (end: string[]) => textOf({ end }).filter((l) => /^M(2|30)$/.test(l));
    expect(ends([])).toEqual(['M2']);
    expect(ends(['M2'])).toEqual(['M2']);
    expect(ends(['m 30'])).toEqual([]);
    expect(ends(['(M2)', 'M200'])).toEqual(['M2']);
  });

  it('fills in the material, first-layer values at the start', () => {
    const start = ['M104 S{nozzleTemperature}', 'M160 P{tableTemperature} (for {material})'];
    const material = pla({ fan: 0, first: { nozzleTemperature: 215.5 } });
    const lines = textOf({ start, nozzleTemperature: 'M104 S{value}' }, material, [
      { ...move(10, 1), kind: 'deposit' },
      { ...move(20, 1), kind: 'deposit', layer: 1 },
      { ...move(30, 1), kind: 'deposit', layer: 2 },
    ]);
    expect(lines).toContain('M104 S215.5');
    expect(lines).toContain('M160 P60 (for PLA)');
    const change = lines.indexOf('M104 S210');
    expect(lines[change - 1]).toMatch(/^\(region 1, layer 2 of 3\)$/);
    // After a line of the machine's own, modes and places are said again.
    expect(lines[change + 1]).toBe('G94 G1 X20 Y0 Z0 A0 C0 F600');
    expect(lines.filter((l) => l === 'M104 S210')).toHaveLength(1);
  });

  it('modes and places are said again after the fan has been switched between two blocks', () => {
    const fan = { on: 'M151 Q{byte}', off: 'M152' };
    const lines = textOf({ fan }, pla(), [
      { ...move(10, 1), kind: 'deposit' },
      { ...move(20, 1), kind: 'link', layer: 1 },
      { ...move(30, 1), kind: 'deposit', layer: 1 },
    ]);
    const on = lines.indexOf('M151 Q255');
    expect(lines[on - 1]).toBe('G94 G1 X20 Y0 Z0 A0 C0 F600');
    expect(lines[on + 1]).toBe('G94 G1 X30 Y0 Z0 A0 C0 F600');
  });

  it('a line of nothing but a named place does not make every line one of its own', () => {
    const machine = machineWith({ start: ['{material}'] });
    expect(() => read('rubbish\nM2\n', machine)).toThrow(Fault);
  });

  it('the fan: off at the start, on after the first layer with share or byte, off at the end', () => {
    const fan = { on: 'M151 P{share} Q{byte}', off: 'M152' };
    const lines = textOf({ fan }, pla({ fan: 0.4 }), [
      { ...move(10, 1), kind: 'deposit' },
      { ...move(20, 1), kind: 'deposit', layer: 1 },
    ]).filter((l) => l.startsWith('M15'));
    expect(lines).toEqual(['M152', 'M151 P0.4 Q102', 'M152']);
  });

  it('a fan that the machine does not state is told', () => {
    const machine = machineWith({});
    const { findings } = write(motionOf(machine, rest, one), machine, pla({ fan: 0.4 }));
    expect(findings.map((f) => f.code)).toEqual(['program/no-fan']);
  });

  it('faults', () => {
    const machine = machineWith({});
    const withDialect = (change: Partial<Machine['dialect']>): Machine => ({
      ...machine,
      dialect: { ...machine.dialect, ...change },
    });
    const filament = { letter: 'C', mode: 'absolute' } as const;
    expect(faultOf(withDialect({ filament })).code).toBe('program/letter-clash');
    expect(faultOf(withDialect({ start: ['M1 P{pressure}'] })).code).toBe('program/unknown-place');
    expect(faultOf(withDialect({ end: ['M1\nM2'] })).code).toBe('program/line-break');
    expect(faultOf(withDialect({ end: [`(${'x'.repeat(260)})`] })).code).toBe('program/long-line');
    expect(faultOf(withDialect({ start: ['G4 P1', 'M30'] })).code).toBe('program/ends-early');
    const material = pla({ first: { tableTemperature: 70 } });
    const fault = faultOf(machine, material);
    expect(fault.code).toBe('program/no-temperature-line');
    expect(fault.message).toContain('70 deg C');
    expect(fault.message).toContain('60 deg C');
  });

  it("the machine's own codes and lines are read for that machine and refused by the standard", () => {
    const dialect: DialectJson = {
      start: ['M104 S{nozzleTemperature}', 'heat the table to {tableTemperature}', 'G28.4 X0 Y0'],
      fan: { on: 'M151 Q{byte}', off: 'M152' },
    };
    const machine = machineWith(dialect);
    const { text } = write(motionOf(machine, rest, one), machine, pla());
    const program = read(text, machine);
    expect(program.own.map((o) => o.text)).toEqual([
      'M104 S210',
      'heat the table to 60',
      'G28.4 X0 Y0',
      'M152',
      'M152',
    ]);
    const bare = { ...readOptions(machine), own: { codes: new Set<string>(), lines: [] } };
    expect(() => readProgram(text, bare)).toThrow(/M104/);
    // A like line that is not the machine's stays refused.
    expect(() => read(text.replace('heat the table to', 'cool the table to'), machine)).toThrow(
      Fault,
    );
  });
});
