/**
 * `npm run planted`: every fault in two parts, in the first and in a later region, and those of curved
 * layers in a bend and a ring, with the part known and without it, as a table. Exit code 1 if one is missed or a sound program has an error. Names as
 * arguments keep to the faults, and `small`, `large`, `bend` or `ring` to the part, that they are in.
 */
import { Piscina } from 'piscina';
import { faults } from './faults.js';
import { type Printed, bentPart, largePart, ringPart, smallPart } from './parts.js';
import { type Row, errorsOf, regionsFor } from './run.js';
import type { Task } from './thread.js';

const THREADS = 2;
const makers = { small: smallPart, large: largePart, bend: bentPart, ring: ringPart };

const words = process.argv.slice(2);
const sizes: string[] = words.filter((w) => Object.keys(makers).includes(w));
const names = words.filter((w) => !sizes.includes(w));
const wanted = faults.filter((f) => names.length === 0 || names.some((n) => f.name.includes(n)));

const cell = (text: string, width: number): string => text.slice(0, width).padEnd(width);
const rowOf = (r: Row): string =>
  [
    cell(r.fault, 48),
    cell(r.part, 5),
    cell(`${r.region}/${r.layer || '-'}`, 6),
    cell(r.known ? 'part' : 'bare', 4),
    cell(`${r.planted[0]}-${r.planted[1]}`, 12),
    cell(r.line ? String(r.line) : '-', 6),
    cell(r.code, 24),
    r.outcome,
  ].join(' ');

const printed: Printed[] = [];
for (const [size, make] of Object.entries(makers)) {
  if (sizes.length === 0 || sizes.includes(size)) printed.push(await make());
}

let missed = 0;
const why = new Map<string, string>();
const pool = new Piscina<Task, Row[]>({
  filename: new URL('./thread.js', import.meta.url).href,
  workerData: printed,
  minThreads: THREADS,
  maxThreads: THREADS,
  stricterFIFO: true,
});
const tasks = printed.map((p, part) =>
  wanted.flatMap((fault) =>
    regionsFor(fault, p).map((region) => pool.run({ part, fault: fault.name, region })),
  ),
);
console.log(
  `${cell('fault', 48)} part  reg/la  with planted at   found  code                     outcome`,
);
for (const [part, p] of printed.entries()) {
  for (const known of [false, true]) {
    const errors = errorsOf(p, known);
    console.log(
      `${cell('(as sliced)', 48)} ${p.name} ${known ? 'part' : 'bare'}: ${errors.length} errors`,
    );
    for (const e of errors) console.log(`  ${e.code} ${e.at?.line}: ${e.message}`);
    missed += errors.length;
  }
  for (const task of tasks[part]!) {
    for (const row of await task) {
      console.log(rowOf(row));
      if (process.env.SAY) console.log(`    ${row.said}`);
      if (row.outcome === 'missed' || row.outcome === 'elsewhere') missed++;
      if (row.why) why.set(row.fault, row.why);
    }
  }
}
await pool.destroy();
for (const [fault, reason] of why) console.log(`needs part: ${fault}: ${reason}`);
console.log(`${missed} missed`);
if (missed > 0) process.exitCode = 1;
