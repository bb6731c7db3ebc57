/** A service: the data folder, the runner, and the HTTP face over both. */
import { codeDigest } from '../runner/digest.js';
import { Runner } from '../runner/runner.js';
import type { Data } from '../store/data.js';
import { Fault } from '../../lib/index.js';
import type { Context } from './context.js';
import { Inspector } from './inspector.js';
import { makeMetrics } from './metrics.js';
import { buildServer } from './server.js';
import { type ServiceSettings, isAlone } from './settings.js';
import { Uploads } from './uploads.js';

export interface Service {
  readonly url: string;
  readonly context: Context;
  /** Answers nothing more, lets running jobs finish for a while, and hands back the others. */
  stop(graceMs: number): Promise<void>;
}

const DAY_MS = 24 * 3600_000;

/**
 * @throws Fault `serve/no-token` beyond loopback without a token, `serve/address` when it is taken
 */
export async function startService(data: Data, settings: ServiceSettings): Promise<Service> {
  if (!isAlone(settings) && data.tokens.names().length === 0)
    throw new Fault(
      'serve/no-token',
      `${settings.proxy === undefined ? settings.host : 'the service behind a proxy'} is reached from other machines, and there is no token yet`,
    );
  const runner = new Runner(data.queue, data.folder, { ...settings.runner, code: codeDigest() });
  const inspector = new Inspector({
    memoryMb: settings.inspectMb,
    seconds: settings.inspectSeconds,
  });
  const uploads = new Uploads(settings.uploads);
  const metrics = makeMetrics(data);
  const context: Context = { data, runner, inspector, metrics, uploads, settings };
  const app = await buildServer(context);
  const sweep = setInterval(() => void data.parts.sweep(Date.now()).catch(() => {}), DAY_MS / 24);
  const stop = async (graceMs: number): Promise<void> => {
    clearInterval(sweep);
    await app.close();
    inspector.end();
    await runner.stop(graceMs);
  };
  try {
    const { host, port } = settings;
    return { url: await app.listen({ host, port }), context, stop };
  } catch (error) {
    await stop(0);
    throw new Fault(
      'serve/address',
      `cannot listen at ${settings.host}:${settings.port}: ${(error as Error).message}`,
    );
  }
}
