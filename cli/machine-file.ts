/** A machine file with the meshes that it names, which lie beside it or in folders below. */
import { realpath } from 'node:fs/promises';
import { dirname, join, sep } from 'node:path';
import { Fault } from '../lib/base/fault.js';
import { meshNames, withMeshes } from '../lib/machine/mesh-files.js';
import type { Machine } from '../lib/machine/machine.js';
import { readMachine } from '../lib/machine/read.js';
import { readBytes, readJson } from './files.js';

/**
 * Content of a machine file that needs no file beside it.
 * @throws Fault `file/*`, `mesh/*`, `machine/mesh-file`
 */
export async function machineText(path: string): Promise<unknown> {
  const json = await readJson(path);
  const files = new Map<string, Uint8Array>();
  for (const name of meshNames(json)) files.set(name, await readBytes(await inside(path, name)));
  return files.size > 0 ? withMeshes(json, files) : json;
}

/** @throws Fault also `machine/*` */
export const machineAt = async (path: string): Promise<Machine> =>
  readMachine(await machineText(path), path);

/** The path of a mesh; a link must not lead out of the machine file's folder. */
async function inside(machine: string, name: string): Promise<string> {
  const path = join(dirname(machine), name);
  try {
    const folder = await realpath(dirname(machine));
    if ((await realpath(path)).startsWith(folder.endsWith(sep) ? folder : folder + sep))
      return path;
  } catch {
    // Whoever reads it says why it cannot be read.
    return path;
  }
  throw new Fault('machine/mesh-file', `${name} leads out of the folder of the machine file`, {
    file: machine,
  });
}
