/**
 * What a small command loads. A module costs about a millisecond, so the help and `inspect` are quick only
 * as long as they load nothing that other commands need. Node itself says what was loaded: with
 * NODE_V8_COVERAGE it lists the scripts of every thread.
 */
import { spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { Help } from 'commander';
import { afterAll, expect, test } from 'vitest';
import { allCommands, termOf } from '../../cli/all.js';
import { writeStl } from '../../lib/formats/write-mesh.js';
import { cuboid } from '../support/shapes.js';

const root = fileURLToPath(new URL('../..', import.meta.url));
const folder = mkdtempSync(join(tmpdir(), 'tiltwright-loaded-'));
afterAll(() => rmSync(folder, { recursive: true }));
const cube = join(folder, 'cube.stl');
writeFileSync(cube, writeStl(cuboid([12, 12, 6])));

interface Coverage {
  readonly result: readonly { readonly url: string }[];
}

/** Rooms of lib, such as `lib/mesh`, and packages, such as `zod`, that a command loads. */
function loadedBy(...words: string[]): Set<string> {
  const scripts = mkdtempSync(join(folder, 'scripts-'));
  const done = spawnSync(process.execPath, [join(root, 'dist/cli/main.js'), ...words], {
    encoding: 'utf8',
    env: { ...process.env, NODE_V8_COVERAGE: scripts },
  });
  expect(done.status, done.stderr).toBe(0);
  const urls = readdirSync(scripts).flatMap((name) =>
    (JSON.parse(readFileSync(join(scripts, name), 'utf8')) as Coverage).result.map((r) => r.url),
  );
  expect(urls.some((url) => url.endsWith('/dist/cli/commands.js'))).toBe(true);
  const rooms = urls.map((url) =>
    /\/node_modules\/([^/]+)|\/dist\/((?:lib|vendor)\/[^/]+)/.exec(url),
  );
  return new Set(rooms.flatMap((m) => (m ? [m[1] ?? m[2]!] : [])));
}

test('the help needs the faults and the reader of the command line', () => {
  expect([...loadedBy('--help')].sort()).toEqual(['commander', 'lib/base']);
});

test('inspect needs meshes and the solid kernel, and neither schemas nor any planning', () => {
  expect([...loadedBy('inspect', cube)].sort()).toEqual(
    ['commander', 'fflate', 'gl-matrix', 'saxes', 'vendor/manifold-3d', 'xmlchars']
      .concat(['lib/base', 'lib/formats', 'lib/kernel', 'lib/mesh'])
      .sort(),
  );
});

test('a command that is not loaded is listed as it would be if it were', async () => {
  const help = new Help();
  const whole = await allCommands();
  expect((await allCommands([])).map(termOf)).toEqual(whole.map((c) => help.subcommandTerm(c)));
});
