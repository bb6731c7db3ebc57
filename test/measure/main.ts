/**
 * Regenerates the page of measurements: `npm run measure` runs every command whose table stands there and
 * puts what it prints in place; `npm run measure -- corpus bench` some of them. Takes hours in full and
 * wants the machine for itself. After `--only` come names of rows; a table of some rows never replaces the
 * whole one, so the page with them goes to out/measurements.md. Ends with 1 if a command did.
 */
import { spawnSync } from 'node:child_process';
import { mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import { availableParallelism, cpus } from 'node:os';
import { format, resolveConfig } from 'prettier';
import { put, tableOf } from './page.js';

const PAGE = 'cli/guide/measurements.md';
const SUBSET = 'out/measurements.md';

/** By the name in the markers: the script of the package, and what it runs. */
const COMMANDS: Readonly<Record<string, { readonly script: string; readonly run: string[] }>> = {
  jobs: { script: 'measure:jobs', run: ['dist/bench/test/measure/jobs.js'] },
  bench: { script: 'bench', run: ['--expose-gc', 'dist/bench/test/bench/main.js'] },
  corpus: { script: 'corpus', run: ['dist/bench/test/corpus/table.js'] },
  printed: { script: 'corpus:printed', run: ['dist/bench/test/corpus/printed.js'] },
  curved: { script: 'corpus:curved', run: ['dist/bench/test/corpus/curved.js'] },
  recount: { script: 'recount', run: ['dist/bench/test/recount/main.js'] },
};

const words = process.argv.slice(2);
const cut = words.includes('--only') ? words.indexOf('--only') : words.length;
const [asked, only] = [words.slice(0, cut), words.slice(cut + 1)];
const unknown = asked.filter((name) => !(name in COMMANDS));
if (unknown.length > 0 || (cut < words.length && only.length === 0)) {
  console.error(`usage: measure [${Object.keys(COMMANDS).join('|')} ...] [--only name ...]`);
  process.exit(2);
}

let page = readFileSync(PAGE, 'utf8');
for (const name of asked.length > 0 ? asked : Object.keys(COMMANDS)) {
  const { script, run } = COMMANDS[name]!;
  const command = [
    `npm run ${script}`,
    ...(only.length > 0 ? ['--', ...only.map((name) => `'${name}'`)] : []),
  ].join(' ');
  console.log(command);
  const { status, stdout } = spawnSync(process.execPath, [...run, ...only], {
    encoding: 'utf8',
    maxBuffer: 1e9,
    stdio: ['ignore', 'pipe', 'inherit'],
  });
  if (status !== 0) {
    // Its table still says what falls short.
    console.error(`${command} ended with ${status}`);
    process.exitCode = 1;
  }
  page = put(page, { name, command, where: where(), table: tableOf(stdout) });
}
const to = only.length > 0 ? SUBSET : PAGE;
mkdirSync('out', { recursive: true });
writeFileSync(to, await format(page, { ...(await resolveConfig(PAGE)), parser: 'markdown' }));
console.log(`written to ${to}`);

function where(): string {
  const day = new Date().toLocaleDateString('en-GB', { dateStyle: 'long', timeZone: 'UTC' });
  const model = cpus()[0]?.model ?? 'unknown processor';
  return `${day}, Node ${process.versions.node}, ${availableParallelism()} cores, ${model}`;
}
