/**
 * What becomes of the mesh files of a folder: `npm run corpus:files -- <folder> ...` prints a row of a
 * Markdown table for each, with triangles and findings of what was read, or why it was refused.
 */
import { readFileSync, readdirSync } from 'node:fs';
import { join } from 'node:path';
import { Fault } from '../../lib/base/fault.js';
import { readPart } from '../../lib/formats/read-part.js';
import { loadSolidKernel } from '../../lib/kernel/solid.js';

const kernel = await loadSolidKernel();
const MESH = /\.(stl|obj|ply|3mf|glb|step|stp)$/i;

function outcomeOf(bytes: Uint8Array, name: string): string {
  try {
    const { mesh, healed } = readPart(bytes, name, kernel, {});
    const found = [...new Set(healed.map((f) => `\`${f.code}\``))].join(', ');
    return `read, ${mesh.triangles.length / 3} triangles | ${found}`;
  } catch (error) {
    if (!(error instanceof Fault)) throw error;
    return `refused | \`${error.code}\`: ${error.message}`;
  }
}

console.log('| file | outcome | findings, or why |\n| --- | --- | --- |');
for (const folder of process.argv.slice(2)) {
  const names = readdirSync(folder, { recursive: true, encoding: 'utf8' });
  for (const name of names.filter((n) => MESH.test(n)).sort())
    console.log(`| ${name} | ${outcomeOf(readFileSync(join(folder, name)), name)} |`);
}
