/**
 * Small files that ask for much: components placed in components, packed repetition. The limits are ours
 * (lib/base/bounds.ts); all are held before the work.
 */
import { zipSync } from 'fflate';
import { expect, test } from 'vitest';
import type { Fault } from '../../lib/base/fault.js';
import { readThreeMf } from '../../lib/formats/threemf.js';
import { openZip, unpack } from '../../lib/formats/zip.js';
import { boxPairs } from '../../lib/mesh/shells.js';
import { loadSolidKernel } from '../../lib/kernel/solid.js';
import { inspect } from '../../lib/mesh/repair/inspect.js';
import { cuboid, together } from '../support/shapes.js';
import { boxMesh, model, threeMf } from './files.js';
import { read } from './reading.js';

/** A box in components of ten each, `levels` deep: 10 ** levels boxes, `apart` mm from each other. */
function tens(levels: number, apart: number): Uint8Array {
  let resources = `<object id="1" type="model">${boxMesh([0, 0, 0], [10, 10, 10])}</object>`;
  for (let level = 1; level <= levels; level++) {
    const step = apart * 10 ** Math.floor((level - 1) / 2);
    const places = Array.from({ length: 10 }, (_, i) => {
      const [x, y] = level % 2 ? [0, i * step] : [i * step, 0];
      return `<component objectid="${level}" transform="1 0 0 0 1 0 0 0 1 ${x} ${y} 0"/>`;
    });
    resources += `<object id="${level + 1}"><components>${places.join('')}</components></object>`;
  }
  return threeMf(model(resources, `<item objectid="${levels + 1}"/>`));
}

const refused = (code: string, words: RegExp): Fault =>
  expect.objectContaining({ code, message: expect.stringMatching(words) }) as Fault;

test('a file of 1.5 kB that expands to 100,000 boxes is refused before it does', () => {
  const bytes = tens(5, 12);
  expect(bytes.length).toBeLessThan(1500);
  expect(() => readThreeMf(bytes, true)).toThrow(
    refused(
      '3mf/too-large',
      /1200000 triangles in 100000 objects; the limits are 20000000 and 10000/,
    ),
  );
});

test('1,000 boxes in one place are refused for their pairs, 1,000 apart are read', async () => {
  expect(() => read(tens(3, 0))).toThrow(
    refused('mesh/many-overlaps', /200000 pairs of the 1000 shells/),
  );
  const { mesh } = read(tens(3, 12));
  const { shells, volume, genus } = inspect(mesh, await loadSolidKernel());
  expect([shells, genus]).toEqual([1000, 0]);
  expect(volume).toBeCloseTo(1e6, 3);
});

test('pairs of boxes are counted by their overlap', () => {
  const at = (x: number): ReturnType<typeof cuboid> => cuboid([10, 10, 10], [x, 0, 0]);
  // In a row, each overlaps the next alone.
  expect(boxPairs([at(0), at(9), at(18), at(27)], 100)).toBe(3);
  expect(boxPairs([at(0), at(11), at(22)], 100)).toBe(0);
  expect(boxPairs([at(0), at(0), at(0), at(0)], 100)).toBe(6);
  expect(boxPairs([at(0), at(0), at(0), at(0)], 2)).toBe(3);
});

test('twenty boxes have no handle', async () => {
  const kernel = await loadSolidKernel();
  const boxes = Array.from({ length: 20 }, (_, i) => cuboid([10, 10, 10], [12 * i, 0, 0]));
  expect(kernel.judge(together(...boxes)).genus).toBe(0);
});

test('a part that unpacks to a thousand times its size is refused unread', () => {
  const bytes = zipSync({ a: [new Uint8Array(80e6), { level: 1 }] });
  expect(() => unpack(openZip(bytes), 'a')).toThrow(
    refused('zip/too-large', /to 80000000 bytes; above 67108864 bytes the limit is 200 times/),
  );
});

test('parts of a package that unpack together to more than one may are refused', () => {
  // 40 parts of 4 MB of spaces each, of a few kilobytes: 160 MB, above 64 MiB and 200 times the file.
  const P = 'xmlns:p="http://schemas.microsoft.com/3dmanufacturing/production/2015/06"';
  const names = Array.from({ length: 40 }, (_, i) => `3D/part-${i}.model`);
  const part = model(
    `${' '.repeat(4e6)}<object id="7">${boxMesh([0, 0, 0], [1, 1, 1])}</object>`,
    '',
    P,
  );
  const xml = model('', names.map((n) => `<item objectid="7" p:path="/${n}"/>`).join(''), P);
  const bytes = threeMf(xml, { more: Object.fromEntries(names.map((n) => [n, part])) });
  expect(bytes.length).toBeLessThan(300_000);
  expect(() => read(bytes)).toThrow(refused('zip/too-large', /model parts .* together/));
});
