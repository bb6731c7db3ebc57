/**
 * A record of whole-number columns and JSON as one text that can be embedded in a page, and back:
 * columns are written as differences, small numbers first (zigzag), byte plane by byte plane, deflated,
 * in base64. Both sides of the page use it, so it needs neither a browser nor Node.
 *
 * A million blocks of a five-joint program take about 9 MB this way; 16-bit positions deflated as they
 * are took half as much again, for neighbouring differences share their high bytes and planes collect
 * them.
 */
import { strFromU8, strToU8, unzlibSync, zlibSync } from 'fflate';

/** Values are `ints[i] * unit`; each is written as the difference to the one `stride` before it. */
export interface Column {
  readonly ints: Int32Array;
  readonly unit: number;
  readonly stride: number;
}

export interface Packed {
  /** Anything that survives JSON. */
  readonly head: unknown;
  readonly columns: Readonly<Record<string, Column>>;
}

/** Whole numbers of a column stay below this. */
const MOST_WHOLE = 2 ** 30;

/**
 * Rounds to multiples of a unit, which is made coarser where the numbers are too large.
 * @throws Error for what is not finite
 */
export function column(values: ArrayLike<number>, wanted: number, stride = 1): Column {
  let most = 0;
  for (let i = 0; i < values.length; i++) most = Math.max(most, Math.abs(values[i]!));
  if (!Number.isFinite(most)) throw new Error('a column of the page holds what is no number');
  const unit = Math.max(wanted, most / MOST_WHOLE);
  const ints = new Int32Array(values.length);
  for (let i = 0; i < ints.length; i++) ints[i] = Math.round(values[i]! / unit);
  return { ints, unit, stride };
}

interface ColumnEntry {
  readonly name: string;
  readonly unit: number;
  readonly stride: number;
  readonly length: number;
  readonly planes: number;
}

/** @returns base64 text */
export function pack({ head, columns }: Packed): string {
  const parts = Object.entries(columns).map(([name, { ints, unit, stride }]) => {
    const bytes = planesOf(ints, stride);
    const planes = ints.length ? bytes.length / ints.length : 0;
    return {
      entry: { name, unit, stride, length: ints.length, planes } satisfies ColumnEntry,
      bytes,
    };
  });
  const text = strToU8(JSON.stringify({ head, entries: parts.map((p) => p.entry) }));
  const size = 4 + text.length + parts.reduce((sum, p) => sum + p.bytes.length, 0);
  const all = new Uint8Array(size);
  new DataView(all.buffer).setUint32(0, text.length, true);
  all.set(text, 4);
  let at = 4 + text.length;
  for (const { bytes } of parts) {
    all.set(bytes, at);
    at += bytes.length;
  }
  return toBase64(zlibSync(all, { level: 6 }));
}

/** @param base64 what `pack` gave */
export function unpack(base64: string): Packed {
  const all = unzlibSync(fromBase64(base64));
  const length = new DataView(all.buffer, all.byteOffset).getUint32(0, true);
  const { head, entries } = JSON.parse(strFromU8(all.subarray(4, 4 + length))) as {
    head: unknown;
    entries: ColumnEntry[];
  };
  const columns: Record<string, Column> = {};
  let at = 4 + length;
  for (const { name, unit, stride, length: count, planes } of entries) {
    const size = count * planes;
    const ints = fromPlanes(all.subarray(at, at + size), count, planes, stride);
    columns[name] = { ints, unit, stride };
    at += size;
  }
  return { head, columns };
}

function planesOf(ints: Int32Array, stride: number): Uint8Array {
  const n = ints.length;
  const zigzag = new Uint32Array(n);
  let all = 0;
  for (let i = 0; i < n; i++) {
    const step = ints[i]! - (i < stride ? 0 : ints[i - stride]!);
    zigzag[i] = (step << 1) ^ (step >> 31);
    all |= zigzag[i]!;
  }
  const planes = Math.ceil((32 - Math.clz32(all)) / 8);
  const bytes = new Uint8Array(planes * n);
  for (let p = 0; p < planes; p++) {
    for (let i = 0; i < n; i++) bytes[p * n + i] = zigzag[i]! >>> (8 * p);
  }
  return bytes;
}

function fromPlanes(bytes: Uint8Array, n: number, planes: number, stride: number): Int32Array {
  const ints = new Int32Array(n);
  for (let p = 0; p < planes; p++) {
    for (let i = 0; i < n; i++) ints[i]! |= bytes[p * n + i]! << (8 * p);
  }
  for (let i = 0; i < n; i++) {
    const step = (ints[i]! >>> 1) ^ -(ints[i]! & 1);
    ints[i] = step + (i < stride ? 0 : ints[i - stride]!);
  }
  return ints;
}

/** Bytes at once; a multiple of three, so that pieces join without padding. */
const BASE64_BYTES = 3 * 8192;

function toBase64(bytes: Uint8Array): string {
  const pieces: string[] = [];
  for (let at = 0; at < bytes.length; at += BASE64_BYTES) {
    pieces.push(btoa(String.fromCharCode(...bytes.subarray(at, at + BASE64_BYTES))));
  }
  return pieces.join('');
}

function fromBase64(text: string): Uint8Array {
  const binary = atob(text);
  const bytes = new Uint8Array(binary.length);
  for (let i = 0; i < bytes.length; i++) bytes[i] = binary.charCodeAt(i);
  return bytes;
}
