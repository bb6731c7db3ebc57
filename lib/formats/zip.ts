/**
 * Reader of ZIP archives (PKWARE APPNOTE): entries are found through the central directory and inflated
 * one at a time on demand. Stored and deflated entries, ZIP64 and streamed archives are read. Nothing
 * larger than the stated limits is unpacked; sizes and CRC-32 are checked, and an archive that unpacks
 * to more than it says, or to something else, is refused.
 */
import { inflateSync } from 'fflate';
import { BOUNDS } from '../base/bounds.js';
import { Fault } from '../base/fault.js';
import { printable } from '../base/phrases.js';

/** Greatest size of one unpacked part, bytes. */
export const PART_LIMIT = 512 * 2 ** 20;
/** Greatest number of entries. */
const ENTRY_LIMIT = 10_000;

interface ZipEntry {
  readonly method: number;
  readonly crc: number;
  readonly packed: number;
  readonly size: number;
  /** Where the local header stands. */
  readonly offset: number;
}

export interface Zip {
  readonly bytes: Uint8Array;
  /** By name in lower case, without a slash at the front: part names are case-insensitive (OPC). */
  readonly entries: ReadonlyMap<string, ZipEntry>;
}

const bad = (what: string): Fault => new Fault('zip/damaged', `damaged zip archive: ${what}`);

const viewOf = (b: Uint8Array): DataView => new DataView(b.buffer, b.byteOffset, b.byteLength);

export const isZip = (bytes: Uint8Array): boolean =>
  bytes[0] === 0x50 && bytes[1] === 0x4b && (bytes[2] === 3 || bytes[2] === 5);

/** @throws Fault `zip/damaged`, `zip/unsupported`, `zip/too-many` */
export function openZip(bytes: Uint8Array): Zip {
  try {
    return { bytes, entries: readDirectory(bytes) };
  } catch (error) {
    if (error instanceof RangeError) throw bad('the directory points outside the file');
    throw error;
  }
}

function readDirectory(bytes: Uint8Array): Map<string, ZipEntry> {
  const view = viewOf(bytes);
  const { count, start } = findDirectory(view);
  if (count > ENTRY_LIMIT) {
    throw new Fault(
      'zip/too-many',
      `the archive has ${count} entries; the limit is ${ENTRY_LIMIT}`,
    );
  }
  const entries = new Map<string, ZipEntry>();
  let at = start;
  for (let i = 0; i < count; i++) {
    if (view.getUint32(at, true) !== 0x02014b50) throw bad(`entry ${i + 1} of ${count} is missing`);
    const flags = view.getUint16(at + 8, true);
    const nameLength = view.getUint16(at + 28, true);
    const extraLength = view.getUint16(at + 30, true);
    const name = new TextDecoder().decode(bytes.subarray(at + 46, at + 46 + nameLength));
    if (flags & 1) throw new Fault('zip/unsupported', `"${printable(name)}" is encrypted`);
    const key = name.replace(/^\/+/, '').toLowerCase();
    if (entries.has(key)) throw bad(`"${printable(name)}" appears in it twice`);
    entries.set(key, {
      method: view.getUint16(at + 10, true),
      crc: view.getUint32(at + 16, true),
      ...wideSizes(view, at, at + 46 + nameLength, extraLength),
    });
    at += 46 + nameLength + extraLength + view.getUint16(at + 32, true);
  }
  return entries;
}

/** The end record stands in the last 64 KiB; a ZIP64 locator may stand before it. */
function findDirectory(view: DataView): { count: number; start: number } {
  const last = view.byteLength - 22;
  for (let at = last; at >= Math.max(0, last - 0xffff); at--) {
    if (view.getUint32(at, true) !== 0x06054b50) continue;
    const count = view.getUint16(at + 10, true);
    const start = view.getUint32(at + 16, true);
    if (count !== 0xffff && start !== 0xffffffff) return { count, start };
    if (at < 20 || view.getUint32(at - 20, true) !== 0x07064b50) return { count, start };
    const wide = long(view, at - 12);
    if (view.getUint32(wide, true) !== 0x06064b50) throw bad('its ZIP64 end record is missing');
    return { count: long(view, wide + 32), start: long(view, wide + 48) };
  }
  throw bad('its end record is missing; the file is cut short');
}

/** 64-bit numbers beyond 2^53 point outside any file. */
function long(view: DataView, at: number): number {
  return view.getUint32(at, true) + 2 ** 32 * view.getUint32(at + 4, true);
}

/** Sizes and offset of a directory entry, from its ZIP64 field (id 1) where the short ones are full. */
function wideSizes(
  view: DataView,
  at: number,
  extra: number,
  length: number,
): Pick<ZipEntry, 'packed' | 'size' | 'offset'> {
  const short = [at + 24, at + 20, at + 42].map((o) => view.getUint32(o, true));
  let field = extra;
  while (field + 4 <= extra + length && view.getUint16(field, true) !== 1) {
    field += 4 + view.getUint16(field + 2, true);
  }
  let o = field + 4;
  const [size, packed, offset] = short.map((value) => {
    if (value !== 0xffffffff || field + 4 > extra + length) return value;
    const wide = long(view, o);
    o += 8;
    return wide;
  });
  return { size: size!, packed: packed!, offset: offset! };
}

/**
 * @returns the unpacked bytes, or undefined when there is no such part
 * @throws Fault `zip/damaged`, `zip/unsupported`, `zip/too-large`
 */
export function unpack({ bytes, entries }: Zip, part: string): Uint8Array | undefined {
  const entry = entries.get(part.replace(/^\/+/, '').toLowerCase());
  if (!entry) return undefined;
  const name = printable(part);
  if (entry.size > PART_LIMIT) {
    throw new Fault(
      'zip/too-large',
      `"${name}" unpacks to ${entry.size} bytes; the limit is ${PART_LIMIT} bytes`,
    );
  }
  const view = viewOf(bytes);
  if (entry.offset + 30 > bytes.length || view.getUint32(entry.offset, true) !== 0x04034b50) {
    throw bad(`"${name}" is not where the directory says`);
  }
  const from =
    entry.offset +
    30 +
    view.getUint16(entry.offset + 26, true) +
    view.getUint16(entry.offset + 28, true);
  if (from + entry.packed > bytes.length) throw bad(`"${name}" is cut short`);
  const out = inflate(bytes.subarray(from, from + entry.packed), entry, name);
  if (out.length !== entry.size) {
    throw bad(`"${name}" unpacks to other than the ${entry.size} bytes that it says`);
  }
  if (crc32(out) !== entry.crc) throw bad(`the checksum of "${name}" is wrong`);
  return out;
}

function inflate(packed: Uint8Array, entry: ZipEntry, name: string): Uint8Array {
  if (entry.method === 0) return packed;
  if (entry.method !== 8) {
    const message = `"${name}" is packed by method ${entry.method}; only 0 (stored) and 8 (deflated) are read`;
    throw new Fault('zip/unsupported', message);
  }
  // Deflate makes at most 1,032 bytes of one: a greater size is false, found before memory is allocated.
  if (entry.size > 1032 * packed.length + 1032)
    throw bad(`"${name}" cannot be as large as it says`);
  // Models in XML deflate to a tenth, repetition to a thousandth.
  if (entry.size > Math.max(BOUNDS.unpackedBytes, BOUNDS.unpackedRatio * entry.packed)) {
    throw new Fault(
      'zip/too-large',
      `"${name}" unpacks from ${entry.packed} to ${entry.size} bytes; above ${BOUNDS.unpackedBytes} bytes the limit is ${BOUNDS.unpackedRatio} times`,
    );
  }
  try {
    // One byte of room more than expected shows an excess, which is not kept.
    return inflateSync(packed, { out: new Uint8Array(entry.size + 1) });
  } catch {
    throw bad(`"${name}" does not inflate`);
  }
}

const CRC_TABLE = Uint32Array.from({ length: 256 }, (_, n) => {
  let c = n;
  for (let k = 0; k < 8; k++) c = c & 1 ? 0xedb88320 ^ (c >>> 1) : c >>> 1;
  return c;
});

/** CRC-32 of ISO 3309, polynomial EDB88320 reversed. */
export function crc32(bytes: Uint8Array): number {
  let c = 0xffffffff;
  for (const b of bytes) c = CRC_TABLE[(c ^ b) & 255]! ^ (c >>> 8);
  return (c ^ 0xffffffff) >>> 0;
}
