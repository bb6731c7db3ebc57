/** The built command, for benches that are started from the root of the repository. */
import { join } from 'node:path';

const root = process.cwd();
export const commandPath = join(root, 'dist/cli/main.js');

/** Words that name the machine and the material of the samples. */
export const sampleWords = (): string[] => [
  '--machine',
  join(root, 'samples/machines/table-table-ac.json'),
  '--material',
  join(root, 'samples/materials/pla.json'),
];
