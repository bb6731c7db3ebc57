/**
 * What hides in text. The characters are those of the Unicode Standard: C0 and C1 controls (ISO/IEC 6429),
 * bidirectional embeddings, overrides and isolates (UAX 9, table 2.1 to 2.5), separators, tags.
 */
import { describe, expect, test } from 'vitest';
import { Fault, shownFinding } from '../../lib/base/fault.js';
import { jsonText, printable } from '../../lib/base/printable.js';

/** Everything that a terminal acts on or that makes text read as other text. */
const HOSTILE: [string, string][] = [
  ['a colour of ISO/IEC 6429', '\x1b[31mred\x1b[0m'],
  ['a title of the window', '\x1b]0;title\x07'],
  ['the one-byte control sequence introducer', '\x9b2J'],
  ['every C1 control', Array.from({ length: 32 }, (_, i) => String.fromCharCode(128 + i)).join('')],
  ['every C0 control', Array.from({ length: 32 }, (_, i) => String.fromCharCode(i)).join('')],
  ['delete', 'a\x7fb'],
  ['a new line that looks like ours', 'part\r\nerror: all is lost'],
  ['a bidirectional override', 'part\u202egnp.exe'],
  [
    'embeddings, isolates and marks',
    '\u202a\u202b\u202c\u202d\u2066\u2067\u2068\u2069\u200e\u200f\u061c',
  ],
  ['what has no width', 'a\u200bb\u200cc\u200dd\ufeffe\u2060f'],
  ['separators', 'a\u2028b\u2029c'],
  ['tags', 'a\u{e0041}\u{e007f}b'],
  ['half a pair', 'a\ud800b\udc00c'],
];
const BAD =
  /[\x00-\x1f\x7f-\x9f\u061c\u200b-\u200f\u2028-\u202e\u2060-\u2069\ufeff\ud800-\udfff]|[\u{e0000}-\u{e007f}]/u;

describe.each(HOSTILE)('%s', (_, text) => {
  test('is shown, not obeyed', () => {
    expect(text).toMatch(BAD);
    expect(printable(text, 1000)).not.toMatch(BAD);
    expect(printable(text, 1000).length).toBeGreaterThan(text.length);
  });

  test('reads back from JSON that shows it', () => {
    const json = jsonText({ name: text, [text]: [text] });
    expect(json.replaceAll('\n', '')).not.toMatch(BAD);
    expect(JSON.parse(json)).toEqual({ name: text, [text]: [text] });
  });

  test('does not leave in a Fault, its data or a Finding', () => {
    const at = { key: text, file: text };
    const fault = new Fault('mesh/odd', `the part ${text} is odd`, at, [
      { code: 'a/b', message: text, at },
    ]);
    expect(fault.message).not.toMatch(BAD);
    const { message, at: place, problems } = fault.toData();
    for (const shown of [message, place!.key!, place!.file!, problems![0]!.message])
      expect(shown).not.toMatch(BAD);
    const finding = shownFinding({ code: 'a/b', severity: 'note', message: text, at });
    expect(finding.message + finding.at!.key! + finding.at!.file!).not.toMatch(BAD);
  });
});

test('what people write stays as it is', () => {
  for (const text of [
    'Gartenschlauch-Verteiler 3 × ½″',
    'тройник',
    '管接头',
    'é\u0301',
    '🌱 tap',
    'a "b" \\c',
  ])
    expect(printable(text)).toBe(text);
});

test('a name of 15 million characters is cut between characters, and its length is said', () => {
  expect(printable('n'.repeat(15e6))).toBe(`${'n'.repeat(200)}... (15,000,000 characters)`);
  // U+1F331 takes two units: 199 and a half of it would be left.
  expect(printable(`${'n'.repeat(199)}🌱${'n'.repeat(100)}`)).toBe(
    `${'n'.repeat(199)}... (301 characters)`,
  );
  expect(new Fault('a/b', 'm'.repeat(15e6)).message.length).toBeLessThan(1100);
});
