/**
 * Time parameterization by reachability analysis over rounded corners, against what was rejected: the same
 * rounded path sampled evenly, every .02 mm, with both passes over the samples (the time of the job by
 * both is compared too; the sampled path may break a limit between its samples). Whether the time
 * rises in proportion, what limited jerk costs, and what corners cost beside the optimum.
 */
import { BlockList, type MotionBlocks, NO_PATH } from '../../lib/motion/lay/blocks.js';
import { MoveKind } from '../../lib/motion/motion.js';
import {
  type WantedTimes,
  type TimeParameterization,
  FeedSource,
  cruiseOf,
} from '../../lib/motion/timing/wanted-times.js';
import { TimeOptimal } from '../../lib/motion/timing/time-optimal.js';
import { type Route, ratesInto, routeOf } from '../../lib/motion/timing/path-limits.js';
import { JerkLimited } from '../../lib/motion/timing/jerk-limited.js';
import { seeded } from '../../lib/base/random.js';
import type { Machine } from '../../lib/machine/machine.js';
import { readMachine } from '../../lib/machine/read-files.js';
import { readFileSync } from 'node:fs';
import { cornerCases, runCorner } from '../support/corner-cost.js';
import { cornerSolver } from '../support/corner-optimum.js';
import type { Row } from './bench.js';
import { timed } from './bench.js';

const FEW = 50_000;
/** Blocks with limited jerk, where a quarter of them has a corner in a direction of its own. */
const JERKY = 2_000;
const MANY_JERKY = 8_000;
const SPACING = 0.02;

export async function run(): Promise<Row[]> {
  const machine = readMachine(
    JSON.parse(readFileSync('samples/machines/table-table-ac.json', 'utf8')),
  );
  const few = contours(machine, FEW);
  const [jerky, many] = [contours(machine, JERKY), contours(machine, MANY_JERKY)];
  const asked = askOf(few);
  const [plain, plainTotal] = parameterized(machine, few, (route) => new TimeOptimal(route, asked));
  const askedJerky = askOf(jerky);
  const [bare, bareTotal] = parameterized(machine, jerky, (r) => new TimeOptimal(r, askedJerky));
  const [smooth, smoothTotal] = parameterized(
    machine,
    jerky,
    (route) => new JerkLimited(route, askedJerky),
    1,
  );
  let sampledTotal = 0;
  const sampled = timed(() => {
    sampledTotal = sampledSeconds(routeOf(machine, few, 0.05), asked);
  }, RUNS);
  const askedMany = askOf(many);
  const [manyTimes] = parameterized(machine, many, (route) => new JerkLimited(route, askedMany), 1);
  const row = (name: string, a: number, b: number, want: Row['want']): Row => ({
    name,
    a,
    b,
    ratio: b / a,
    want,
  });
  return [
    ...(await cornerRows(machine)),
    row('times: stretches, samples every .02 mm', plain, sampled, { least: 1 }),
    row('time of that job, s: samples, stretches', sampledTotal, plainTotal, { most: 1.02 }),
    // Corners in all directions, each of which needs a linear program.
    row('times: without jerk, with jerk', bare, smooth, { most: 200 }),
    row('time of that job, s: without jerk, with jerk', bareTotal, smoothTotal, { least: 1 }),
    row('times with jerk: 4 times 2,000 blocks, 8,000', 4 * smooth, manyTimes, { most: 1.5 }),
  ];
}

/** What corners cost, ms, against the optimum: over all of X and Y, and over those with other joints. */
async function cornerRows(machine: Machine): Promise<Row[]> {
  const solve = await cornerSolver();
  return [35, 60, 100].flatMap((speed) => {
    const all = cornerCases(machine, speed, 0.05).map((corner) => {
      const { cost, optimum } = runCorner(machine, corner);
      return { flat: corner.name.startsWith('XY'), cost, least: Math.max(0, solve(optimum)) };
    });
    return [true, false].map((flat) => {
      const some = all.filter((c) => c.flat === flat);
      const [a, b] = [some.reduce((t, c) => t + c.least, 0), some.reduce((t, c) => t + c.cost, 0)];
      const name = `corners ${flat ? 'of X and Y' : 'with Z, A or C'} at ${speed} mm/s: optimum, plan`;
      return { name, a: a * 1e3, b: b * 1e3, ratio: b / a, want: { most: 1.3 } };
    });
  });
}

const RUNS = 3;

const askOf = (blocks: MotionBlocks): WantedTimes => ({
  least: blocks.length.map((far, b) => far / blocks.speed[b]!),
  source: new Uint8Array(blocks.kind.length).fill(FeedSource.asked),
});

/** Time of the parameterization, ms, and of the job, s. */
function parameterized(
  machine: Machine,
  blocks: MotionBlocks,
  make: (route: Route) => TimeParameterization,
  runs = RUNS,
): [number, number] {
  let total = 0;
  const ms = timed(() => {
    const route = routeOf(machine, blocks, 0.05);
    const times = make(route);
    times.run(0, route.segment.length - 1);
    total = sum(times.real);
  }, runs);
  return [ms, total];
}

const sum = (list: Float64Array): number => list.reduce((a, b) => a + b, 0);

/** Wavy closed contours, chords of about .3 mm, and strokes with sharp ends between them. */
function contours(machine: Machine, count: number): MotionBlocks {
  const random = seeded(11);
  const n = machine.joints.length;
  const [x, y] = ['X', 'Y'].map((letter) => machine.joints.findIndex((j) => j.letter === letter));
  const joints = machine.ready.slice();
  const list = new BlockList(joints);
  const tag = { kind: MoveKind.deposit, region: 0, layer: 0, pathKind: NO_PATH, speed: 60 };
  let phase = 0;
  for (let b = 0; b < count; b++) {
    const before: [number, number] = [joints[x!]!, joints[y!]!];
    if (b % 200 < 150) {
      phase += 0.3 / 25;
      const r = 25 + 2 * Math.sin(9 * phase);
      joints[x!] = r * Math.cos(phase);
      joints[y!] = r * Math.sin(phase);
    } else {
      joints[x!] = 20 * (random() - 0.5);
      joints[y!] = 20 * (random() - 0.5);
    }
    const far = Math.hypot(joints[x!]! - before[0], joints[y!]! - before[1]);
    list.push(joints.subarray(0, n), far, 0.08, 0, tag);
  }
  return list.take();
}

/** What was rejected: even samples, curvature at each, a backward and a forward pass over them. */
function sampledSeconds(route: Route, wanted: WantedTimes): number {
  const { length, machine, polyline, round } = route;
  const joints = machine.joints;
  const n = joints.length;
  let u: Float64Array = new Float64Array(n);
  let v: Float64Array = new Float64Array(n);
  const most: number[] = [];
  const ramp: number[] = [];
  const step: number[] = [];
  for (let b = 0; b < length.length; b++) {
    if (!(length[b]! > 0)) continue;
    [u, v] = [v, u];
    ratesInto(machine, polyline, b, v);
    const count = Math.max(1, Math.round(length[b]! / SPACING));
    const cruise = cruiseOf(route, wanted, b);
    for (let i = 0; i < count; i++) {
      const s = (length[b]! * i) / count;
      const turning = b > 0 && s < round[b]!;
      let cap = cruise * cruise;
      let a = Infinity;
      for (let j = 0; j < n; j++) {
        const k = turning ? Math.abs(v[j]! - u[j]!) / (2 * round[b]!) : 0;
        if (k > 0) cap = Math.min(cap, joints[j]!.acceleration / k);
      }
      for (let j = 0; j < n; j++) {
        const k = turning ? Math.abs(v[j]! - u[j]!) / (2 * round[b]!) : 0;
        const left = joints[j]!.acceleration - k * cap * 0.999;
        if (v[j] !== 0) a = Math.min(a, Math.max(0, left) / Math.abs(v[j]!));
      }
      most.push(cap);
      ramp.push(a);
      step.push(length[b]! / count);
    }
  }
  const x = Float64Array.from(most);
  x[0] = 0;
  let next = 0;
  for (let i = x.length - 1; i >= 0; i--) {
    x[i] = Math.min(x[i]!, next + 2 * ramp[i]! * step[i]!);
    next = x[i]!;
  }
  let total = 0;
  for (let i = 0; i + 1 < x.length; i++) {
    x[i + 1] = Math.min(x[i + 1]!, x[i]! + 2 * ramp[i]! * step[i]!);
    const v0 = Math.sqrt(x[i]!);
    const v1 = Math.sqrt(x[i + 1]!);
    if (v0 + v1 > 0) total += (2 * step[i]!) / (v0 + v1);
  }
  return total;
}
