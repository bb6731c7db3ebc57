/**
 * What curved layers make of parts that flat ones leave hanging, as one table: `npm run corpus:curved [-- name ...]`
 * slices each of them flat and with `layers.form` left to the job (`auto`), with the defaults of a job otherwise, and
 * prints both programs as plan and check have them; `--on a-c,b-c,head-table` chooses the machines (all), `--form
 * field` sets curved layers against flat ones where `auto` would not take them.
 *
 * Areas in mm2: what hangs in the open `by layers`, what of it lies under 0.3 mm, where no machine can tilt, and what
 * hangs in the program as the check reads it. `times` is the printing time over that of flat layers, `pace` the share
 * in which a tilting joint sets the speed, `thickness` the first and the last hundredth of the bead heights, mm.
 *
 * A row fails where anything touches, an error is found of which the plan says nothing, the volume is off by 1 %, the
 * shape error (95 %) is over 0.12 mm, or `auto` leaves more than flat layers do; one that fails ends the command with 1.
 */
import { parseArgs } from 'node:util';
import type { Mesh } from '../../lib/base/mesh.js';
import { Fault } from '../../lib/base/fault.js';
import type { Report } from '../../lib/report/report.js';
import { jobOf, runJob } from '../support/jobs.js';
import * as open from '../support/open-meshes.js';
import * as make from '../support/shapes.js';
import { corpus } from './corpus.js';
import { leaningParts } from './leaning.js';
import { MACHINES, type MachineName } from './machines.js';

const limbs = await make.loadShapes();

/** A plan that leaves more than this says that the part hangs, mm2. */
const HANGS = 10;
/** Lower than this no machine can tilt, mm. */
const BY_THE_TABLE = 0.3;
/** The joints that tilt, against the one that turns the table. */
const TILTING: Readonly<Record<MachineName, readonly string[]>> = {
  'a-c': ['A'],
  'b-c': ['B'],
  'head-table': ['B'],
};

const named = (name: string): (() => Mesh) => {
  const part = [...corpus, ...leaningParts].find((c) => c.name === name)!;
  return () => part.build(limbs);
};

interface Line {
  readonly name: string;
  readonly build: () => Mesh;
  /** Beside the form. */
  readonly layers?: object;
}

const lines: readonly Line[] = [
  { name: 'ring lying, R 12 r 3', build: () => make.ringLying(12, 3) },
  { name: 'ring lying, R 20 r 5', build: named('ring lying') },
  { name: 'hollow ball, 10 in 8', build: named('hollow ball') },
  { name: 'hollow ball, 20 in 16', build: () => make.standing(make.hollowSphere(20, 16, 144)) },
  { name: 'mushroom', build: named('mushroom') },
  { name: 'five branches', build: named('five branches') },
  { name: 'hollow elbow', build: named('hollow elbow') },
  { name: 'spiral of shelves', build: named('spiral of shelves') },
  {
    name: 'bunny as given',
    build: () => open.scaledToHeight(open.yUp(open.bunny69k()), 100),
  },
  { name: 'dome of R 60', build: () => make.dome(60, 8, 3), layers: { curved: { follow: 25 } } },
];

const { values, positionals: wanted } = parseArgs({
  allowPositionals: true,
  options: { on: { type: 'string' }, form: { type: 'string', default: 'auto' } },
});
const machines = (values.on?.split(',') ?? Object.keys(MACHINES)) as MachineName[];

console.log(
  '| part | machine | form | by layers | under 0.3 mm | over fill | by the check | touches | errors | least clearance, mm | seconds | times | pace | thickness | volume laid / planned | shape error, 95%, mm | processor s | pass |',
);
console.log('|---|---|---|---|---|---|---|---|---|---|---|---|---|---|---|---|---|---|');
for (const line of lines) {
  if (wanted.length > 0 && !wanted.some((w) => line.name.includes(w))) continue;
  for (const on of machines) {
    const flat = await print(line, on, 'flat');
    await print(line, on, values.form, flat);
  }
}

async function print(
  { name, build, layers }: Line,
  on: MachineName,
  form: string,
  flat?: Report,
): Promise<Report | undefined> {
  const before = process.cpuUsage();
  try {
    // What would not hold on to the table is printed all the same.
    const settings = { layers: { ...layers, form }, regions: { footing: 'report' }, page: false };
    const { report } = await runJob(jobOf(build(), MACHINES[on], settings));
    const used = process.cpuUsage(before);
    console.log(row(name, on, report, (used.user + used.system) / 1e6, flat));
    for (const { code, message } of report.findings) {
      if (code === 'layers/form' || code === 'verify/touch') console.log(`  ${message}`);
    }
    return report;
  } catch (fault) {
    if (!(fault instanceof Fault)) throw fault;
    console.log(`| ${name} | ${on} | ${form} | refused: ${fault.message} |`);
    process.exitCode = 1;
    return undefined;
  }
}

function row(name: string, on: MachineName, report: Report, cpu: number, flat?: Report): string {
  const { print, shape, volumeShare } = report.check!;
  const { fromLayersMm2, overFillMm2, places } = report.unsupported;
  const open = fromLayersMm2 - overFillMm2;
  const low = places
    .filter((p) => p.point[2] < BY_THE_TABLE)
    .reduce((sum, p) => sum + p.mm2 - p.overFillMm2, 0);
  const check = report.regions.reduce((sum, r) => sum + r.check!.inAirMm2, 0);
  const { curved } = report.regions[0]!;
  const { seconds, paceShare } = report.motion;
  const tilting = TILTING[on].reduce((sum, joint) => sum + (paceShare[joint] ?? 0), 0);
  const errors = new Set(
    report.findings.filter((f) => f.severity === 'error').map(({ code }) => code),
  );
  const pass =
    print!.touches === 0 &&
    Math.abs(volumeShare! - 1) <= 0.01 &&
    shape!.p95Mm <= 0.12 &&
    (open > HANGS || errors.size === 0) &&
    !(flat && open > flat.unsupported.fromLayersMm2 - flat.unsupported.overFillMm2 + 1);
  if (!pass) process.exitCode = 1;
  return `| ${[
    name,
    on,
    curved ? 'curved' : `flat, ${report.regions.length} region(s)`,
    open.toFixed(1),
    low.toFixed(1),
    overFillMm2.toFixed(1),
    check.toFixed(1),
    print!.touches,
    [...errors].join(' ') || 'none',
    report.leastClearance?.mm.toFixed(2) ?? 'over 3',
    seconds.toFixed(0),
    flat ? (seconds / flat.motion.seconds).toFixed(2) : '',
    tilting.toFixed(2),
    curved ? curved.thicknessMm.map((t) => t.toFixed(3)).join(' to ') : '',
    volumeShare!.toFixed(4),
    shape!.p95Mm.toFixed(3),
    cpu.toFixed(0),
    pass ? 'pass' : 'FAIL',
  ].join(' | ')} |`;
}
