/** Every command, in the order of the help. The page of commands is made from them too. */
import type { Command } from 'commander';
import { calibrateCommand } from './calibrate.js';
import { cancelCommand } from './cancel.js';
import { checkCommand } from './check.js';
import { directionsCommand } from './directions.js';
import { drivesCommand } from './drives.js';
import { fetchCommand } from './fetch.js';
import { guideCommand } from './guide.js';
import { inspectCommand } from './inspect.js';
import { jobsCommand } from './jobs.js';
import { piecesCommand } from './pieces.js';
import { schemaCommand } from './schema.js';
import { serveCommand } from './serve.js';
import { sliceCommand } from './slice.js';
import { storeCommand } from './store.js';
import { submitCommand } from './submit.js';
import { tokenCommand } from './token.js';

export const allCommands = (): Command[] => [
  inspectCommand(),
  sliceCommand(),
  checkCommand(),
  directionsCommand(),
  drivesCommand(),
  calibrateCommand(),
  piecesCommand(),
  schemaCommand(),
  guideCommand(),
  serveCommand(),
  submitCommand(),
  jobsCommand(),
  cancelCommand(),
  fetchCommand(),
  tokenCommand(),
  storeCommand(),
];
