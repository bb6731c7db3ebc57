/**
 * Builds sample parts: `node dist/samples/build.js <name> <folder>` writes <folder>/<name>.stl, and
 * `all` for the name writes every part. The same code gives the same bytes.
 */
import { mkdir, rename, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { loadSolidKernel, writeStl } from '../lib/index.js';
import { type PartName, partNames, parts } from './parts.js';

async function main([name, folder]: string[]): Promise<number> {
  const known = (x: string | undefined): x is PartName => partNames.includes(x as PartName);
  if (!folder || (name !== 'all' && !known(name))) {
    console.error(`usage: build <${['all', ...partNames].join('|')}> <folder>`);
    return 2;
  }
  const kernel = await loadSolidKernel();
  await mkdir(folder, { recursive: true });
  for (const part of known(name) ? [name] : partNames) {
    const path = join(folder, `${part}.stl`);
    await writeFile(`${path}.part`, writeStl(parts[part](kernel)));
    await rename(`${path}.part`, path);
    console.log(path);
  }
  return 0;
}

process.exitCode = await main(process.argv.slice(2));
