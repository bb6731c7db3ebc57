/**
 * Runs every bench that lies beside this file (or those whose name holds an argument) and prints the
 * ratios. Started from the root of the repository: `npm run bench [-- name ...]`.
 */
import { readdirSync } from 'node:fs';
import { type Bench, type Row, table } from './bench.js';

const wanted = process.argv.slice(2);
const files = readdirSync(new URL('.', import.meta.url))
  .filter((name) => name.endsWith('.bench.js'))
  .filter((name) => wanted.length === 0 || wanted.some((part) => name.includes(part)))
  .sort();
if (files.length === 0) {
  console.error(`no bench is named like ${wanted.join(' or ')}`);
  process.exitCode = 2;
}
const rows: Row[] = [];
for (const file of files) {
  const bench = (await import(new URL(file, import.meta.url).href)) as Bench;
  rows.push(...(await bench.run()));
}
if (rows.length > 0) console.log(table(rows));
