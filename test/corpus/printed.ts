/**
 * What plan and check say of whole jobs, as one table: `npm run corpus:printed [-- name ...]` slices the
 * samples, the corpus, parts on leaning bases and a bunny, with the defaults of a job (samples by their own),
 * and prints what would come out. `--on a-c,b-c,head-table` chooses the machines; without it the parts on
 * leaning bases run on all three, the others on A-C.
 *
 * Areas in mm2; `hangs by the plan` is counted from the planned beads, `by the check` what hangs in the program as
 * it is read back, `regions off` are those whose two figures differ by more than 10 % and 1 mm2, `processor s` what
 * the check and all before took, s. `errors` are the codes of those that were found: a part that hangs, or does not
 * hold on to the table, as the plan says too, has some. Two versions that make the same blocks have the same
 * `digest`.
 *
 * A row fails where the two figures of its program differ by more than that, where anything touches, where the
 * volume is off by 2 %, or where an error, or more than three warnings of the check, are found in a program of
 * which the plan says nothing; one that fails ends the command with 1. Warnings of one kind count once.
 */
import { createHash } from 'node:crypto';
import { parseArgs } from 'node:util';
import type { Mesh } from '../../lib/base/mesh.js';
import { Fault } from '../../lib/base/fault.js';
import { loadSolidKernel } from '../../lib/kernel/solid.js';
import type { Report } from '../../lib/report/report.js';
import { partNames, parts } from '../../samples/parts.js';
import { jobOf, runJob, sampleJson } from '../support/jobs.js';
import * as open from '../support/open-meshes.js';
import { loadShapes } from '../support/shapes.js';
import { corpus } from './corpus.js';
import { leaningParts } from './leaning.js';
import { MACHINES, type MachineName } from './machines.js';

const limbs = await loadShapes();
const solid = await loadSolidKernel();

/** The settings of a sample's job. */
function settingsOf(name: string): object {
  const job = sampleJson(`${name}/job.json`) as Record<string, unknown>;
  const { layers, paths, regions } = job;
  return JSON.parse(JSON.stringify({ layers, paths, regions })) as object;
}

interface Line {
  readonly name: string;
  readonly build: () => Mesh;
  readonly job: object;
  /** Whether the part stands for those whose regions lean, which are sliced for every machine. */
  readonly everywhere?: boolean;
}

/** A plan that leaves more than this says that the part hangs, mm2. */
const HANGS = 10;
/** Warnings of one kind are one finding: the check says no more than these of a program without errors. */
const MOST_WARNINGS = 3;
const EVERYWHERE = ['narrow cone on its tip', 'cube on its corner', 'ring lying', 'ring standing'];

const lines: readonly Line[] = [
  ...partNames.map((name) => ({ name, build: () => parts[name](solid), job: settingsOf(name) })),
  ...corpus.map((c) => ({
    name: c.name,
    build: () => c.build(limbs),
    job: {},
    everywhere: EVERYWHERE.includes(c.name),
  })),
  ...leaningParts.map(({ name, build }) => ({
    name,
    build: () => build(limbs),
    job: {},
    everywhere: true,
  })),
  {
    name: 'bunny 69k',
    build: () => open.scaledToHeight(open.yUp(open.bunny69k()), 100),
    job: {},
  },
];

const { values, positionals: wanted } = parseArgs({
  allowPositionals: true,
  options: { on: { type: 'string' } },
});
const machinesOf = (line: Line): string[] =>
  values.on?.split(',') ?? (line.everywhere ? Object.keys(MACHINES) : ['a-c']);

console.log(
  '| part | machine | regions | blocks | hangs by the plan | by the check | regions off | touches | volume laid / planned | shape error, 95%, mm | processor s | errors | warnings | digest | pass |',
);
console.log('|---|---|---|---|---|---|---|---|---|---|---|---|---|---|---|');
for (const line of lines) {
  if (wanted.length > 0 && !wanted.some((w) => line.name.includes(w))) continue;
  for (const on of machinesOf(line)) await print(line, on as MachineName);
}

async function print({ name, build, job }: Line, on: MachineName): Promise<void> {
  const before = process.cpuUsage();
  try {
    // What would not hold on to the table is printed all the same.
    const regions = { ...(job as { regions?: object }).regions, footing: 'report' };
    const settings = { ...job, regions, page: false };
    const { report, program } = await runJob(jobOf(build(), MACHINES[on], settings));
    const used = process.cpuUsage(before);
    console.log(row(name, on, report, (used.user + used.system) / 1e6, digestOf(program)));
    for (const f of report.findings)
      if (f.code.startsWith('check/air')) console.log(`  ${f.message}`);
  } catch (fault) {
    if (!(fault instanceof Fault)) throw fault;
    console.log(`| ${name} | ${on} | refused: ${fault.message} |`);
    process.exitCode = 1;
  }
}

/** Whether two figures of one thing agree: within 10 % of the plan's or 1 mm2, whichever is larger. */
function agree(layers: number, check: number): boolean {
  return Math.abs(check - layers) <= Math.max(0.1 * layers, 1);
}

/** Of the program's blocks: what it says in comments may change while it does the same. */
function digestOf(program: readonly string[]): string {
  const blocks = program
    .join('')
    .split('\n')
    .filter((line) => !line.startsWith('('));
  return createHash('sha256').update(blocks.join('\n')).digest('hex').slice(0, 12);
}

function row(name: string, on: string, report: Report, cpu: number, digest: string): string {
  const { print, shape, volumeShare, blocks } = report.check!;
  const { touches } = print!;
  const layers = report.unsupported.fromLayersMm2;
  const check = report.regions.reduce((sum, r) => sum + r.check!.inAirMm2, 0);
  const off = report.regions.flatMap((r, i) =>
    agree(r.unsupportedFromLayersMm2, r.check!.inAirMm2) ? [] : [i + 1],
  );
  const errors = new Set(
    report.findings.filter((f) => f.severity === 'error').map(({ code }) => code),
  );
  const warnings = report.findings.filter((f) => f.severity === 'warning').map((f) => f.code);
  const ofCheck = warnings.filter((code) => code.startsWith('verify/'));
  const said = layers > HANGS || report.findings.some(({ code }) => code.startsWith('footing/'));
  const pass =
    agree(layers, check) &&
    touches === 0 &&
    Math.abs(volumeShare! - 1) <= 0.02 &&
    (said || (errors.size === 0 && ofCheck.length <= MOST_WARNINGS));
  if (!pass) process.exitCode = 1;
  return `| ${[
    name,
    on,
    report.regions.length,
    blocks,
    layers.toFixed(1),
    check.toFixed(1),
    off.join(' ') || 'none',
    touches,
    volumeShare!.toFixed(4),
    shape!.p95Mm.toFixed(3),
    cpu.toFixed(0),
    [...errors].join(' ') || 'none',
    warnings.join(' ') || 'none',
    digest,
    pass ? 'pass' : 'FAIL',
  ].join(' | ')} |`;
}
