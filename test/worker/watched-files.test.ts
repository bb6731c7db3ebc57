/** The reason for a refusal: whoever looks sees all of it or nothing, and nothing is left where it cannot be put. */
import {
  closeSync,
  mkdirSync,
  mkdtempSync,
  openSync,
  readFileSync,
  readdirSync,
  rmSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { Fault } from '../../lib/base/fault.js';
import { writeReason } from '../../worker/service/watched-files.js';

const fault = new Fault('job/missing', 'no material given');
let folder: string;
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'tiltwright-watched-'));
});
afterEach(() => rmSync(folder, { recursive: true }));

test('the file of the reason is put in place whole, never written where it can be seen', async () => {
  mkdirSync(join(folder, 'refused'));
  const path = join(folder, 'refused', 'lid.json.txt');
  writeFileSync(path, 'an earlier reason');
  // Whoever has the file open keeps what they opened: another file takes its name (POSIX, rename).
  const opened = openSync(path, 'r');
  await writeReason(folder, 'lid.json', fault);
  expect(readFileSync(opened, 'utf8')).toBe('an earlier reason');
  closeSync(opened);
  expect(readFileSync(path, 'utf8')).toBe('job/missing: no material given\n');
  expect(readdirSync(folder)).toEqual(['refused']);
});

test('a reason that cannot be put in place leaves no file behind', async () => {
  await expect(writeReason(folder, 'lid.json', fault)).rejects.toThrow(/ENOENT/);
  expect(readdirSync(folder)).toEqual([]);
});
