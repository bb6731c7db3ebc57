/**
 * A service from its flags. It runs until SIGTERM or SIGINT; then it accepts no more requests, lets running
 * jobs finish for a stated time and hands back the rest.
 */
import { isIP } from 'node:net';
import { resolve } from 'node:path';
import { Fault } from '../lib/base/fault.js';
import { type Service, startService } from '../worker/service/service.js';
import type { ServiceSettings } from '../worker/service/settings.js';
import { WatchedFolder } from '../worker/service/watch.js';
import { type Data, openData } from '../worker/store/data.js';
import { addressesOf } from './addresses.js';
import { callWith } from './called.js';
import { readJson } from './files.js';
import { numberFrom } from './numbers.js';
import { printLines } from './streams.js';

export interface ServeFlags {
  readonly data: string;
  readonly host: string;
  readonly watch?: string;
  readonly watchJob?: string;
  readonly watchSettle: string;
  readonly watchMissing: string;
  readonly port: string;
  readonly jobs: string;
  readonly threads: string;
  readonly memory: string;
  readonly minutes: string;
  readonly kept: string;
  readonly upload: string;
  readonly rate: string;
  readonly uploads: string;
  readonly uploadRate: string;
  readonly tokenJobs: string;
  readonly tokenRoom: string;
  readonly proxy?: string;
  readonly grace: string;
  readonly lease: string;
  readonly pause: string;
}

export async function runService(flags: ServeFlags): Promise<void> {
  const settings = settingsOf(flags);
  const grace = number(flags, 'grace', [0, 3600]) * 1000;
  const standard =
    flags.watchJob === undefined
      ? undefined
      : (await readJson(flags.watchJob, 'the job of the watched folder')).value;
  const data = await openData(resolve(flags.data), {
    leaseMs: number(flags, 'lease', [0.1, 3600], false) * 1000,
    pauseMs: number(flags, 'pause', [0, 3600], false) * 1000,
  });
  let service: Service;
  try {
    service = await startService(data, settings);
  } catch (error) {
    data.close();
    throw withHint(error, flags);
  }
  for (const note of data.notes) say(note);
  tellOf(data);
  for (const url of addressesOf(flags.host, service.url)) say(`listening at ${url}`);
  const watched = flags.watch === undefined ? undefined : watch(flags, service, standard);
  await stopWished();
  say(`stopping: ${data.jobs.counts().running} running, at most ${flags.grace} s`);
  await watched?.stop();
  await service.stop(grace);
  data.close();
  say('stopped');
}

/** An upload is judged by what it brought in so many seconds. */
const UPLOAD_WINDOW = 20;

/** What to do first, to be copied and run. */
function withHint(error: unknown, { data }: ServeFlags): unknown {
  if (!(error instanceof Fault) || error.code !== 'serve/no-token') return error;
  const hint = callWith('token', 'add', 'tablet', '--data', resolve(data));
  return new Fault(error.code, `${error.message}; make one first: ${hint}`);
}

function settingsOf(flags: ServeFlags): ServiceSettings {
  const each = number(flags, 'uploads', [1, 1000]);
  return {
    host: flags.host,
    port: number(flags, 'port', [0, 65535]),
    runner: {
      jobs: number(flags, 'jobs', [1, 64]),
      threads: number(flags, 'threads', [0, 64]),
      memoryMb: number(flags, 'memory', [100, 1_000_000]),
      seconds: number(flags, 'minutes', [0.01, 35_000], false) * 60,
      keptMb: number(flags, 'kept', [0, 10_000_000]),
    },
    uploadMb: number(flags, 'upload', [1, 2000]),
    inspectMb: Math.min(1500, number(flags, 'memory', [100, 1_000_000])),
    inspectSeconds: 120,
    uploads: {
      most: 4 * each,
      mostEach: each,
      leastRate: number(flags, 'uploadRate', [0, 100_000], false) * 1000,
      windowSeconds: UPLOAD_WINDOW,
    },
    quota: {
      jobs: number(flags, 'tokenJobs', [1, 1_000_000]),
      bytes: number(flags, 'tokenRoom', [1, 100_000_000]) * 1e6,
    },
    ...(flags.proxy === undefined ? {} : { proxy: proxyOf(flags.proxy) }),
    rate: number(flags, 'rate', [1, 1_000_000]),
  };
}

/** @throws Fault `serve/bad-value` */
function proxyOf(address: string): string {
  if (isIP(address) !== 0) return address;
  throw new Fault('serve/bad-value', `proxy: an IP address, got ${address}`);
}

const number = (
  flags: ServeFlags,
  name: keyof ServeFlags,
  limits: readonly [number, number],
  whole = true,
): number => numberFrom('serve', name, flags[name]!, limits, whole);

function watch(flags: ServeFlags, service: Service, standard: unknown): WatchedFolder {
  const settings = {
    folder: resolve(flags.watch!),
    settleMs: number(flags, 'watchSettle', [0.1, 3600], false) * 1000,
    missingMs: number(flags, 'watchMissing', [0.1, 86_400], false) * 1000,
    ...(standard === undefined ? {} : { standard }),
  };
  return new WatchedFolder(service.context, settings, say);
}

/** A line for each change of a job, for the system's journal. */
function tellOf(data: Data): void {
  data.journal.onEvent(({ job, kind, data: reason }) => {
    if (kind === 'progress') return;
    const why = reason as { code: string; message: string } | undefined;
    say(`job ${job} ${kind}${why ? `: ${why.code}: ${why.message}` : ''}`);
  });
}

const say = (line: string): void => printLines([line]);

function stopWished(): Promise<void> {
  return new Promise((done) => {
    process.once('SIGTERM', () => done());
    process.once('SIGINT', () => done());
  });
}
