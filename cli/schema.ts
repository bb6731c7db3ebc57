/** `tiltwright schema <what>`: prints the JSON Schema of a job, machine or material file. */
import { Argument, Command } from 'commander';
import { readFile } from 'node:fs/promises';
import { schemas } from '../lib/job/file-schemas.js';
import { packaged } from '../worker/built.js';
import { printJson } from './streams.js';

export function schemaCommand(): Command {
  return new Command('schema')
    .addArgument(new Argument('<what>', 'which file').choices(Object.keys(schemas)))
    .action(async (what: keyof typeof schemas) => {
      const text = await readFile(packaged(`dist/schemas/${what}.schema.json`), 'utf8');
      printJson(JSON.parse(text) as object);
    });
}
