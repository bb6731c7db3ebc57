/** A machine file with the meshes that it names, which lie beside it or in folders below; a material file. */
import { realpath } from 'node:fs/promises';
import { dirname, join, sep } from 'node:path';
import type { Machine, Material } from '../lib/index.js';
import { Fault } from '../lib/base/fault.js';
import { within } from '../lib/base/json.js';
import { meshNames, withMeshes } from '../lib/machine/mesh-files.js';
import { readMachine, readMaterial } from '../lib/machine/read-files.js';
import { readBytes, readJson } from './files.js';

export interface MachineAt {
  /** Content of the machine file that needs no file beside it. */
  readonly content: unknown;
  readonly machine: Machine;
}

/** @throws Fault `file/*`, `mesh/*`, `machine/*` */
export async function machineFileAt(path: string): Promise<MachineAt> {
  const json = await readJson(path, 'the machine file');
  const files = new Map<string, Uint8Array>();
  for (const name of meshNames(json.value)) {
    files.set(name, await readBytes(await inside(path, name), "the machine's mesh"));
  }
  return within(json, (value, file) => {
    const content = files.size > 0 ? withMeshes(value, files) : value;
    return { content, machine: readMachine(content, file) };
  });
}

/** @throws Fault `file/*`, `mesh/*`, `machine/*` */
export const machineAt = async (path: string): Promise<Machine> =>
  (await machineFileAt(path)).machine;

/** @throws Fault `file/*`, `material/*` */
export const materialAt = async (path: string): Promise<Material> =>
  within(await readJson(path, 'the material file'), readMaterial);

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
