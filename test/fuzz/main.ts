/**
 * Changed inputs for every reader and the check, in child processes with limits, so that a hang or a run
 * for memory is seen: `npm run fuzz -- [--count N | --seconds S] [--seed N] [--only name,name]`.
 * `--count` is of each subject. An input that fails is kept in test/support/failing, where
 * test/fuzz/failing.test.ts runs it from then on. Ends with 1 if any failed.
 */
import { spawn } from 'node:child_process';
import { mkdirSync, writeFileSync } from 'node:fs';
import { availableParallelism } from 'node:os';
import { createInterface } from 'node:readline';
import { fileURLToPath } from 'node:url';
import { parseArgs } from 'node:util';
import { seeded } from '../../lib/base/random.js';
import { loadSolidKernel } from '../../lib/kernel/solid.js';
import { packaged } from '../../worker/built.js';
import type { Said, Task } from './child.js';
import { seedOf } from './seed.js';
import { type Subject, subjects } from './subjects.js';

/** No input may take more, s of processor time and MB of the whole process. */
const SECONDS = 10;
const MEGABYTES = 1000;
/** Inputs of one child: then a new one begins with fresh memory. */
const BATCH = 500;
const FAILING = fileURLToPath(packaged('test/support/failing/'));

const { values } = parseArgs({
  options: {
    count: { type: 'string', default: '12500' },
    seconds: { type: 'string' },
    seed: { type: 'string', default: '1' },
    only: { type: 'string' },
  },
});
const seed = Number(values.seed);
const until = values.seconds ? Date.now() + 1000 * Number(values.seconds) : Infinity;
const count = values.seconds ? Infinity : Number(values.count);
const wanted = values.only?.split(',');
const all = subjects(await loadSolidKernel()).filter((s) => wanted?.includes(s.name) ?? true);

interface Sum {
  inputs: number;
  taken: number;
  refused: number;
  slowest: number;
  readonly failures: string[];
}

const sums = new Map(
  all.map((s): [Subject, Sum] => [
    s,
    { inputs: 0, taken: 0, refused: 0, slowest: 0, failures: [] },
  ]),
);
console.log(`seed ${seed}, limits ${SECONDS} s and ${MEGABYTES} MB an input`);
const work = batches();
await Promise.all(Array.from({ length: availableParallelism() }, worker));
report();

/** The subjects in turn, so that a short run sees all of them. */
function* batches(): Generator<{ subject: Subject; from: number; to: number }> {
  const size = Number.isFinite(count) ? BATCH : BATCH / 5;
  for (let from = 0; from < count; from += size) {
    for (const subject of all) yield { subject, from, to: Math.min(count, from + size) };
  }
}

async function worker(): Promise<void> {
  for (const { subject, from, to } of work) {
    let at = from;
    while (at < to && Date.now() < until) at = await child(subject, at, to);
    if (Date.now() >= until) return;
  }
}

/** Runs a child until it ends. @returns the input behind the last one that it began */
async function child(subject: Subject, from: number, to: number): Promise<number> {
  const task: Task = {
    subject: subject.name,
    seed,
    from,
    to,
    step: 1,
    seconds: SECONDS,
    megabytes: MEGABYTES,
  };
  const process = spawn(
    globalThis.process.execPath,
    [fileURLToPath(new URL('./child.js', import.meta.url)), JSON.stringify(task)],
    { stdio: ['ignore', 'pipe', 'pipe'] },
  );
  let complaint = '';
  process.stderr.on('data', (text: Buffer) => (complaint = `${complaint}${text}`.slice(-1000)));
  const closed = new Promise((resolve) => process.once('close', resolve));
  const timer = setTimeout(
    () => process.kill('SIGKILL'),
    Math.min(2 ** 31 - 1, until - Date.now()),
  );
  const sum = sums.get(subject)!;
  let at = from - 1;
  let over = '';
  let done = false;
  for await (const line of createInterface({ input: process.stdout })) {
    const said = JSON.parse(line) as Said;
    if ('at' in said) {
      at = said.at;
      sum.inputs++;
    } else if ('fails' in said) keep(subject, said.fails, said.why, sum);
    else if ('over' in said) over = said.over;
    else {
      done = true;
      sum.taken += said.done.taken;
      sum.refused += said.done.refused;
      sum.slowest = Math.max(sum.slowest, said.done.slowest);
    }
  }
  await closed;
  clearTimeout(timer);
  if (!done && Date.now() < until) keep(subject, at, over || `crashed: ${complaint}`, sum);
  return at + 1;
}

function keep(subject: Subject, i: number, why: string, sum: Sum): void {
  const bytes = subject.make(seeded(seedOf(seed, i)));
  const name = `${subject.name}-${seed}-${i}.${subject.ending}`;
  mkdirSync(FAILING, { recursive: true });
  writeFileSync(`${FAILING}${name}`, bytes);
  sum.failures.push(name);
  console.log(`${subject.name}, seed ${seed}, input ${i} (${bytes.length} bytes, ${name}): ${why}`);
}

function report(): void {
  let failed = 0;
  let inputs = 0;
  for (const [{ name }, s] of sums) {
    console.log(
      `${name.padEnd(9)} ${s.inputs} inputs, ${s.taken} taken, ${s.refused} refused, ${s.failures.length} failed; slowest ${s.slowest.toFixed(1)} s`,
    );
    failed += s.failures.length;
    inputs += s.inputs;
  }
  console.log(`${inputs} inputs, seed ${seed}, ${failed} failed`);
  if (failed > 0) process.exitCode = 1;
}
