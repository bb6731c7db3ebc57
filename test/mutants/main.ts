/**
 * `npm run mutants -- [--count N] [--seed N] [--only folder,folder] [--least percent] [--fast] [--again]`: do the tests
 * notice when the code is wrong? Small changes (`<` for `<=`, `+` for `-`, a condition that always holds, ...) are made
 * at places drawn by chance from the folders that decide what is printed; each is run against the tests of its
 * folder that reach it: those of the fast lane first, then whole jobs (not with `--fast`). Prints which were noticed
 * and each one that was not, writes out/mutants.json, and ends with 1 below the share that is asked for. When tests
 * have been added and the code is the same, `--again` sets them against what out/mutants.json says was not noticed.
 *
 * Method: mutation testing (DeMillo, Lipton and Sayward, IEEE Computer 11(4), 1978); Stryker makes the changes,
 * all into one copy of the sources behind switches, and runs the tests that reach a place.
 */
import { mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import { availableParallelism } from 'node:os';
import { relative } from 'node:path';
import { parseArgs } from 'node:util';
import { Stryker } from '@stryker-mutator/core';
import { whole } from '../../.config/lanes.js';
import { seeded } from '../../lib/base/random.js';
import { LEFT_OUT, chosen, placesOf } from './places.js';

const FOLDERS = ['clearance', 'verify', 'motion', 'regions', 'order', 'mesh', 'layers', 'paths'];

const { values } = parseArgs({
  options: {
    count: { type: 'string', default: '416' },
    seed: { type: 'string', default: '1' },
    only: { type: 'string', default: FOLDERS.join(',') },
    least: { type: 'string', default: '85' },
    fast: { type: 'boolean', default: false },
    again: { type: 'boolean', default: false },
  },
});
const folders = values.only.split(',');
const share = Math.ceil(Number(values.count) / folders.length);

interface Row {
  readonly folder: string;
  /** As a place is named for the tool, `file:line:column-line:column`. */
  readonly range: string;
  readonly kind: string;
  readonly replacement: string;
  readonly status: string;
}

const KEPT = 'out/mutants.json';
const before = values.again
  ? (JSON.parse(readFileSync(KEPT, 'utf8')) as { readonly rows: readonly Row[] }).rows
  : [];

const rows: Row[] = [];
for (const folder of folders) {
  let found = before.filter((row) => row.folder === folder);
  if (found.length === 0) {
    const places = await placesOf(`lib/${folder}`);
    const picked = chosen(places, share, seeded(Number(values.seed)));
    console.log(`${folder}: ${picked.length} of ${places.length} places, seed ${values.seed}`);
    const ranges = picked.map((p) => p.range);
    found = await run(folder, 'fast', ranges);
  }
  // What a test computes while it is collected meets a change only if that is there before: once more, with all tests.
  if (found.some(passed)) found = better(found, await run(folder, 'fast', leftOf(found), true));
  const jobs = whole.some((file) => file.startsWith(`test/${folder}/`));
  if (!values.fast && jobs && found.some(passed)) {
    found = better(found, await run(folder, 'whole', leftOf(found)));
  }
  rows.push(...found);
  print(folder);
}
mkdirSync('out', { recursive: true });
writeFileSync(KEPT, `${JSON.stringify({ seed: values.seed, rows }, null, 1)}\n`);
const score = print('all');
if (score < Number(values.least)) {
  console.log(`${score.toFixed(1)} % noticed, ${values.least} % asked`);
  process.exitCode = 1;
}

function passed({ status }: Row): boolean {
  return status === 'Survived' || status === 'NoCoverage';
}

/** The places of what was not noticed. */
function leftOf(found: readonly Row[]): string[] {
  return [...new Set(found.filter(passed).map((row) => row.range))];
}

/** What was found again in place of what was not noticed; where the later tests do not come, the former stands. */
function better(found: readonly Row[], again: readonly Row[]): Row[] {
  const met = again.filter(({ status }) => status !== 'NoCoverage' && status !== 'Ignored');
  const seen = new Map(met.map((row) => [nameOf(row), row]));
  return found.map((row) => (passed(row) ? (seen.get(nameOf(row)) ?? row) : row));
}

function nameOf({ range, kind, replacement }: Row): string {
  return `${range} ${kind} ${replacement}`;
}

/**
 * Changes the sources at some places and sets the tests of one folder and lane against each change.
 * @param collected sets all of them against a change that is met while they are collected, made before; else only
 *   those count that meet it while they run
 */
async function run(
  folder: string,
  lane: 'fast' | 'whole',
  ranges: string[],
  collected = false,
): Promise<Row[]> {
  process.env.MUTANTS_FOLDER = folder;
  process.env.MUTANTS_LANE = lane;
  const mutants = await new Stryker({
    mutate: ranges,
    mutator: { plugins: null, excludedMutations: LEFT_OUT },
    testRunner: 'vitest',
    plugins: ['@stryker-mutator/vitest-runner'],
    vitest: { configFile: '.config/mutants.config.ts', related: false },
    reporters: ['progress-append-only'],
    coverageAnalysis: 'perTest',
    // A constant of a module is read once: it would have to be set against every test of the folder.
    ignoreStatic: !collected,
    ignorePatterns: ['/out', '/samples/**/out', '/dist/bench'],
    tempDirName: 'out/mutants',
    dryRunTimeoutMinutes: 60,
    timeoutMS: 20_000,
    concurrency: availableParallelism(),
    allowConsoleColors: false,
  }).runMutationTest();
  return mutants
    .filter((m) => !LEFT_OUT.includes(m.mutatorName))
    .map((m) => {
      const { start, end } = m.location;
      const file = relative('.', m.fileName);
      return {
        folder,
        // Columns count from 1 in a report and from 0 in a range.
        range: `${file}:${start.line}:${start.column - 1}-${end.line}:${end.column - 1}`,
        kind: m.mutatorName,
        replacement: (m.replacement ?? '').replaceAll(/\s+/g, ' '),
        status: m.status,
      };
    });
}

/** The counts of a folder, or of all, and what was not noticed. @returns the share noticed, % */
function print(folder: string): number {
  const of = rows.filter((r) => folder === 'all' || r.folder === folder);
  const count = (...states: string[]): number => of.filter((r) => states.includes(r.status)).length;
  const noticed = count('Killed', 'Timeout');
  const missed = count('Survived', 'NoCoverage');
  const percent = (100 * noticed) / Math.max(1, noticed + missed);
  console.log(
    `${folder}: ${noticed + missed} mutants, ${noticed} noticed (${count('Timeout')} by time), ` +
      `${count('Survived')} not, ${count('NoCoverage')} met by no test: ${percent.toFixed(1)} %` +
      (count('Ignored') ? `; ${count('Ignored')} in constants, left out` : '') +
      (count('CompileError', 'RuntimeError')
        ? `; ${count('CompileError', 'RuntimeError')} failed`
        : ''),
  );
  if (folder === 'all') return percent;
  for (const r of of) {
    if (!passed(r)) continue;
    const why = r.status === 'NoCoverage' ? ' (met by no test)' : '';
    console.log(`  ${r.range.replace(/-\d+:\d+$/, '')} ${r.kind}: ${r.replacement}${why}`);
  }
  return percent;
}
