/** The command `serve` as a process of its own, and other commands as clients of it. */
import { type ChildProcess, spawn, spawnSync } from 'node:child_process';
import { fileURLToPath } from 'node:url';

const root = fileURLToPath(new URL('../..', import.meta.url));
const main = `${root}dist/cli/main.js`;

export interface Server {
  readonly url: string;
  readonly process: ChildProcess;
  /** All that it printed. */
  output(): string;
  /** Sends a signal and waits for the end. Gives the exit code, or the signal that ended it. */
  end(signal: NodeJS.Signals): Promise<number | string | null>;
}

/**
 * Starts a service and waits until it listens.
 * @param program another main.js than that of the build
 * @throws Error with its words when it ends instead
 */
export function serve(
  data: string,
  flags: readonly string[] = [],
  { program = main, ...as }: { readonly uid?: number; readonly program?: string } = {},
): Promise<Server> {
  const words = [program, 'serve', '--data', data, '--port', '0', '--threads', '0', ...flags];
  const child = spawn(process.execPath, words, { stdio: ['ignore', 'pipe', 'pipe'], ...as });
  let output = '';
  const ended = new Promise<number | string | null>((resolve) => {
    child.once('close', (code, signal) => resolve(signal ?? code));
  });
  return new Promise((resolve, reject) => {
    const hear = (text: Buffer): void => {
      output += text.toString();
      const url = /listening at (\S+)/.exec(output)?.[1];
      if (!url) return;
      const end = (signal: NodeJS.Signals): typeof ended => {
        child.kill(signal);
        return ended;
      };
      resolve({ url, process: child, output: () => output, end });
    };
    child.stdout.on('data', hear);
    child.stderr.on('data', hear);
    void ended.then((code) => reject(new Error(`exit ${code}: ${output}`)));
  });
}

/** A command run to its end against a server. */
export function command(
  url: string,
  ...words: string[]
): { status: number | null; out: string; err: string } {
  const done = spawnSync(process.execPath, [main, ...words], {
    encoding: 'utf8',
    env: { ...process.env, TILTWRIGHT_SERVER: url },
  });
  return { status: done.status, out: done.stdout, err: done.stderr };
}

/** Waits until something is so, looking often. */
export async function until<T>(what: () => T | Promise<T>): Promise<NonNullable<T>> {
  for (;;) {
    const value = await what();
    if (value) return value as NonNullable<T>;
    await new Promise((resolve) => setTimeout(resolve, 20));
  }
}
