/**
 * Whole jobs as the command does them, with check, pictures and page, one after the other:
 * `npm run measure:jobs [-- name ...]` prints a table with wall time and greatest memory of each.
 */
import { spawnSync } from 'node:child_process';
import { mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { loadSolidKernel } from '../../lib/kernel/solid.js';
import { writeStl } from '../../lib/formats/write-mesh.js';
import type { Report } from '../../lib/report/report.js';
import { partNames, parts } from '../../samples/parts.js';
import { packageFile } from '../support/open-meshes.js';

interface Case {
  readonly name: string;
  readonly part: () => Uint8Array;
  readonly flags: readonly string[];
}

const FOLDER = 'out/measure';
const bunny = (): Uint8Array => packageFile('stl-models/objects/bunny.bin.stl');
const upright = ['--place-up', 'y', '--place-height', '100'];
const machine = [
  ...['--machine', 'samples/machines/table-table-ac.json'],
  ...['--material', 'samples/materials/pla.json'],
];
const solid = await loadSolidKernel();

const cases: Case[] = [
  {
    name: 'scanned bunny, 100 mm high, +Y up',
    part: bunny,
    // It stands on a point.
    flags: [...machine, ...upright, '--regions-footing', 'report'],
  },
  {
    name: 'scanned bunny, `pose` free, `pedestal` 15 mm',
    part: bunny,
    flags: [...machine, ...upright, '--regions-pose', 'free', '--regions-pedestal', '15'],
  },
  {
    name: 'gearwheel',
    part: () => packageFile('stl-models/objects/gearwheel.bin.stl'),
    flags: machine,
  },
  {
    name: 'winged figure, 80 mm high',
    part: () => packageFile('node-stl/test/test_data/Pterosaur_FDM.stl'),
    flags: [...machine, '--place-height', '80'],
  },
  ...partNames.map((name) => ({
    name,
    part: () => writeStl(parts[name](solid)),
    flags: ['--job', `samples/${name}/job.json`],
  })),
];

/** In the process of the command: its greatest memory, kB, goes to a file as it ends. */
const MEMORY = `data:text/javascript,${encodeURIComponent(
  `import { writeFileSync } from 'node:fs';
   import { isMainThread } from 'node:worker_threads';
   if (isMainThread) process.on('exit', () =>
     writeFileSync('${FOLDER}/memory', String(process.resourceUsage().maxRSS)));`,
)}`;

const wanted = process.argv.slice(2);
mkdirSync(FOLDER, { recursive: true });
console.log(
  '| part | triangles | regions | hangs as placed, mm² | as planned, mm² | from layers, mm² | blocks | time, s | memory, GB |',
);
console.log('|---|---|---|---|---|---|---|---|---|');
for (const one of cases) {
  if (wanted.length === 0 || wanted.some((w) => one.name.includes(w))) console.log(row(one));
}

function row({ name, part, flags }: Case): string {
  const file = join(FOLDER, 'part.stl');
  const out = join(FOLDER, 'result');
  writeFileSync(file, part());
  const began = performance.now();
  const { status, stderr } = spawnSync(
    process.execPath,
    ['--import', MEMORY, 'dist/cli/main.js', 'slice', file, ...flags, '--out', out],
    { encoding: 'utf8' },
  );
  const seconds = (performance.now() - began) / 1000;
  // 3: done, with findings of severity error.
  if (status !== 0 && status !== 3) throw new Error(`${name}: ended with ${status}: ${stderr}`);
  const report = JSON.parse(readFileSync(join(out, 'report.json'), 'utf8')) as Report;
  const memory = Number(readFileSync(join(FOLDER, 'memory'), 'utf8'));
  const { unsupported, check } = report;
  const mm2 = (x: number): string => x.toFixed(x < 9.95 ? 1 : 0);
  return `| ${[
    name,
    report.part.triangles,
    report.regions.length,
    mm2(unsupported.asPlacedMm2),
    mm2(unsupported.plannedMm2),
    mm2(unsupported.fromLayersMm2),
    check!.blocks,
    seconds.toFixed(0),
    (memory / 1e6).toFixed(2),
  ].join(' | ')} |`;
}
