/**
 * Plans of known and of real parts as one table: `npm run corpus [-- name ...]`. Nothing here gates;
 * the tests hold the counts and bounds. Areas in mm2; `from layers` is what the layers themselves
 * leave, 0.2 mm thick, which is the figure that counts. `processor s` is what all threads used.
 */
import { availableParallelism, cpus } from 'node:os';
import type { Mesh } from '../../lib/base/mesh.js';
import { loadSolidKernel } from '../../lib/kernel/solid.js';
import type { Machine } from '../../lib/machine/machine.js';
import { withRounding } from '../../lib/motion/rules.js';
import { hangingOf, layersOf } from '../../lib/job/lay-out.js';
import { searchLimits } from '../../lib/regions/search/machine-limits.js';
import { planRegions } from '../../lib/regions/plan-regions.js';
import { partNames, parts } from '../../samples/parts.js';
import { searchingBy } from '../../lib/job/tasks.js';
import { openPool } from '../../worker/pool.js';
import { jobOf, sampleMachine } from '../support/jobs.js';
import * as open from '../support/open-meshes.js';
import { gearOnEdge, loadShapes } from '../support/shapes.js';
import { corpus } from './corpus.js';

interface Line {
  readonly name: string;
  readonly build: () => Mesh;
  /** Without: a head like a needle, so that only reach is asked of the machine. */
  readonly head: boolean;
  readonly rules?: object;
}

const limbs = await loadShapes();
const solid = await loadSolidKernel();
const machine = sampleMachine('table-table-ac');
const needle: Machine = {
  ...machine,
  stack: [{ above: 0, radius: 0 }],
  headBoxes: [],
  headMeshes: [],
  clearance: 0,
};

const bunny = (): Mesh => open.scaledToHeight(open.yUp(open.bunny69k()), 100);
const small = (): Mesh => open.scaledToHeight(open.yUp(open.bunny3k()), 100);

const known: Line[] = corpus.flatMap((c) =>
  c.regions.map(({ theta }) => ({
    name: `${c.name}, theta ${theta}`,
    build: () => c.build(limbs),
    head: false,
    rules: { overhang: theta, contact: 1 },
  })),
);

const NO_COUNT = ['hollow ball', 'ring lying', 'ring standing', 'cube on its corner', 'hook'];
const more: Line[] = [
  ...corpus
    .filter((c) => NO_COUNT.includes(c.name))
    .map((c) => ({ name: c.name, build: () => c.build(limbs), head: false })),
  ...corpus
    .filter((c) =>
      [...NO_COUNT, 'arch', 'mushroom', 'trunk with four branches 60 deg off'].includes(c.name),
    )
    .flatMap((c) => [
      { name: c.name, build: () => c.build(limbs), head: true },
      { name: c.name, build: () => c.build(limbs), head: true, rules: { pose: 'free' } },
    ]),
  { name: 'gearwheel on edge', build: () => gearOnEdge(open.gearwheel()), head: false },
  {
    name: 'gearwheel on edge',
    build: () => gearOnEdge(open.gearwheel()),
    head: true,
    rules: { pose: 'free' },
  },
  ...partNames.map((name) => ({ name, build: () => parts[name](solid), head: true })),
];

const bunnies: Line[] = [['bunny 69k', bunny] as const, ['bunny 3.7k', small] as const].flatMap(
  ([name, build]) =>
    [false, true].flatMap((head) =>
      [{}, { pose: 'free' }, { pose: 'free', pedestal: 15 }].map((rules) => ({
        name,
        build,
        head,
        rules,
      })),
    ),
);

const large: Line[] = [
  {
    name: 'bunny 1.1M',
    build: () => open.subdivide(open.subdivide(bunny())),
    head: true,
    rules: { pose: 'free', pedestal: 15 },
  },
];

const wanted = process.argv.slice(2);
const lines = [...known, ...more, ...bunnies, ...large].filter(
  ({ name }) => wanted.length === 0 || wanted.some((w) => name.includes(w)),
);
const pool = openPool();
console.log(
  `${availableParallelism()} cores, ${cpus()[0]?.model ?? ''}, ${new Date().toISOString().slice(0, 10)}`,
);
console.log(
  '| part | head | pose | pedestal, mm | regions | as placed | one direction | planned | from layers | wall s | processor s |',
);
console.log('|---|---|---|---|---|---|---|---|---|---|---|');
for (const line of lines) console.log(await row(line));
await pool.close();

async function row({ name, build, head, rules = {} }: Line): Promise<string> {
  const part = build();
  const { job } = jobOf(part, 'table-table-ac', { regions: rules });
  const m = head ? withRounding(machine, job.motion) : needle;
  const began = performance.now();
  const cpu = process.cpuUsage();
  const plan = await planRegions(part, searchLimits(m, job.regions.tilt), job.regions, {
    kernel: solid,
    work: searchingBy(pool.run, m),
  });
  const seconds = (performance.now() - began) / 1000;
  const used = process.cpuUsage(cpu);
  const tools = { solid, run: pool.run, clock: () => 0, version: '' };
  const input = { ...jobOf(part, 'table-table-ac', {}), machine: m, job };
  const hanging = await hangingOf(plan, await layersOf(plan, input, tools), job, tools);
  const { asPlacedMm2, bestSingleDirectionMm2, plannedMm2 } = plan.unsupported;
  const mm2 = (x: number): string => x.toFixed(x < 9.95 ? 1 : 0);
  return `| ${[
    name,
    head ? 'yes' : 'no',
    job.regions.pose,
    job.regions.pedestal || '',
    plan.regions.length,
    mm2(asPlacedMm2),
    mm2(bestSingleDirectionMm2),
    mm2(plannedMm2),
    mm2(hanging.totalMm2),
    seconds.toFixed(1),
    ((used.user + used.system) / 1e6).toFixed(1),
  ].join(' | ')} |`;
}
