/**
 * `tiltwright directions <part...>`: what parts need of a machine. Reads parts and a machine, writes
 * one folder: directions.json, a map over the sphere of each part (SVG and PNG), sweeps.svg.
 */
import { basename, extname } from 'node:path';
import { setImmediate as pause } from 'node:timers/promises';
import { Command } from 'commander';
import { z } from 'zod';
import { jsonText, printable } from '../lib/base/printable.js';
import type { FileContents, Machine, PartNeeds } from '../lib/index.js';
import { parse } from '../lib/base/schema.js';
import { demandOf, studyPart } from '../lib/directions/needs.js';
import { readPart } from '../lib/formats/read-part.js';
import { loadSolidKernel } from '../lib/kernel/solid.js';
import { placeRules } from '../lib/job/job-file.js';
import { place } from '../lib/job/place-part.js';
import { searchingBy } from '../lib/job/tasks.js';
import { searchLimits } from '../lib/regions/search/machine-limits.js';
import { curvedLattice, layerRules } from '../lib/layers/rules.js';
import { motionRules, withRounding } from '../lib/motion/rules.js';
import { regionRules } from '../lib/regions/rules.js';
import { mapImage, mapPicture } from '../lib/directions/map-picture.js';
import { curvesPicture } from '../lib/directions/sweep-picture.js';
import { directionsRecord } from '../lib/directions/directions-record.js';
import { openPool } from '../worker/pool.js';
import { directionsLines } from './directions-lines.js';
import { readBytes } from './files.js';
import { findingLines } from './finding-lines.js';
import { addFlags, withFlags } from './flags.js';
import { machineAt } from './machine-file.js';
import { claim, writeResult } from './out.js';
import { printJson, printLines } from './streams.js';
import { showProgress } from './show.js';
import { version } from '../worker/version.js';

const settings = z.strictObject({
  place: placeRules.prefault({}),
  regions: regionRules.prefault({}),
  layers: z.strictObject({ curved: curvedLattice.prefault({}) }).prefault({}),
});
type Settings = z.output<typeof settings>;

interface DirectionsFlags {
  readonly machine: string;
  readonly out: string;
  readonly json?: boolean;
}

export function directionsCommand(): Command {
  const command = new Command('directions')
    .argument(
      '<part...>',
      'STL, OBJ, PLY, 3MF, GLB or STEP; several give one combined table as well',
    )
    .requiredOption('--machine <file>', 'machine file')
    .option(
      '--out <folder>',
      'result folder; an earlier result in it is replaced',
      'out/directions',
    )
    .option('--json', 'print directions.json on the output stream and nothing else');
  addFlags(command, settings, []);
  return command.action((parts: string[], flags: DirectionsFlags) => run(command, parts, flags));
}

async function run(command: Command, paths: string[], flags: DirectionsFlags): Promise<void> {
  const rules = withFlags(command, settings, [], undefined, (value) =>
    parse(settings, value, 'job'),
  );
  await claim(flags.out);
  // As a job of the same part would plan it.
  const machine = withRounding(await machineAt(flags.machine), motionRules.parse({}));
  const show = showProgress(flags.json === true);
  const begin = performance.now();
  let parts: PartNeeds[];
  try {
    parts = await studyAll(paths, machine, rules, show.watch);
  } finally {
    show.stop();
  }
  const seconds = (performance.now() - begin) / 1000;
  const demands = demandOf(parts);
  const record = {
    ...directionsRecord(parts, demands, machine, rules.regions, { version, seconds }),
    findings: machine.doubts,
  };
  const { canReach } = searchLimits(machine, rules.regions.tilt);
  const files = new Map<string, FileContents>([
    ['directions.json', `${jsonText(record)}\n`],
    ['sweeps.svg', curvesPicture(parts, demands)],
  ]);
  parts.forEach((part, i) => {
    const name = parts.length === 1 ? 'map' : `map-${i + 1}-${fileName(part.name)}`;
    files.set(`${name}.svg`, mapPicture(part, canReach));
    files.set(`${name}.png`, mapImage(part, canReach));
  });
  await writeResult(flags.out, files);
  if (flags.json) printJson(record);
  else {
    printLines([
      ...directionsLines(parts, demands),
      ...findingLines(machine.doubts, 'all in directions.json'),
      `took ${seconds.toFixed(1)} s`,
      `written to ${flags.out}: ${[...files.keys()].join(', ')}`,
    ]);
  }
}

/** Of a part's name what may stand in any folder. */
const fileName = (name: string): string =>
  name.replace(/[^\p{L}\p{N} ._-]/gu, '_').slice(0, LONGEST_FILE);

const LONGEST_FILE = 60;

async function studyAll(
  paths: readonly string[],
  machine: Machine,
  rules: Settings,
  watch: ReturnType<typeof showProgress>['watch'],
): Promise<PartNeeds[]> {
  const kernel = await loadSolidKernel();
  const pool = openPool();
  const out: PartNeeds[] = [];
  const { unit } = rules.place;
  const wanted = { regions: rules.regions, layers: layerRules.parse(rules.layers) };
  try {
    for (const path of paths) {
      const { mesh } = readPart(
        await readBytes(path, 'the part'),
        path,
        kernel,
        unit ? { unit } : {},
      );
      const name = printable(basename(path, extname(path)));
      out.push(
        await studyPart(name, place(mesh, rules.place), machine, wanted, {
          kernel,
          watch,
          pause: () => pause(),
          work: searchingBy(pool.run, machine),
        }),
      );
    }
  } finally {
    await pool.close();
  }
  return out;
}
