/** `tiltwright store`: backup, restore and examination of the job server's data folder. */
import { resolve } from 'node:path';
import { Command } from 'commander';
import type { BackupReport } from '../worker/store/backup.js';
import type { Examination } from '../worker/store/doctor.js';
import { printJson, printLines } from './streams.js';

interface StoreFlags {
  readonly data: string;
  readonly adopt?: boolean;
  readonly json?: boolean;
}

const DATA = ['--data <folder>', 'data folder of the service', 'tiltwright-data'] as const;

export function storeCommand(): Command {
  const command = new Command('store');
  command
    .command('backup <folder>')
    .description(
      'copy the store, also while the service runs, into a folder that is empty or absent',
    )
    .option(...DATA)
    .option('--json', 'print the figures as JSON')
    .action(async (to: string, flags: StoreFlags) => {
      const { backUp } = await import('../worker/store/backup.js');
      tell(await backUp(resolve(flags.data), to), `backed up to ${to}`, flags);
    });
  command
    .command('restore <folder>')
    .description('put a backup into a data folder that is empty or absent')
    .option(...DATA)
    .option('--json', 'print the figures as JSON')
    .action(async (from: string, flags: StoreFlags) => {
      const { restore } = await import('../worker/store/backup.js');
      tell(await restore(resolve(from), resolve(flags.data)), `restored to ${flags.data}`, flags);
    });
  command
    .command('doctor')
    .description('examine a store that no service runs on; exit 3 if it is not well')
    .option(...DATA)
    .option('--adopt', 'go on with what is there: take in results that describe themselves')
    .option('--json', 'print what was found as JSON')
    .action(doctor);
  return command;
}

/** Loaded on demand: other commands need no database. */
async function doctor(flags: StoreFlags): Promise<void> {
  const { examine, isWell } = await import('../worker/store/doctor.js');
  const path = resolve(flags.data);
  const before = await examine(path);
  let notes: readonly string[] = [];
  if (flags.adopt) {
    const { adopt } = await import('../worker/store/adopt.js');
    ({ notes } = await adopt(path));
  }
  const found = flags.adopt ? await examine(path) : before;
  if (flags.json) printJson({ ...found, done: notes });
  else {
    for (const note of notes) print(note);
    for (const line of linesOf(found)) print(line);
    print(isWell(found) ? 'all is well' : adviceOn(found, flags));
  }
  if (!isWell(found)) process.exitCode = 3;
}

function linesOf(e: Examination): string[] {
  const counts = Object.entries(e.jobs).map(([state, n]) => `${n} ${state}`);
  const { database } = e.events;
  return [
    `store ${e.identity ?? 'without identity'}, SQLite of ${e.engine}`,
    `jobs: ${counts.join(', ') || 'none'}`,
    `events: ${database ?? 'none'} in the database, ${e.events.folder} noted by the folder`,
    ...(e.refused === undefined ? [] : [`refused: ${e.refused}`]),
    ...e.damaged.map((line) => `damaged: ${line}`),
    ...e.missing.map((line) => `missing: ${line}`),
    ...e.unknown.map((line) => `unknown: ${line}`),
    ...e.quarantined.map((line) => `in quarantine: ${line}`),
    ...e.adoptable.map((line) => `can be taken in: ${line}`),
  ];
}

function adviceOn(e: Examination, { data }: StoreFlags): string {
  if (e.refused !== undefined || e.damaged.length > 0)
    return `restore a backup into an empty folder, or go on with what is there: tiltwright store doctor --adopt --data ${data}`;
  if (e.adoptable.length > 0)
    return `to take them in: tiltwright store doctor --adopt --data ${data}`;
  if (e.missing.length > 0) return 'what is missing can only come from a backup';
  return 'what is in quarantine is yours to keep or to remove; the store needs none of it';
}

function tell(report: BackupReport, what: string, { json }: StoreFlags): void {
  if (json) printJson(report);
  else {
    for (const flaw of report.flaws) print(`flaw: ${flaw}`);
    print(`${what}: ${report.files} files, ${(report.bytes / 1e6).toFixed(1)} MB`);
  }
  if (report.flaws.length > 0) process.exitCode = 3;
}

const print = (line: string): void => printLines([line]);
