/**
 * The header of a PLY file (Turk, "The PLY polygon file format", 1994): which elements follow, how many,
 * with which properties of which types, as text or as bytes of either order.
 */
import { Fault } from '../base/fault.js';
import { printable } from '../base/phrases.js';

export type PlyType =
  'int8' | 'uint8' | 'int16' | 'uint16' | 'int32' | 'uint32' | 'float32' | 'float64';

/** Both families of names in use. */
const PLY_TYPES: Readonly<Record<string, PlyType>> = {
  char: 'int8',
  uchar: 'uint8',
  short: 'int16',
  ushort: 'uint16',
  int: 'int32',
  uint: 'uint32',
  float: 'float32',
  double: 'float64',
  ...Object.fromEntries(
    (['int8', 'uint8', 'int16', 'uint16', 'int32', 'uint32', 'float32', 'float64'] as const).map(
      (t) => [t, t],
    ),
  ),
};

export interface PlyProperty {
  readonly name: string;
  readonly type: PlyType;
  /** Type of the count of a list; absent for a single value. */
  readonly count?: PlyType;
}

export interface PlyElement {
  readonly name: string;
  readonly count: number;
  readonly properties: readonly PlyProperty[];
}

export interface PlyHeader {
  readonly format: 'ascii' | 'little-endian' | 'big-endian';
  readonly elements: readonly PlyElement[];
  /** Where the data begins. */
  readonly end: number;
  /** Line on which it begins, from 1. */
  readonly line: number;
}

const FORMATS: Readonly<Record<string, PlyHeader['format']>> = {
  ascii: 'ascii',
  binary_little_endian: 'little-endian',
  binary_big_endian: 'big-endian',
};
/** Longest header that is read, bytes; comments are part of it. */
const HEADER_BYTES = 2 ** 20;
const LF = 10;
const CR = 13;

export const looksLikePly = (bytes: Uint8Array): boolean =>
  bytes[0] === 0x70 &&
  bytes[1] === 0x6c &&
  bytes[2] === 0x79 &&
  (bytes[3] === LF || bytes[3] === CR);

/** @throws Fault `ply/syntax`, `ply/cut-short` */
export function readPlyHeader(bytes: Uint8Array): PlyHeader {
  const reader = new HeaderLines(bytes);
  reader.next();
  let format: PlyHeader['format'] | undefined;
  const elements: (PlyElement & { properties: PlyProperty[] })[] = [];
  for (;;) {
    const [word = '', ...rest] = reader.next();
    if (word === 'end_header') break;
    if (word === '' || word === 'comment' || word === 'obj_info') continue;
    if (word === 'format') format = formatOf(rest, reader);
    else if (word === 'element') elements.push(elementOf(rest, reader));
    else if (word === 'property') {
      const element = elements.at(-1);
      if (!element) throw reader.fault('a property stands before the first element');
      element.properties.push(propertyOf(rest, reader));
    } else throw reader.fault(`"${printable(word, 40)}" begins no line of a PLY header`);
  }
  if (!format) throw reader.fault('the header states no format');
  return { format, elements, end: reader.at, line: reader.line + 1 };
}

/** Lines of the header as words; they end with LF, CR LF, or CR alone. */
class HeaderLines {
  at = 0;
  /** One-based number of the line that was read last. */
  line = 0;
  readonly #bytes: Uint8Array;

  constructor(bytes: Uint8Array) {
    this.#bytes = bytes;
  }

  next(): string[] {
    const bytes = this.#bytes;
    const limit = Math.min(bytes.length, HEADER_BYTES);
    let end = this.at;
    while (end < limit && bytes[end] !== LF && bytes[end] !== CR) end++;
    if (end === limit) {
      const message = `the header has no "end_header" in its first ${limit} bytes; the file has ${bytes.length} bytes`;
      throw new Fault('ply/cut-short', message);
    }
    const text = String.fromCharCode(...bytes.subarray(this.at, Math.min(end, this.at + 1000)));
    this.at = bytes[end] === CR && bytes[end + 1] === LF ? end + 2 : end + 1;
    this.line++;
    return text.trim().split(/\s+/);
  }

  fault(what: string): Fault {
    return new Fault('ply/syntax', `line ${this.line}: ${what}`, { line: this.line });
  }
}

function formatOf([name = '', version = '']: string[], reader: HeaderLines): PlyHeader['format'] {
  const format = Object.hasOwn(FORMATS, name) ? FORMATS[name] : undefined;
  if (format && version === '1.0') return format;
  throw reader.fault(
    `format "${printable(`${name} ${version}`, 60)}" is none of ${Object.keys(FORMATS).join(', ')}, version 1.0`,
  );
}

function elementOf(
  [name = '', count = '']: string[],
  reader: HeaderLines,
): PlyElement & { properties: PlyProperty[] } {
  if (!/^\d{1,10}$/.test(count))
    throw reader.fault(`"${printable(count, 40)}" is no number of elements`);
  return { name, count: Number(count), properties: [] };
}

function propertyOf(words: string[], reader: HeaderLines): PlyProperty {
  const type = (word = ''): PlyType => {
    const known = Object.hasOwn(PLY_TYPES, word) ? PLY_TYPES[word] : undefined;
    if (known) return known;
    throw reader.fault(`"${printable(word, 40)}" is no type of a property`);
  };
  if (words[0] !== 'list') return { type: type(words[0]), name: words[1] ?? '' };
  return { count: type(words[1]), type: type(words[2]), name: words[3] ?? '' };
}
