/**
 * How the check's processor time grows with the number of layers: a solid cuboid of 12 mm in layers of 0.4 to 0.05 mm,
 * beads of one width. The ratio of each row is the exponent e in time ~ layers^e, between one layer height and half of
 * it, and over all of them; what is paid once a check (bodies of the machine) lets the first ones fall short of 1. The
 * last row is the same check in one piece and handed out as tasks, one after another on this thread: what laying again
 * costs.
 */
import { doCheckTask } from '../../lib/verify/check-tasks.js';
import { verify, verifyBy } from '../../lib/verify/verify.js';
import { cuboid } from '../support/shapes.js';
import { Pen, printer } from '../verify/prints.js';
import type { Row } from './bench.js';

const SIZE = 12;
const WIDTH = 0.48;
const HEIGHTS = [0.4, 0.2, 0.1, 0.05];
const RUNS = 2;
const machine = printer();
const facts = { part: cuboid([SIZE, SIZE, SIZE]), bridge: 5 };

function boxIn(height: number): string {
  const pen = new Pen();
  pen.box([-SIZE / 2, -SIZE / 2, 0], [SIZE, SIZE, SIZE], WIDTH, height);
  return pen.text();
}

/** Least processor time of a few runs, after one that warms up, ms. */
async function used(work: () => unknown): Promise<number> {
  let least = Infinity;
  for (let run = 0; run <= RUNS; run++) {
    const before = process.cpuUsage();
    await work();
    const { user, system } = process.cpuUsage(before);
    if (run > 0) least = Math.min(least, (user + system) / 1000);
  }
  return least;
}

export async function run(): Promise<Row[]> {
  const times: number[] = [];
  for (const height of HEIGHTS) {
    const text = boxIn(height);
    times.push(await used(() => verify(text, machine, facts)));
  }
  const row = (from: number, to: number): Row => ({
    name: `check of a cuboid, layers of ${HEIGHTS[from]!} to ${HEIGHTS[to]!} mm: exponent`,
    a: times[from]!,
    b: times[to]!,
    ratio: Math.log(times[to]! / times[from]!) / Math.log(HEIGHTS[from]! / HEIGHTS[to]!),
    want: { most: 1.1 },
  });
  const fine = boxIn(HEIGHTS.at(-1)!);
  const parts = await used(() =>
    verifyBy((task) => Promise.resolve(doCheckTask(task) as never), fine, machine, facts),
  );
  const whole = times.at(-1)!;
  const name = 'check of a cuboid, layers of 0.05 mm, in one piece and in tasks';
  const last = HEIGHTS.length - 1;
  return [
    ...HEIGHTS.slice(1).map((_, n) => row(n, n + 1)),
    row(0, last),
    { name, a: whole, b: parts, ratio: parts / whole, want: {} },
  ];
}
