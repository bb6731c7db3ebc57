/**
 * JSON files as people write them. `JSON.parse` says of a mistake at best a count of characters, takes
 * the last of two equal keys without a word, and nests without end, which everything that walks the
 * value pays for with its call stack. So the text is scanned once before it (RFC 8259; one pass over the
 * tokens with a stack of its own, linear): a mistake is refused with line and column, a key that stands
 * twice with both lines, nesting with depth and limit. `within` scans again when a Fault names keys of
 * the value, and gives each the line and column at which its value stands.
 */
import { Fault, type FaultData } from './fault.js';
import { printable } from './printable.js';

/** A JSON file with its text, in which problems get their line and column. */
export interface JsonFile {
  /** Name, for messages. */
  readonly file: string;
  readonly text: string;
  readonly value: unknown;
}

/** No real file comes near; a machine file has 8 levels. */
export const DEEPEST_JSON = 64;

/** @throws Fault `file/not-json`, `file/repeated-key`, `file/too-deep`, with line and column */
export function readJsonText(text: string, file: string): JsonFile {
  // A byte order mark is not part of the text.
  const clean = text.replace(/^\ufeff/, '');
  checkKeys(clean, file);
  return { file, text: clean, value: JSON.parse(clean) as unknown };
}

/**
 * Work on the value of a file. Faults of it that name a key get the place where it stands.
 * @param work takes the value and the name of the file
 */
export function within<T>(
  { file, text, value }: JsonFile,
  work: (value: unknown, file: string) => T,
): T {
  try {
    return work(value, file);
  } catch (error) {
    if (!(error instanceof Fault)) throw error;
    const all = error.problems.length > 0 ? error.problems : [error];
    const own = all.filter(({ at }) => at?.key !== undefined && at.line === undefined);
    const places = placesOf(text, new Set(own.map(({ at }) => at!.key!)));
    throw Fault.of(
      all.map((p): FaultData => {
        const place = p.at?.key === undefined || p.at.line ? undefined : places.get(p.at.key);
        return { code: p.code, message: p.message, at: { ...p.at, ...place, file } };
      }),
    );
  }
}

/** @throws Fault `<area>/too-deep`; the depth is counted level by level, without recursion */
export function checkDepth(value: unknown, area: string, file?: string): void {
  let depth = 0;
  let level = [value].filter(isNested);
  while (level.length > 0) {
    depth++;
    level = level.flatMap((v) => Object.values(v).filter(isNested));
  }
  if (depth > DEEPEST_JSON) throw tooDeep(area, depth, file ? { file } : undefined);
}

const isNested = (value: unknown): value is object =>
  value !== null && typeof value === 'object' && !ArrayBuffer.isView(value);

const tooDeep = (area: string, depth: number, at: Fault['at']): Fault =>
  new Fault(
    `${area}/too-deep`,
    `the value is nested ${depth.toLocaleString('en-US')} levels deep, the limit is ${DEEPEST_JSON}`,
    at,
  );

interface JsonLevel {
  /** Keys so far with the offset of each; undefined in a list. */
  readonly keys: Map<string, number> | undefined;
  /** Key or index of the value that stands or comes next. */
  at: string | number;
}

/** Called for every value; `levels` is the path to it. */
interface Listener {
  value?(levels: readonly JsonLevel[], offset: number): void;
  repeated?(key: string, first: number, again: number): void;
}

/** What the grammar of JSON lets come next. */
type Wanted = 'value' | 'value or end' | 'key' | 'key or end' | 'colon' | 'next' | 'nothing';

/**
 * The tokens of JSON in turn. Characters are read one by one: a regular expression for a whole string
 * or a run of blanks keeps a backtracking point for each of its characters, and 15 million of them
 * overflow.
 * @returns the greatest depth, and where the first mistake stands with what was wanted there
 */
function scan(text: string, hear: Listener): { depth: number; wrong?: [number, string] } {
  const levels: JsonLevel[] = [];
  let depth = 0;
  let wanted: Wanted = 'value';
  for (let at = 0; ;) {
    at = afterBlanks(text, at);
    const level = levels.at(-1);
    const end = tokenEnd(text, at);
    const c = text[at];
    const kind = c === '"' ? 'string' : '{}[],:'.includes(c ?? ' ') ? c : 'scalar';
    const atValue = wanted === 'value' || wanted === 'value or end';
    if (c === undefined && wanted === 'nothing') return { depth };
    if (end < 0)
      return { depth, wrong: [at, kind === 'string' ? CLOSED_TEXT : namesOf(wanted, level)] };
    if (atValue && (kind === 'string' || kind === 'scalar')) {
      hear.value?.(levels, at);
      wanted = level ? 'next' : 'nothing';
    } else if (atValue && (c === '{' || c === '[')) {
      hear.value?.(levels, at);
      levels.push(c === '{' ? { keys: new Map(), at: '' } : { keys: undefined, at: 0 });
      depth = Math.max(depth, levels.length);
      wanted = c === '{' ? 'key or end' : 'value or end';
    } else if ((wanted === 'key' || wanted === 'key or end') && kind === 'string') {
      takeKey(level!, JSON.parse(text.slice(at, end)) as string, at, hear);
      wanted = 'colon';
    } else if (wanted === 'colon' && c === ':') wanted = 'value';
    else if (wanted === 'next' && c === ',') {
      if (!level!.keys) level!.at = Number(level!.at) + 1;
      wanted = level!.keys ? 'key' : 'value';
    } else if (closes(c, wanted, level)) {
      levels.pop();
      wanted = levels.length > 0 ? 'next' : 'nothing';
    } else return { depth, wrong: [at, namesOf(wanted, level)] };
    at = end;
  }
}

/** What is expected where a text does not end, or holds what must be escaped. */
const CLOSED_TEXT = 'a text that ends in its line with a double quote, control characters escaped';

const closes = (c: string | undefined, wanted: Wanted, level: JsonLevel | undefined): boolean =>
  level?.keys
    ? c === '}' && (wanted === 'next' || wanted === 'key or end')
    : level !== undefined && c === ']' && (wanted === 'next' || wanted === 'value or end');

function takeKey(level: JsonLevel, key: string, at: number, hear: Listener): void {
  const first = level.keys!.get(key);
  if (first !== undefined) hear.repeated?.(key, first, at);
  level.keys!.set(key, at);
  level.at = key;
}

function afterBlanks(text: string, from: number): number {
  let at = from;
  while (BLANKS.includes(text.charCodeAt(at))) at++;
  return at;
}

const BLANKS = [32, 10, 13, 9];
const SCALAR = /^(?:-?(?:0|[1-9]\d*)(?:\.\d+)?(?:[eE][+-]?\d+)?|true|false|null)$/;
/** Nobody means a number of more characters. */
const LONGEST_SCALAR = 400;

/** Where the token that begins at a place ends, or -1 if none does. */
function tokenEnd(text: string, from: number): number {
  const c = text[from];
  if (c === undefined) return -1;
  if ('{}[],:'.includes(c)) return from + 1;
  if (c === '"') return stringEnd(text, from);
  let end = from;
  while (end - from <= LONGEST_SCALAR && /[\w.+-]/.test(text[end] ?? '')) end++;
  return SCALAR.test(text.slice(from, end)) ? end : -1;
}

function stringEnd(text: string, from: number): number {
  for (let at = from + 1; ; at++) {
    const c = text.charCodeAt(at);
    if (c === QUOTE) return at + 1;
    if (!(c >= 32)) return -1;
    if (c !== BACKSLASH) continue;
    const escape = text[++at] ?? '';
    if (escape === 'u' && /^[0-9a-fA-F]{4}$/.test(text.slice(at + 1, at + 5))) at += 4;
    else if (!'"\\/bfnrt'.includes(escape) || escape === '') return -1;
  }
}

const QUOTE = 34;
const BACKSLASH = 92;

function namesOf(wanted: Wanted, level: JsonLevel | undefined): string {
  const end = level?.keys ? '"}"' : '"]"';
  switch (wanted) {
    case 'value':
      return 'a value';
    case 'value or end':
      return 'a value or "]"';
    case 'key':
      return 'a key in double quotes';
    case 'key or end':
      return 'a key in double quotes or "}"';
    case 'colon':
      return '":" after the key';
    case 'next':
      return `"," or ${end}`;
    case 'nothing':
      return 'nothing more';
  }
}

function checkKeys(text: string, file: string): void {
  const twice: FaultData[] = [];
  const { depth, wrong } = scan(text, {
    repeated(key, first, again) {
      twice.push({
        code: 'file/repeated-key',
        message: `the key "${printable(key, 60)}" appears twice, first in line ${placeAt(text, first).line}`,
        at: { file, ...placeAt(text, again) },
      });
    },
  });
  if (wrong) {
    const [offset, want] = wrong;
    const rest = text.slice(offset);
    const found =
      rest === ''
        ? 'the end of the text'
        : `"${printable(/^\S{1,20}/.exec(rest)?.[0] ?? rest.slice(0, 1))}"`;
    throw new Fault('file/not-json', `the file is not JSON: expected ${want}, found ${found}`, {
      file,
      ...placeAt(text, offset),
    });
  }
  if (depth > DEEPEST_JSON) throw tooDeep('file', depth, { file });
  if (twice.length > 0) throw Fault.of(twice);
}

/** Line and column of the value at each dotted key; of what holds it where the text does not have it. */
function placesOf(
  text: string,
  wanted: ReadonlySet<string>,
): Map<string, { line: number; column: number }> {
  const asked = new Map<string, string[]>();
  for (const key of wanted) {
    const parts = key.split('.');
    for (let n = 0; n <= parts.length; n++) {
      const path = parts.slice(0, n).join('.');
      asked.set(path, [...(asked.get(path) ?? []), key]);
    }
  }
  const found = new Map<string, number>();
  scan(text, {
    value(levels, offset) {
      // Enclosing values come before what they enclose, so the last one seen is the nearest.
      for (const key of asked.get(levels.map((l) => l.at).join('.')) ?? []) {
        found.set(key, levels.at(-1)?.keys?.get(String(levels.at(-1)!.at)) ?? offset);
      }
    },
  });
  return new Map([...found].map(([key, offset]) => [key, placeAt(text, offset)]));
}

function placeAt(text: string, offset: number): { line: number; column: number } {
  const before = text.slice(0, offset);
  const line = before.split('\n').length;
  return { line, column: offset - before.lastIndexOf('\n') };
}
