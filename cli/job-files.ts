/** Where the files of a job lie: paths in the job file are relative to it, those of flags to here. */
import { dirname, resolve } from 'node:path';
import type { Job } from '../lib/index.js';
import { Fault } from '../lib/base/fault.js';

/** Keys of the job file that are no settings, or have a flag of their own. */
export const OWN = ['$schema', 'part', 'machine', 'material', 'note'] as const;

export interface JobFiles {
  readonly part: string;
  readonly machine: string;
  readonly material: string;
}

/**
 * @param given what stands over the job, relative to here
 * @param file the job file, if there is one
 * @throws Fault `job/missing`
 */
export function jobFilesOf(
  job: Job,
  given: { readonly [K in keyof JobFiles]?: string | undefined },
  file: string | undefined,
): JobFiles {
  const pick = (what: keyof JobFiles): string => {
    const own = given[what];
    if (own) return own;
    const named = job[what];
    if (!named || file === undefined) {
      throw new Fault(
        'job/missing',
        `no ${what} given: name it in the job file or on the command line`,
      );
    }
    return resolve(dirname(file), named);
  };
  return { part: pick('part'), machine: pick('machine'), material: pick('material') };
}
