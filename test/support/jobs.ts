/** Whole jobs for tests: a part in memory, a sample machine and material, settings over defaults. */
import { existsSync, readFileSync } from 'node:fs';
import type { Mesh } from '../../lib/base/mesh.js';
import { parse } from '../../lib/base/schema.js';
import type { Watch } from '../../lib/base/watch.js';
import { jobFile } from '../../lib/job/job-file.js';
import { loadSolidKernel } from '../../lib/kernel/solid.js';
import { readMachine, readMaterial } from '../../lib/machine/read-files.js';
import { writeStl } from '../../lib/formats/write-mesh.js';
import type { SliceInput } from '../../lib/job/lay-out.js';
import { type SliceResult, slice } from '../../lib/job/pipeline.js';
import { type RunTask, serialRunner } from '../../lib/job/tasks.js';

/** The root of the repository, from wherever this module is built to. */
function root(): URL {
  for (let at = new URL('.', import.meta.url); ; at = new URL('..', at)) {
    if (existsSync(new URL('package.json', at))) return at;
  }
}

export const sampleJson = (path: string): unknown =>
  JSON.parse(readFileSync(new URL(`samples/${path}`, root()), 'utf8')) as unknown;

export const sampleMachine = (name: string): ReturnType<typeof readMachine> =>
  readMachine(sampleJson(`machines/${name}.json`));

/** Layers are flat where the settings do not say: curved ones have tests of their own, and cost a second plan. */
export function jobOf(mesh: Mesh, machine: string, settings: object): SliceInput {
  const { layers } = settings as { readonly layers?: object };
  return {
    partName: 'part.stl',
    partBytes: writeStl(mesh),
    machine: sampleMachine(machine),
    material: readMaterial(sampleJson('materials/pla.json')),
    job: parse(jobFile, { ...settings, layers: { form: 'flat', ...layers } }, 'job'),
  };
}

export async function runJob(
  input: SliceInput,
  run?: RunTask,
  watch?: Watch,
): Promise<SliceResult> {
  return slice(input, {
    solid: await loadSolidKernel(),
    run: run ?? (await serialRunner()),
    clock: () => performance.now() / 1000,
    version: 'test',
    ...(watch ? { watch } : {}),
  });
}
