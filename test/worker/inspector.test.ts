/** Uploads are looked at apart from each other; what has gone is refused by its name alone. */
import { execFileSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, expect, test } from 'vitest';
import { writeStl } from '../../lib/formats/write-mesh.js';
import { Inspector } from '../../worker/service/inspector.js';
import { cuboid } from '../support/shapes.js';

const folder = mkdtempSync(join(tmpdir(), 'tiltwright-inspector-'));
const inspector = new Inspector({ memoryMb: 800, seconds: 600 });
afterAll(() => {
  inspector.end();
  rmSync(folder, { recursive: true });
});

test('one that does not end holds nobody else', async () => {
  // A pipe into which nobody writes.
  const endless = join(folder, 'endless');
  execFileSync('mkfifo', [endless]);
  const cube = join(folder, 'cube');
  writeFileSync(cube, writeStl(cuboid([10, 10, 6])));
  let ended = false;
  const first = inspector.inspect(endless, 'endless.stl', 'a').finally(() => (ended = true));
  const stopped = expect(first).rejects.toMatchObject({ code: 'service/stopping' });
  const answers = await Promise.all([1, 2, 3].map(() => inspector.inspect(cube, 'cube.stl', 'b')));
  expect(answers.map((a) => a.format)).toEqual(['stl-binary', 'stl-binary', 'stl-binary']);
  expect(ended).toBe(false);
  inspector.end();
  await stopped;
});

test('a part that has gone is named, and no place of the server', async () => {
  const error = await inspector
    .inspect(join(folder, 'gone'), 'elbow.stl', 'a')
    .catch((e: Error) => e);
  expect(error).toMatchObject({ code: 'part/gone' });
  expect((error as Error).message).toBe(
    'the part "elbow.stl" is no longer stored; upload it again',
  );
});
