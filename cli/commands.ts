/**
 * All commands, in the thread that main.ts starts. Exit codes: 0 done; 1 the input was refused (a line with
 * a code for each problem); 2 wrong usage; 3 done, but the result has findings of severity error; 4 a
 * defect of the program.
 */
import { Command } from 'commander';
import { Fault } from '../lib/base/fault.js';
import { allCommands, termOf } from './all.js';
import { helpEnd } from './examples.js';
import { faultLines, sayLines } from './streams.js';
import { Cancelled, connect } from './wire.js';
import { version } from '../worker/version.js';

connect();
const program = new Command('tiltwright')
  .description('From a mesh and a machine file to a checked five-axis printing program.')
  .version(version)
  .exitOverride((error) => {
    process.exit(error.exitCode === 0 ? 0 : 2);
  });
// Wherever it stands among the words, the name of the command that is called is one of them.
for (const command of await allCommands(process.argv.slice(2))) program.addCommand(command);
program.configureHelp({ subcommandTerm: termOf });
program.configureOutput({
  // What was typed stands in the message, a name that some other program chose among it.
  outputError: (text) => sayLines(text.trimEnd().split(/\n(?=\(Did you mean )/)),
});
for (const command of program.commands) {
  command.copyInheritedSettings(program);
  command.addHelpText('after', () => helpEnd(command.name()));
  for (const inner of command.commands) {
    inner.copyInheritedSettings(command);
    inner.addHelpText('after', () => helpEnd(`${command.name()} ${inner.name()}`));
  }
}

try {
  await program.parseAsync();
} catch (error) {
  if (error instanceof Fault) {
    sayLines(faultLines(error));
    process.exitCode = 1;
  } else if (!(error instanceof Cancelled || (error as Error).name === 'AbortError')) {
    sayLines([`defect: ${(error as Error).message}; please report it with the input`]);
    if (process.env['TILTWRIGHT_TRACE']) sayLines(String((error as Error).stack).split('\n'));
    process.exitCode = 4;
  }
}
