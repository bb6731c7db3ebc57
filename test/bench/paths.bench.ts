/**
 * Paths of the bunny's region pooled on two threads against the same batches on the calling thread,
 * and whether both results are the same. Wanted: at least 1.7.
 */
import { loadPolygonKernel } from '../../lib/kernel/polygon.js';
import { flatRoughness } from '../../lib/layers/interface.js';
import { layOut } from '../../lib/layers/layers.js';
import { layerRules } from '../../lib/layers/rules.js';
import { massOf } from '../../lib/mesh/measure.js';
import { pathRules } from '../../lib/paths/rules.js';
import type { Region } from '../../lib/regions/region.js';
import { type PathsTask, type RunTask, serialRunner } from '../../lib/job/tasks.js';
import { openPool } from '../../worker/pool.js';
import type { Row } from './bench.js';
import { bunny } from './meshes.js';

const NOZZLE = 0.4;
const BATCH = 12;
const RUNS = 3;

export async function run(): Promise<Row[]> {
  const tasks = await tasksOf();
  const pool = openPool(2);
  try {
    const serial = await serialRunner();
    await Promise.all(tasks.slice(0, 4).map((task) => pool.run(task)));
    await serial(tasks[0]!);
    const alone: number[] = [];
    const pooled: number[] = [];
    for (let i = 0; i < RUNS; i++) {
      alone.push(await timed(tasks, serial));
      pooled.push(await timed(tasks, pool.run));
    }
    const [a, b] = [median(alone), median(pooled)];
    return [
      {
        name: 'paths of 500 bunny layers: pooled on 2 threads, serial',
        a: b,
        b: a,
        ratio: a / b,
        want: { least: 1.7 },
      },
    ];
  } finally {
    await pool.close();
  }
}

async function tasksOf(): Promise<PathsTask[]> {
  const mesh = bunny(0);
  const region: Region = {
    mesh,
    cut: new Int32Array(mesh.triangles.length / 3).fill(-1),
    baseCut: -1,
    direction: [0, 0, 1],
    base: { point: [0, 0, 0], normal: [0, 0, 1] },
    standsOn: [],
    volume: massOf(mesh).volume,
    contactArea: 0,
    unsupportedArea: 0,
  };
  const limits = { nozzleDiameter: NOZZLE, roughness: flatRoughness };
  const layers = layOut(region, mesh, layerRules.parse({}), limits, await loadPolygonKernel());
  const count = layers.top.length;
  return Array.from({ length: Math.ceil(count / BATCH) }, (_, i) => ({
    kind: 'paths',
    layers,
    from: i * BATCH,
    to: Math.min(count, (i + 1) * BATCH),
    rules: pathRules.parse({}),
    nozzleDiameter: NOZZLE,
    onTable: true,
  }));
}

async function timed(tasks: readonly PathsTask[], run: RunTask): Promise<number> {
  const from = performance.now();
  await Promise.all(tasks.map((task) => run(task)));
  return performance.now() - from;
}

const median = (list: readonly number[]): number =>
  [...list].sort((x, y) => x - y)[Math.floor(list.length / 2)]!;
