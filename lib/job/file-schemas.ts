/** The schemas of the files that people write, and their published form. */
import { z } from 'zod';
import { jobFile } from './job-file.js';
import { machineFile } from '../machine/machine.js';
import { materialFile } from '../machine/material.js';

export const schemas = { job: jobFile, machine: machineFile, material: materialFile } as const;

/** JSON Schema of a file as it is written: keys with a standard value may be left out. */
export function schemaOf(what: keyof typeof schemas): object {
  return z.toJSONSchema(schemas[what], { io: 'input' });
}
