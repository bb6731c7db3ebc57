/**
 * What the check says of whole jobs, as one table: `npm run corpus:printed [-- name ...]` slices the
 * corpus, the samples and a bunny on the A-C machine with the head and the defaults of a job (samples by
 * their own) and prints what would come out. Areas in mm2; `by the plan` is what the layers leave,
 * `beyond it` what hangs where the plan does not say so, `processor s` what check and all before took. Ends
 * with 1 if anything touches, if the volume is off by 2 %, or if more than 0.1 % of a program's beads
 * hang where the plan does not say so.
 */
import type { Mesh } from '../../lib/base/mesh.js';
import { Fault } from '../../lib/base/fault.js';
import { loadSolidKernel } from '../../lib/kernel/solid.js';
import type { Report } from '../../lib/report/report.js';
import { partNames, parts } from '../../samples/parts.js';
import { jobOf, runJob, sampleJson } from '../support/jobs.js';
import * as open from '../support/open-meshes.js';
import { loadShapes } from '../support/shapes.js';
import { corpus } from './corpus.js';

const limbs = await loadShapes();
const solid = await loadSolidKernel();

/** The settings of a sample's job. */
function settingsOf(name: string): object {
  const job = sampleJson(`${name}/job.json`) as Record<string, unknown>;
  const { layers, paths, regions } = job;
  return JSON.parse(JSON.stringify({ layers, paths, regions })) as object;
}

const lines: { readonly name: string; readonly build: () => Mesh; readonly job: object }[] = [
  ...partNames.map((name) => ({ name, build: () => parts[name](solid), job: settingsOf(name) })),
  ...corpus.map((c) => ({ name: c.name, build: () => c.build(limbs), job: {} })),
  {
    name: 'bunny 69k',
    build: () => open.scaledToHeight(open.yUp(open.bunny69k()), 100),
    job: {},
  },
];

const wanted = process.argv.slice(2);
console.log(
  '| part | regions | blocks | in the air | by the check | by the plan | beyond it | touches | volume laid / planned | shape error, 95%, mm | processor s |',
);
console.log('|---|---|---|---|---|---|---|---|---|---|---|');
for (const { name, build, job } of lines) {
  if (wanted.length > 0 && !wanted.some((w) => name.includes(w))) continue;
  const before = process.cpuUsage();
  try {
    // What would not hold on to the table is printed all the same.
    const regions = { ...(job as { regions?: object }).regions, footing: 'report' };
    const settings = { ...job, regions, page: false };
    const { report } = await runJob(jobOf(build(), 'table-table-ac', settings));
    const used = process.cpuUsage(before);
    console.log(row(name, report, (used.user + used.system) / 1e6));
    for (const f of report.findings)
      if (f.code.startsWith('check/air')) console.log(`  ${f.message}`);
  } catch (fault) {
    if (!(fault instanceof Fault)) throw fault;
    console.log(`| ${name} | refused: ${fault.message} |`);
  }
}

function row(name: string, report: Report, cpu: number): string {
  const { print, shape, volumeShare, blocks } = report.check!;
  const air = report.regions.map((r) => r.check!);
  const sum = (of: (a: (typeof air)[number]) => number): number =>
    air.reduce((all, a) => all + of(a), 0);
  const { touches, inAirShare, widthMm } = print!;
  const beyond = sum((a) => a.unplannedMm2);
  const beyondShare = beyond / (sum((a) => a.beadMm) * widthMm);
  if (touches > 0 || Math.abs(volumeShare! - 1) > 0.02 || beyondShare > 1e-3) {
    process.exitCode = 1;
  }
  return `| ${[
    name,
    report.regions.length,
    blocks,
    `${(100 * inAirShare).toFixed(3)}%`,
    sum((a) => a.inAirMm2).toFixed(1),
    report.unsupported.fromLayersMm2.toFixed(1),
    `${beyond.toFixed(1)} (${(100 * beyondShare).toFixed(3)}%)`,
    touches,
    volumeShare!.toFixed(4),
    shape!.p95Mm.toFixed(3),
    cpu.toFixed(0),
  ].join(' | ')} |`;
}
