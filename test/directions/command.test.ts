/** The command as a whole: what it writes, what it says, what it refuses. */
import { existsSync, mkdtempSync, readFileSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { afterAll, afterEach, expect, test, vi } from 'vitest';
import { directionsCommand } from '../../cli/directions.js';
import { Fault } from '../../lib/base/fault.js';
import { writeStl } from '../../lib/formats/write-mesh.js';
import { cuboid, postWithArm } from '../support/shapes.js';

const folder = mkdtempSync(join(tmpdir(), 'tiltwright-directions-'));
afterAll(() => rmSync(folder, { recursive: true }));
afterEach(() => vi.restoreAllMocks());

const machine = fileURLToPath(
  new URL('../../samples/machines/table-table-ac.json', import.meta.url),
);
const post = join(folder, 'post.stl');
const block = join(folder, 'block.stl');
writeFileSync(post, writeStl(postWithArm()));
writeFileSync(block, writeStl(cuboid([12, 12, 6])));

/** Runs the command in this process; returns what it prints. */
async function run(...words: string[]): Promise<string> {
  const out: string[] = [];
  vi.spyOn(process.stdout, 'write').mockImplementation((text) => {
    out.push(String(text));
    return true;
  });
  vi.spyOn(process.stderr, 'write').mockReturnValue(true);
  await directionsCommand().parseAsync([...words, '--machine', machine], { from: 'user' });
  return out.join('');
}

interface Written {
  readonly parts: readonly {
    readonly name: string;
    readonly unsupported: { readonly asPlacedMm2: number };
    readonly map: { readonly weightSr: number; readonly directions: readonly unknown[] };
  }[];
  readonly together: readonly { readonly limit: string; readonly asksMost?: { part: string } }[];
}

test('two parts: a map each, sweeps, one combined table; again over the earlier result', async () => {
  const out = join(folder, 'both');
  for (let times = 0; times < 2; times++) {
    const text = await run(post, block, '--out', out, '--json');
    const written = readFileSync(join(out, 'directions.json'), 'utf8');
    expect(text).toBe(written);
    expect(readdirSync(out).sort()).toEqual(
      ['directions.json', 'sweeps.svg', 'tiltwright-manifest.json']
        .concat(['1-post', '2-block'].flatMap((n) => [`map-${n}.png`, `map-${n}.svg`]))
        .sort(),
    );
    const { parts, together } = JSON.parse(written) as Written;
    expect(parts.map((p) => p.name)).toEqual(['post', 'block']);
    // The level underside of the arm, 30 x 20 mm.
    expect(parts[0]!.unsupported.asPlacedMm2).toBeCloseTo(600, 2);
    const { weightSr, directions } = parts[0]!.map;
    expect(weightSr * directions.length).toBeCloseTo(4 * Math.PI, 9);
    expect(together.find((t) => t.limit === 'tilt')!.asksMost!.part).toBe('post');
  }
});

test('says it in words', async () => {
  const text = await run(block, '--out', join(folder, 'one'));
  expect(text).toContain('Tilting gains nothing for this part');
  expect(existsSync(join(folder, 'one', 'map.svg'))).toBe(true);
});

test('the largest tilt of the settings bounds the map', async () => {
  const out = join(folder, 'tilted');
  await run(post, '--out', out, '--regions-tilt', '20');
  const { parts } = JSON.parse(readFileSync(join(out, 'directions.json'), 'utf8')) as {
    parts: { map: { directions: number[][]; reachable: number[] } }[];
  };
  const { directions, reachable } = parts[0]!.map;
  directions.forEach((d, i) => {
    expect(reachable[i]).toBe(d[2]! >= Math.cos((20 * Math.PI) / 180) ? 1 : 0);
  });
});

test('a folder with something else in it is refused before any work', async () => {
  writeFileSync(join(folder, 'note.txt'), 'keep');
  await expect(run(block, '--out', folder)).rejects.toThrow(Fault);
  expect(readFileSync(join(folder, 'note.txt'), 'utf8')).toBe('keep');
});
