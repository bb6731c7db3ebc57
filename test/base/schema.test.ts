import { MessageChannel, receiveMessageOnPort } from 'node:worker_threads';
import { describe, expect, test } from 'vitest';
import { z } from 'zod';
import { Fault } from '../../lib/base/fault.js';
import { parse } from '../../lib/base/schema.js';

const range = z
  .tuple([z.number(), z.number()])
  .refine(([a, b]) => a < b, 'the first number must be less than the second');
const slide = z.strictObject({ kind: z.literal('slide'), stroke: range.describe('mm') });
const wheel = z.strictObject({
  kind: z.literal('wheel'),
  radius: z.number().positive().describe('mm'),
  travel: z.union([range, z.literal('endless')]).describe('deg, or "endless"'),
});
const pump = z.strictObject({
  name: z.string().min(1),
  flow: z.number().min(0).max(9.5).describe('l/min'),
  valves: z.int().default(1),
  mode: z.enum(['drip', 'spray']).default('drip'),
  parts: z.array(z.discriminatedUnion('kind', [slide, wheel])).default([]),
  nozzle: z.strictObject({ bore: z.number(), throat: z.number() }).optional(),
  hose: z.union([z.literal('auto'), z.number().positive()]).default('auto'),
  zones: z
    .record(z.string().regex(/^[A-C]$/, 'one of A B C'), z.strictObject({ minutes: z.number() }))
    .default({}),
  pair: z
    .tuple([z.strictObject({ left: z.number() }), z.strictObject({ right: z.number() })])
    .optional(),
});
const good = { name: 'p', flow: 2 };

const refused = (value: unknown, file?: string): Fault => {
  try {
    parse(pump, value, 'pump', file);
  } catch (error) {
    if (error instanceof Fault) return error;
    throw error;
  }
  throw new Error(`accepted ${JSON.stringify(value)}`);
};

test('a good value comes back with its defaults filled in', () => {
  expect(parse(pump, good, 'pump')).toEqual({
    ...good,
    valves: 1,
    mode: 'drip',
    parts: [],
    hose: 'auto',
    zones: {},
  });
});

describe('values: key, demand, what was found and what the key means', () => {
  test.each<[string, object, string, RegExp]>([
    ['too large', { flow: 10 }, 'flow', /^flow must be at most 9.5, got 10 \[l\/min\]$/],
    ['too small', { flow: -1 }, 'flow', /^flow must be at least 0, got -1 \[l\/min\]$/],
    ['missing', { flow: undefined }, 'flow', /^flow is missing, it must be a number \[l\/min\]$/],
    ['text for a number', { flow: '2' }, 'flow', /^flow must be a number, got "2"/],
    ['null', { flow: null }, 'flow', /^flow must be a number, got null/],
    ['not whole', { valves: 1.5 }, 'valves', /^valves must be a whole number, got 1.5$/],
    ['empty text', { name: '' }, 'name', /^name must have at least 1 character, got ""$/],
    ['not one of a few', { mode: 'fog' }, 'mode', /^mode must be "drip" or "spray", got "fog"$/],
    ['no list', { parts: {} }, 'parts', /^parts must be a list, got \{\}$/],
    ['a list cut short', { pair: [{ left: 1 }] }, 'pair', /^pair must have at least 2 entries/],
    [
      'neither side of a choice',
      { hose: true },
      'hose',
      /^hose must be "auto" or a number, got true$/,
    ],
    ['a choice out of bounds', { hose: -2 }, 'hose', /^hose must be more than 0, got -2$/],
    ['a bad name in a table', { zones: { D: { minutes: 1 } } }, 'zones.D', /one of A B C/],
  ])('%s', (_, change, key, message) => {
    const fault = refused({ ...good, ...change });
    expect(fault.code).toBe('pump/bad-value');
    expect(fault.message).toMatch(message);
    expect(fault.at).toEqual({ key });
  });

  test('the branch of a nested choice that fits best explains what is wrong', () => {
    const wheelWith = (change: object): object => ({
      ...good,
      parts: [{ kind: 'wheel', radius: 1, travel: 'endless', ...change }],
    });
    expect(refused(wheelWith({ travel: [10, -10] })).message).toBe(
      'parts.0.travel is refused: the first number must be less than the second, got [10,-10] [deg, or "endless"]',
    );
    expect(refused(wheelWith({ travel: [10, 'b'] })).message).toMatch(
      /^parts\.0\.travel\.1 must be a number, got "b"/,
    );
    expect(refused(wheelWith({ travel: 'endles' })).message).toMatch(
      /^parts\.0\.travel must be a list or "endless", got "endles"/,
    );
    expect(refused(wheelWith({ radius: 0 })).message).toBe(
      'parts.0.radius must be more than 0, got 0 [mm]',
    );
  });

  test('a choice by kind names the kinds, and shows the kind alone', () => {
    const kind = (parts: unknown[]): string => refused({ ...good, parts }).message;
    expect(kind([{ kind: 'whel', radius: 1 }])).toBe(
      'parts.0.kind must be "slide" or "wheel", got "whel"',
    );
    expect(kind([{ radius: 1 }])).toBe('parts.0.kind is missing, it must be "slide" or "wheel"');
  });

  test('a value that is no object at all', () => {
    for (const value of [5, null, [], 'x', undefined]) {
      const fault = refused(value, 'pump.json');
      expect(fault.message).toMatch(/^the value (must be an object|is missing)/);
      expect(fault.at).toEqual({ file: 'pump.json' });
    }
  });

  test('long values are cut, further problems counted', () => {
    const fault = refused({ name: 5, flow: 'x'.repeat(200), valves: 0.5 });
    expect(fault.message).toMatch(/\(and 2 more\)$/);
    expect(fault.problems.map((p) => [p.at?.key, p.message])).toEqual([
      ['name', 'name must be a text, got 5'],
      [
        'flow',
        expect.stringMatching(
          /^flow must be a number, got "x+\.\.\." of 200 characters \[l\/min\]$/,
        ),
      ],
      ['valves', 'valves must be a whole number, got 0.5'],
    ]);
    expect(refused({ ...good, flow: 'x'.repeat(200) }).message.length).toBeLessThan(120);
  });
});

describe('unknown keys are refused with the nearest known one', () => {
  test.each<[string, object, string, string]>([
    ['at the top', { flwo: 1 }, 'flwo', 'flow'],
    ['in an object', { nozzle: { bore: 1, throat: 1, boer: 1 } }, 'nozzle.boer', 'bore'],
    [
      'in one kind of several: only keys of that kind',
      { parts: [{ kind: 'slide', stroke: [0, 1], travle: 1 }] },
      'parts.0.travle',
      'stroke',
    ],
    [
      'in the other kind',
      { parts: [{ kind: 'wheel', radius: 1, travel: 'endless', travle: 1 }] },
      'parts.0.travle',
      'travel',
    ],
    ['in a table', { zones: { A: { minutes: 1, minuts: 2 } } }, 'zones.A.minuts', 'minutes'],
    [
      'in a list of fixed places',
      { pair: [{ left: 1 }, { right: 1, rigth: 1 }] },
      'pair.1.rigth',
      'right',
    ],
  ])('%s', (_, change, key, nearest) => {
    const fault = refused({ ...good, ...change }, 'pump.json');
    expect(fault.code).toBe('pump/unknown-key');
    expect(fault.message).toContain(`did you mean "${nearest}"?`);
    expect(fault.at).toEqual({ key, file: 'pump.json' });
  });

  test('several at once are counted, and each has its own nearest key', () => {
    const fault = refused({ ...good, flwo: 1, nmae: 2, x: 3 });
    expect(fault.message).toMatch(/\(and 2 more\)$/);
    expect(fault.problems.map((p) => p.message)).toEqual([
      'unknown key "flwo"; did you mean "flow"?',
      'unknown key "nmae"; did you mean "name"?',
      // Nothing is like it.
      expect.stringMatching(/^unknown key "x"; known here: name, flow, valves, /),
    ]);
  });

  test('thousands of problems are counted without a call each, and 20 are told', () => {
    const many = Object.fromEntries(Array.from({ length: 200_000 }, (_, i) => [`k${i}`, 1]));
    const fault = refused({ ...good, ...many });
    expect(fault.message).toMatch(/\(and 199999 more\)$/);
    expect(fault.problems).toHaveLength(21);
    expect(fault.problems[20]!.message).toBe('199980 more problems like these');
  });

  test('a key of 15 million characters is named by its beginning', () => {
    const fault = refused({ ...good, ['k'.repeat(15e6)]: 1 });
    expect(fault.message.length).toBeLessThan(200);
    expect(JSON.stringify(fault.toData()).length).toBeLessThan(1000);
  });

  test('a key named like a member of every object is unknown too', () => {
    const value = JSON.parse('{"name":"p","flow":2,"constructor":1}') as unknown;
    expect(refused(value).code).toBe('pump/unknown-key');
  });
});

test('a value that is nested deeper than any that is meant is refused by its depth', () => {
  let deep: unknown = 1;
  for (let i = 0; i < 4999; i++) deep = [deep];
  const fault = refused({ ...good, parts: deep }, 'pump.json');
  expect(fault.code).toBe('pump/too-deep');
  expect(fault.message).toBe('the value is nested 5,000 levels deep, the limit is 64');
});

describe('faults', () => {
  test('keep code and place between threads as data, which an Error does not', () => {
    const fault = new Fault('mesh/open-edges', '3 open edges', {
      point: [1, 2, 3],
      frame: 'part',
      file: 'a.stl',
    });
    const { port1, port2 } = new MessageChannel();
    port1.postMessage({ data: fault.toData(), error: fault });
    const { message } = receiveMessageOnPort(port2) as {
      message: { data: Parameters<typeof Fault.fromData>[0]; error: Fault };
    };
    port1.close();
    expect(message.error.code).toBeUndefined();
    const again = Fault.fromData(message.data);
    expect(again).toBeInstanceOf(Fault);
    expect(again.name).toBe('Fault');
    expect(again.toData()).toEqual(fault.toData());
    expect(new Fault('a/b', 'c').toData()).toEqual({ code: 'a/b', message: 'c' });
  });
});
