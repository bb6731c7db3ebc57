/**
 * Inputs changed so that they still get past the first look of a reader: numbers become extreme ones,
 * lines and keys are doubled, moved and cut out, snippets of the same language are put in. Bytes changed
 * blindly (test/support/changed.ts) find what is not looked at; these find what is looked at too late.
 */
import type { Random } from '../../lib/base/random.js';
import { changed } from '../support/changed.js';

/** Numbers at and beyond the ends of what float64, float32 and 32-bit counts hold, and near zero. */
const NUMBERS = [
  '0',
  '-0',
  '-1',
  '0.5',
  '0.0000001',
  '-0.001',
  '720',
  '1001',
  '10001',
  '99999999',
  '-99999999',
  '1e9',
  '-1e9',
  '1e-300',
  '1e308',
  '-1e308',
  '3.5e38',
  '2147483648',
  '4294967296',
  '9007199254740993',
  '9'.repeat(400),
  `0.${'0'.repeat(400)}1`,
  'NaN',
  'Infinity',
  '',
];
const NUMBER = /-?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?/g;

export const pick = <T>(list: readonly T[], random: Random): T =>
  list[Math.floor(random() * list.length)]!;

/** How many: one in half of all cases, so that the rest of the input stays sound. */
const changes = (random: Random): number => (random() < 0.5 ? 1 : 1 + Math.floor(4 * random()));

/** One of the text's numbers becomes another one: extreme, ten-fold, or with its sign turned. */
export function otherNumber(text: string, random: Random): string {
  const found = [...text.matchAll(NUMBER)];
  if (found.length === 0) return text;
  const { 0: word, index } = pick(found, random);
  const value = Number(word);
  const way = random();
  const put =
    way < 0.6
      ? pick(NUMBERS, random)
      : String(way < 0.8 ? value * 10 ** (1 + Math.floor(3 * random())) : -value);
  return text.slice(0, index) + put + text.slice(index + word.length);
}

/** A line doubled, cut out, moved, or a snippet put in its place or behind it. */
function otherLines(text: string, snippets: readonly string[], random: Random): string {
  const lines = text.split('\n');
  const at = Math.floor(random() * lines.length);
  const way = Math.floor(random() * 6);
  if (way === 0) lines.splice(at, 0, lines[at]!);
  else if (way === 1) lines.splice(at, 1 + Math.floor(random() ** 3 * lines.length));
  else if (way === 2) lines.splice(Math.floor(random() * lines.length), 0, ...lines.splice(at, 1));
  else if (way === 3) lines[at] = `${lines[at]!} ${pick(snippets, random)}`;
  else lines.splice(at, way === 4 ? 1 : 0, pick(snippets, random));
  return lines.join('\n');
}

/** One to four changes of a text: numbers, lines, now and then blind bytes. */
export function changedText(text: string, snippets: readonly string[], random: Random): Uint8Array {
  let out = text;
  for (let k = changes(random); k > 0; k--) {
    const way = random();
    if (way < 0.45) out = otherNumber(out, random);
    else if (way < 0.9) out = otherLines(out, snippets, random);
    else return changed(new TextEncoder().encode(out), random);
  }
  return new TextEncoder().encode(out);
}

/** Values that stand in place of others in a JSON file. */
const VALUES: readonly unknown[] = [
  null,
  true,
  '',
  'x',
  '\u0000\u001b[31m',
  'G1 X{value}',
  'x'.repeat(5000),
  0,
  -0,
  -1,
  1e-300,
  1e-9,
  0.001,
  1000,
  1e6,
  1e9,
  1e308,
  -1e308,
  2 ** 53,
  [],
  {},
  [[[[[[[[]]]]]]]],
  [0, 0, 0],
  [1e-200, 0, 1],
  [1e200, 1e200, 1e200],
];

/** One to four changes of a JSON value: leaves and branches replaced, left out, doubled, exchanged. */
export function changedJson(value: unknown, random: Random): Uint8Array {
  const root = { value: structuredClone(value) };
  for (let k = changes(random); k > 0; k--) {
    const places = placesIn(root);
    // The whole may have been left out.
    if (places.length === 0) break;
    const { holder, key } = pick(places, random);
    const now = holder[key];
    const way = random();
    if (way < 0.3) holder[key] = structuredClone(pick(VALUES, random));
    else if (way < 0.7 && typeof now === 'number') holder[key] = scaled(now, random);
    else if (way < 0.8) delete holder[key];
    else if (way < 0.9 && Array.isArray(now))
      now.push(...(structuredClone(now) as readonly unknown[]));
    else holder[key] = structuredClone(pick(placesIn(root), random).holder);
  }
  const text = JSON.stringify(root.value) ?? 'null';
  return random() < 0.1
    ? changedText(text, ['{', ']', '"__proto__":1,'], random)
    : new TextEncoder().encode(text);
}

const scaled = (value: number, random: Random): number =>
  random() < 0.3 ? -value : value * 10 ** (Math.floor(random() * 17) - 8);

interface Slot {
  readonly holder: Record<string, unknown>;
  readonly key: string;
}

/** Every key of every object and list, some thousand at most: changes may multiply them. */
function placesIn(root: object): Slot[] {
  const out: Slot[] = [];
  const open: object[] = [root];
  for (let at = open.pop(); at && out.length < 5000; at = open.pop()) {
    for (const [key, value] of Object.entries(at)) {
      out.push({ holder: at as Record<string, unknown>, key });
      if (typeof value === 'object' && value !== null) open.push(value as object);
    }
  }
  return out;
}
