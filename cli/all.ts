/**
 * Every command, in the order of the help, with what the help says of it. The rest of a command is
 * loaded when it is called: what all commands import together takes 0.6 s of processor time to load,
 * ten times what Node itself takes.
 */
import { Command, Help } from 'commander';

interface Entry {
  /** Name, flags and arguments as the help lists them. */
  readonly term: string;
  readonly about: string;
  readonly load: () => Promise<Command>;
}

const entries: readonly Entry[] = [
  {
    term: 'inspect [options] <part>',
    about: 'size, volume, shells, open edges, crossings and thin places of a mesh',
    load: async () => (await import('./inspect.js')).inspectCommand(),
  },
  {
    term: 'slice [options] [part]',
    about: 'split a part into regions, plan its layers and paths, and write a motion program',
    load: async () => (await import('./slice.js')).sliceCommand(),
  },
  {
    term: 'check [options] <program>',
    about: 'read a motion program back and report what would come out of the machine',
    load: async () => (await import('./check.js')).checkCommand(),
  },
  {
    term: 'directions [options] <part...>',
    about: 'which build directions a part needs: tilt, turning range, table, head clearance',
    load: async () => (await import('./directions.js')).directionsCommand(),
  },
  {
    term: 'drives [options] <job or program>',
    about:
      'torque and speed of every joint and motor over the real motion, power loss, other ratios and motors',
    load: async () => (await import('./drives.js')).drivesCommand(),
  },
  {
    term: 'machine',
    about: 'a machine file: make it, check it, show it, prove it on the real machine',
    load: async () => (await import('./machine.js')).machineCommand(),
  },
  {
    term: 'calibrate',
    about: 'measure the machine with its own nozzle: touch plans, fits, a measured machine file',
    load: async () => (await import('./calibrate.js')).calibrateCommand(),
  },
  {
    term: 'pieces [options]',
    about: 'parts that show one error of the machine or material each, with jobs and pages',
    load: async () => (await import('./pieces.js')).piecesCommand(),
  },
  {
    term: 'schema <what>',
    about: 'print the JSON Schema of a file, for editors',
    load: async () => (await import('./schema.js')).schemaCommand(),
  },
  {
    term: 'completion <shell>',
    about: 'print a script by which a shell completes commands and flags',
    load: async () => (await import('./completion.js')).completionCommand(allCommands),
  },
  {
    term: 'guide [topic]',
    about: 'list the pages of the guide, print one, or say what a code means',
    load: async () => (await import('./guide.js')).guideCommand(),
  },
  {
    term: 'serve [options]',
    about: 'run jobs for other machines: HTTP API, page, watched folder',
    load: async () => (await import('./serve.js')).serveCommand(),
  },
  {
    term: 'submit [options] [part]',
    about: 'give a job to a service',
    load: async () => (await import('./submit.js')).submitCommand(),
  },
  {
    term: 'jobs [options] [id]',
    about: 'list the jobs of a service, newest first, or show one',
    load: async () => (await import('./jobs.js')).jobsCommand(),
  },
  {
    term: 'cancel [options] <id>',
    about: 'cancel a job',
    load: async () => (await import('./cancel.js')).cancelCommand(),
  },
  {
    term: 'fetch [options] <id>',
    about: 'bring the result folder of a finished job',
    load: async () => (await import('./fetch.js')).fetchCommand(),
  },
  {
    term: 'token',
    about: 'tokens for using the service from elsewhere',
    load: async () => (await import('./token.js')).tokenCommand(),
  },
  {
    term: 'store',
    about: "the job server's data: back up, restore, examine",
    load: async () => (await import('./store.js')).storeCommand(),
  },
];

const nameOf = ({ term }: Entry): string => term.split(' ', 1)[0]!;

/** How the help lists a command, also one of which no more than the name is there. */
export const termOf = (command: Command): string =>
  entries.find((entry) => nameOf(entry) === command.name())?.term ??
  new Help().subcommandTerm(command);

/** @param wanted the names of those that are to be complete; left out: all */
export const allCommands = (wanted?: readonly string[]): Promise<Command[]> =>
  Promise.all(
    entries.map(async (entry) => {
      const name = nameOf(entry);
      const whole = !wanted || wanted.includes(name);
      return (whole ? await entry.load() : new Command(name)).description(entry.about);
    }),
  );
