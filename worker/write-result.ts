/** The files of a result as a new folder, whole or not at all. */
import { mkdir, rm } from 'node:fs/promises';
import { dirname } from 'node:path';
import { Fault, type Report, type SliceInput, type SliceResult } from '../lib/index.js';
import { fileResult } from '../lib/job/file-result.js';
import { writeAll } from './disk.js';
import { writeManifest } from './manifest.js';
import { readTemplate } from './template.js';

/**
 * Makes the files of a result and writes them, down to the disk, with a manifest of their digests. The
 * folder that holds it is made if need be.
 * @param folder must not be there yet
 * @returns the report as it stands in the folder, with the time that the files took
 * @throws Fault `out/exists`; what the file system refuses, after all that was written is gone again
 */
export async function writeResult(
  folder: string,
  result: SliceResult,
  input: Pick<SliceInput, 'job' | 'machine'>,
): Promise<Report> {
  const template = await readTemplate();
  await mkdir(dirname(folder), { recursive: true });
  try {
    await mkdir(folder);
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code !== 'EEXIST') throw error;
    throw new Fault('out/exists', `"${folder}" is there already; a result goes into a new folder`);
  }
  try {
    const { report, written } = await fileResult(result, input, template, (files) =>
      writeAll(folder, files),
    );
    await writeManifest(folder, written);
    return report;
  } catch (error) {
    await rm(folder, { recursive: true, force: true });
    throw error;
  }
}
