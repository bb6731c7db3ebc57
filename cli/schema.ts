/** `tiltwright schema <what>`: prints the JSON Schema of a job, machine or material file. */
import { Argument, Command } from 'commander';
import { schemaOf, schemas } from '../lib/job/file-schemas.js';
import { printJson } from './streams.js';

export function schemaCommand(): Command {
  return new Command('schema')
    .addArgument(new Argument('<what>', 'which file').choices(Object.keys(schemas)))
    .action((what: keyof typeof schemas) => {
      printJson(schemaOf(what));
    });
}
