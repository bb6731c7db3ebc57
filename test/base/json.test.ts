/** JSON files as people write them, against RFC 8259 as the engine's own reader knows it. */
import { describe, expect, test } from 'vitest';
import { Fault } from '../../lib/base/fault.js';
import { DEEPEST_JSON, readJsonText, within } from '../../lib/base/json.js';
import { seeded } from '../../lib/base/random.js';

const faultOf = (work: () => unknown): Fault => {
  try {
    work();
  } catch (error) {
    if (error instanceof Fault) return error;
    throw error;
  }
  throw new Error('was accepted');
};
const read = (text: string): Fault => faultOf(() => readJsonText(text, 'm.json'));

describe('mistakes are refused with line and column', () => {
  test.each<[string, string, number, number, RegExp]>([
    ['a comma too many', '{\n  "a": 1,\n}', 3, 1, /expected a key in double quotes, found "\}"/],
    ['a comma left out', '{\n  "a": 1\n  "b": 2\n}', 3, 3, /expected "," or "\}"/],
    ['a colon left out', '{"a" 1}', 1, 6, /expected ":" after the key/],
    ['a key without quotes', '{a: 1}', 1, 2, /a key in double quotes or "\}"/],
    ['single quotes', "{'a': 1}", 1, 2, /a key in double quotes/],
    ['no text', '', 1, 1, /a value, found the end of the text/],
    ['a text cut short', '{"a": [1, 2', 1, 12, /"," or "\]", found the end/],
    ['a text over two lines', '{"a": "b\nc"}', 1, 7, /ends in its line/],
    ['an escape sequence in a text', '{"a": "\x1b[31m"}', 1, 7, /control characters escaped/],
    ['something after the end', '{}\n{}', 2, 1, /nothing more/],
    ['a comment', '{"a": 1 // one\n}', 1, 9, /"," or "\}", found "\/\/"/],
    ['a number with a nought before it', '[010]', 1, 2, /a value/],
  ])('%s', (_, text, line, column, message) => {
    const fault = read(text);
    expect(fault.code).toBe('file/not-json');
    expect(fault.message).toMatch(message);
    expect(fault.message).not.toMatch(/[\n\x1b]/);
    expect(fault.at).toEqual({ file: 'm.json', line, column });
  });

  test('every key that appears twice, with both lines', () => {
    const fault = read('{"a": {\n"speed": 1,\n"x": [{"speed": 2}],\n"speed": 3},\n"a": 4}');
    expect(fault.problems.map((p) => [p.code, p.at?.line, p.message])).toEqual([
      ['file/repeated-key', 4, 'the key "speed" appears twice, first in line 2'],
      ['file/repeated-key', 5, 'the key "a" appears twice, first in line 1'],
    ]);
  });

  test('5,000 levels, in lists and in objects, with depth and limit', () => {
    for (const [open, close] of [
      ['[', ']'],
      ['{"a":', '}'],
    ] as const) {
      const fault = read(`${open.repeat(5000)}1${close.repeat(5000)}`);
      expect(fault.code).toBe('file/too-deep');
      expect(fault.message).toMatch(/5,000 levels deep, the limit is 64/);
    }
    const most = `${'['.repeat(DEEPEST_JSON)}${']'.repeat(DEEPEST_JSON)}`;
    expect(readJsonText(most, 'm.json').text).toBe(most);
    expect(read(`[${most}]`).message).toMatch(/65 levels/);
  });
});

test('takes and refuses what the engine takes and refuses (20,000 changed texts, seed 5)', () => {
  const random = seeded(5);
  const pick = (n: number): number => Math.floor(random() * n);
  const text =
    '{"name": "t\\u00e9e \\"x\\"", "list": [1, -2.5e+3, 0, true, null, {"b": []}], "c": {}}\n';
  const letters = '{}[],:"0123456789.eE+-\\ \n\t\x1b\x9futrafalsn';
  let taken = 0;
  for (let i = 0; i < 20_000; i++) {
    let changed = text;
    for (let n = 0; n <= pick(2); n++) {
      const at = pick(changed.length);
      const put = pick(3) === 0 ? '' : letters[pick(letters.length)]!;
      changed = changed.slice(0, at) + put + changed.slice(at + pick(2));
    }
    let wanted: unknown;
    try {
      wanted = JSON.parse(changed);
    } catch {
      expect(read(changed).code, changed).toBe('file/not-json');
      continue;
    }
    taken++;
    try {
      expect(readJsonText(changed, 'm.json').value).toEqual(wanted);
    } catch (error) {
      expect((error as Fault).code, changed).toBe('file/repeated-key');
    }
  }
  expect(taken).toBeGreaterThan(500);
});

test('a text and blanks of 15 million characters each are read', () => {
  const { value } = readJsonText(`{"a": "${'x'.repeat(15e6)}",${' '.repeat(15e6)}"b": 1}`, 'm');
  expect((value as { a: string }).a.length).toBe(15e6);
});

describe('Faults of what is read in a file get line and column', () => {
  const file = readJsonText(
    '\ufeff{\n  "head": {\n    "joints": [\n      { "speed": 0 },\n      { "speed": 1,\n        "a.b": 2 }\n    ]\n  }\n}',
    'm.json',
  );
  const at = (key: string): (number | undefined)[] => {
    const { line, column } = faultOf(() =>
      within(file, () => {
        throw new Fault('x/y', 'm', { key });
      }),
    ).at!;
    return [line, column];
  };

  test('by hand counted places', () => {
    expect(at('head')).toEqual([2, 3]);
    expect(at('head.joints')).toEqual([3, 5]);
    expect(at('head.joints.0')).toEqual([4, 7]);
    expect(at('head.joints.0.speed')).toEqual([4, 9]);
    expect(at('head.joints.1.a.b')).toEqual([6, 9]);
  });

  test('of a key that is not there, the place of what should hold it', () => {
    expect(at('head.joints.1.travel')).toEqual([5, 7]);
    expect(at('table.joints')).toEqual([1, 1]);
  });

  test('all of several, in the order of the lines', () => {
    const fault = faultOf(() =>
      within(file, (_, name) => {
        throw Fault.of(
          ['head.joints.1.speed', 'head', 'none'].map((key) => ({
            code: 'x/y',
            message: key,
            at: { key, file: name },
          })),
        );
      }),
    );
    expect(fault.problems.map((p) => [p.message, p.at?.line])).toEqual([
      ['none', 1],
      ['head', 2],
      ['head.joints.1.speed', 5],
    ]);
  });
});
