/** `tiltwright schema <what>`: prints the JSON Schema of a job, machine or material file. */
import { Argument, Command } from 'commander';
import { z } from 'zod';
import { jobFile } from '../lib/job.js';
import { machineFile } from '../lib/machine/machine.js';
import { materialFile } from '../lib/machine/material.js';

export const schemas = { job: jobFile, machine: machineFile, material: materialFile } as const;

export function schemaCommand(): Command {
  return new Command('schema')
    .description('print the JSON Schema of a file, for editors')
    .addArgument(new Argument('<what>', 'which file').choices(Object.keys(schemas)))
    .action((what: keyof typeof schemas) => {
      process.stdout.write(`${JSON.stringify(schemaOf(what), null, 2)}\n`);
    });
}

export function schemaOf(what: keyof typeof schemas): object {
  return z.toJSONSchema(schemas[what], { io: 'input' });
}
