/**
 * Archives read and refused, by the ZIP File Format Specification (PKWARE APPNOTE 6.3); CRC-32 against
 * the check value of the catalogue of parametrised CRC algorithms: "123456789" gives CBF43926.
 */
import { Zip, ZipDeflate, strToU8, zipSync } from 'fflate';
import { describe, expect, it } from 'vitest';
import { Fault } from '../../lib/base/fault.js';
import { crc32, openZip, unpack } from '../../lib/formats/zip.js';

const code = (work: () => unknown): string => {
  try {
    work();
  } catch (error) {
    if (error instanceof Fault) return error.code;
    throw error;
  }
  return 'accepted';
};
const text = (bytes: Uint8Array | undefined): string => new TextDecoder().decode(bytes);
const water = 'water '.repeat(1000);

it('computes CRC-32', () => {
  expect(crc32(strToU8('123456789'))).toBe(0xcbf43926);
});

describe('reads', () => {
  it.each([0, 6] as const)('entries packed at level %i', (level) => {
    const zip = openZip(zipSync({ 'A/b.txt': strToU8(water) }, { level }));
    expect(text(unpack(zip, '/a/B.TXT'))).toBe(water);
    expect(unpack(zip, 'none')).toBeUndefined();
  });

  it('a streamed archive, whose sizes stand behind the data', () => {
    const pieces: Uint8Array[] = [];
    const zip = new Zip((_, data) => pieces.push(data));
    const entry = new ZipDeflate('a.txt');
    zip.add(entry);
    entry.push(strToU8(water), true);
    zip.end();
    const whole = Uint8Array.from(pieces.flatMap((p) => [...p]));
    expect(text(unpack(openZip(whole), 'a.txt'))).toBe(water);
  });

  it('a ZIP64 archive (APPNOTE 4.3.14 to 4.5.3), written here by hand around a stored entry', () => {
    expect(text(unpack(openZip(zip64('a.txt', strToU8('seep'))), 'a.txt'))).toBe('seep');
  });

  it('an archive with a comment behind it', () => {
    const bytes = zipSync({ 'a.txt': strToU8('drip') });
    const whole = new Uint8Array(bytes.length + 5);
    whole.set(bytes);
    whole.set(strToU8('hose!'), bytes.length);
    new DataView(whole.buffer).setUint16(bytes.length - 2, 5, true);
    expect(text(unpack(openZip(whole), 'a.txt'))).toBe('drip');
  });
});

describe('refuses', () => {
  const good = zipSync({ 'a.txt': strToU8(water), 'b.txt': strToU8('x') });
  const directory = good.findIndex(
    (_, i) => good[i] === 0x50 && good[i + 1] === 0x4b && good[i + 2] === 1,
  );
  const edited = (at: number, value: number, bytes: 2 | 4): Uint8Array => {
    const copy = good.slice();
    const view = new DataView(copy.buffer);
    if (bytes === 2) view.setUint16(at, value, true);
    else view.setUint32(at, value, true);
    return copy;
  };
  const first = (bytes: Uint8Array) => (): unknown => unpack(openZip(bytes), 'a.txt');

  it.each([
    ['a wrong checksum', edited(directory + 16, 1, 4), 'zip/damaged'],
    ['more bytes than stated', edited(directory + 24, 5999, 4), 'zip/damaged'],
    ['fewer bytes than stated', edited(directory + 24, 6001, 4), 'zip/damaged'],
    [
      'a size that no deflated data can reach',
      edited(directory + 24, 500_000_000, 4),
      'zip/damaged',
    ],
    ['a size beyond the limit', edited(directory + 24, 600_000_000, 4), 'zip/too-large'],
    ['encryption', edited(directory + 8, 1, 2), 'zip/unsupported'],
    ['another method (12, bzip2)', edited(directory + 10, 12, 2), 'zip/unsupported'],
    ['a local header elsewhere', edited(directory + 42, 7, 4), 'zip/damaged'],
    ['an entry cut short', edited(directory + 20, 1_000_000, 4), 'zip/damaged'],
    ['a directory outside the file', edited(good.length - 6, 0xfffffff0, 4), 'zip/damaged'],
    ['a file cut short', good.subarray(0, good.length - 30), 'zip/damaged'],
  ])('%s', (_, bytes, expected) => {
    expect(code(first(bytes))).toBe(expected);
  });

  it('one name twice', () => {
    const copy = good.slice();
    const at = (n: number): number => copy.lastIndexOf('b'.charCodeAt(0), n);
    const name = at(copy.length);
    copy[name] = 'a'.charCodeAt(0);
    expect(code(() => openZip(copy))).toBe('zip/damaged');
  });

  it('a bomb: 20 MB of zeros in 20 kB, stated as 1 kB', () => {
    const bomb = zipSync({ 'a.txt': new Uint8Array(20_000_000) }, { level: 9 });
    const at = bomb.findIndex(
      (_, i) => bomb[i] === 0x50 && bomb[i + 1] === 0x4b && bomb[i + 2] === 1,
    );
    new DataView(bomb.buffer, bomb.byteOffset).setUint32(at + 24, 1000, true);
    expect(bomb.length).toBeLessThan(40_000);
    expect(code(first(bomb))).toBe('zip/damaged');
  });
});

/** One stored entry whose sizes and directory are given in the ZIP64 fields alone. */
function zip64(name: string, data: Uint8Array): Uint8Array {
  const bytes: number[] = [];
  const put = (size: 2 | 4 | 8, ...values: number[]): void => {
    for (const v of values)
      for (let i = 0; i < size; i++) bytes.push(i < 4 ? (v >>> (8 * i)) & 255 : 0);
  };
  const full = 0xffffffff;
  put(4, 0x04034b50);
  put(2, 45, 0, 0, 0, 0);
  put(4, crc32(data), full, full);
  put(2, name.length, 20);
  bytes.push(...strToU8(name));
  put(2, 1, 16);
  put(8, data.length, data.length);
  bytes.push(...data);
  const directory = bytes.length;
  put(4, 0x02014b50);
  put(2, 45, 45, 0, 0, 0, 0);
  put(4, crc32(data), full, full);
  put(2, name.length, 28, 0, 0, 0);
  put(4, 0, full);
  bytes.push(...strToU8(name));
  put(2, 1, 24);
  put(8, data.length, data.length, 0);
  const end = bytes.length;
  put(4, 0x06064b50);
  put(8, 44);
  put(2, 45, 45);
  put(4, 0, 0);
  put(8, 1, 1, end - directory, directory);
  put(4, 0x07064b50, 0);
  put(8, end);
  put(4, 1, 0x06054b50);
  put(2, 0, 0, 0xffff, 0xffff);
  put(4, full, full);
  put(2, 0);
  return Uint8Array.from(bytes);
}
