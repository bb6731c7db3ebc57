/** The work of a child process: slice a job into a folder, or inspect a part. */
import { mkdir, readFile } from 'node:fs/promises';
import {
  Fault,
  type FileContents,
  inspect,
  jobFile,
  parse,
  readMachine,
  readMaterial,
  readPart,
  type Report,
  type RunTask,
  slice,
  type SolidKernel,
  type Watch,
} from '../../lib/index.js';
import { forwardOnly } from '../../lib/base/watch.js';
import { fileResult } from '../../lib/job/file-result.js';
import { diskFault } from '../store/database.js';

import type { Result, ResultFile, Summary } from '../store/job.js';
import { writeAll } from '../disk.js';
import { readTemplate } from '../template.js';
import { version } from '../version.js';
import { clocks } from '../clocks.js';
import { keepIn } from './keep.js';
import type { Done, InspectWork, SliceWork } from './messages.js';

/** Walls thinner than this count as thin where an upload is looked at, mm. */
const THIN = 0.8;

export async function inspectWork(
  work: InspectWork,
  solid: SolidKernel,
): Promise<Done<InspectWork>> {
  const read = readPart(await bytesOf(work), work.partName, solid, {});
  const figures = inspect(read.mesh, solid, { thinBelow: THIN });
  return { format: read.format, inspection: { healed: read.healed, ...figures } };
}

export async function sliceWork(
  work: SliceWork,
  solid: SolidKernel,
  run: RunTask,
  progress: NonNullable<Watch['progress']>,
): Promise<Result> {
  const job = parse(jobFile, work.settings, 'job');
  const machine = readMachine(work.machine);
  const result = await slice(
    {
      partName: work.partName,
      partBytes: await bytesOf(work),
      machine,
      material: readMaterial(work.material),
      job,
    },
    {
      solid,
      run,
      ...clocks,
      version,
      watch: { progress: forwardOnly(progress) },
      keep: keepIn(work.kept, work.code),
    },
  );
  const { written } = await fileResult(result, { job, machine }, await readTemplate(), (files) =>
    writeResult(work.out, files),
  );
  return { summary: summaryOf(result.report), files: written };
}

/** @throws Fault `part/gone`, `part/unreadable`; where the service keeps its files is nobody's business */
async function bytesOf({
  part,
  partName,
}: Pick<InspectWork, 'part' | 'partName'>): Promise<Uint8Array> {
  try {
    return await readFile(part);
  } catch (error) {
    const { code } = error as NodeJS.ErrnoException;
    if (code === 'ENOENT') {
      throw new Fault('part/gone', `the part "${partName}" is no longer stored; upload it again`);
    }
    throw new Fault('part/unreadable', `the part "${partName}" cannot be read (${code})`);
  }
}

function summaryOf({ regions, motion, material, unsupported, findings }: Report): Summary {
  const count = (severity: string): number =>
    findings.filter((f) => f.severity === severity).length;
  return {
    regions: regions.length,
    seconds: motion.seconds,
    massG: material.massG,
    unsupportedMm2: unsupported.fromLayersMm2,
    errors: count('error'),
    warnings: count('warning'),
  };
}

/** Writes the files of a result into a new folder, down to the disk. @throws Fault `data/*` */
async function writeResult(
  folder: string,
  contents: ReadonlyMap<string, FileContents>,
): Promise<ResultFile[]> {
  try {
    await mkdir(folder);
    const marks = await writeAll(folder, contents);
    return [...marks].map(([name, mark]) => ({ name, ...mark }));
  } catch (error) {
    throw diskFault(error, folder) ?? error;
  }
}
