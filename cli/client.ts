/** How the commands talk to a service. */
import { type Command } from 'commander';
import { type EventSourceMessage, EventSourceParserStream } from 'eventsource-parser/stream';
import type { FaultData } from '../lib/index.js';
import { Fault } from '../lib/base/fault.js';
import type { JobEvent, JobRecord, ResultFile } from '../worker/store/job.js';
import { readText } from './files.js';

export interface ServerFlags {
  readonly server: string;
  readonly tokenFile?: string;
}

export function addServerFlags(command: Command): Command {
  const server = process.env['TILTWRIGHT_SERVER'] ?? 'http://127.0.0.1:7733';
  return command
    .option('--server <url>', 'address of the service (TILTWRIGHT_SERVER)', server)
    .option('--token-file <file>', 'file that holds the token (or the token in TILTWRIGHT_TOKEN)');
}

export async function clientOf(flags: ServerFlags): Promise<Client> {
  const token = flags.tokenFile
    ? (await readText(flags.tokenFile, 'the token file')).trim()
    : process.env['TILTWRIGHT_TOKEN'];
  return new Client(flags.server, token);
}

/** Events after which a job stays as it is. */
const ENDS: readonly JobEvent['kind'][] = ['finished', 'failed', 'cancelled', 'removed'];
const RETRY_MS = 2000;
const RETRIES = 30;

export class Client {
  readonly #base: string;
  readonly #headers: Record<string, string>;

  constructor(server: string, token: string | undefined) {
    if (!URL.canParse(server)) throw new Fault('client/bad-value', `server: a URL, got ${server}`);
    this.#base = server.replace(/\/$/, '');
    this.#headers = token ? { authorization: `Bearer ${token}` } : {};
  }

  upload(name: string, bytes: Uint8Array): Promise<{ id: string }> {
    const headers = { 'content-type': 'application/octet-stream' };
    const path = `/v1/parts?name=${encodeURIComponent(name)}`;
    return this.#json(path, { method: 'POST', headers, body: bytes as never });
  }

  submit(body: object, key: string): Promise<JobRecord> {
    const headers = { 'content-type': 'application/json', 'idempotency-key': key };
    return this.#json('/v1/jobs', { method: 'POST', headers, body: JSON.stringify(body) });
  }

  job(id: number): Promise<JobRecord> {
    return this.#json(`/v1/jobs/${id}`);
  }

  list(query: Record<string, string>): Promise<{ jobs: JobRecord[]; next?: number }> {
    return this.#json(`/v1/jobs?${new URLSearchParams(query).toString()}`);
  }

  cancel(id: number): Promise<JobRecord> {
    return this.#json(`/v1/jobs/${id}/cancel`, { method: 'POST' });
  }

  async remove(id: number): Promise<void> {
    await this.#fetch(`/v1/jobs/${id}`, { method: 'DELETE' });
  }

  async files(id: number): Promise<ResultFile[]> {
    return (await this.#json<{ files: ResultFile[] }>(`/v1/jobs/${id}/files`)).files;
  }

  async file(id: number, name: string): Promise<Uint8Array> {
    const path = name.split('/').map(encodeURIComponent).join('/');
    const response = await this.#fetch(`/v1/jobs/${id}/files/${path}`);
    return new Uint8Array(await response.arrayBuffer());
  }

  /** Hears a job's events until it has ended; a line that breaks is taken up where it broke. */
  async follow(id: number, hear: (event: JobEvent) => void): Promise<JobRecord> {
    let last = 0;
    for (let left = RETRIES; ; left--) {
      try {
        for await (const message of await this.#events(id, last)) {
          last = Number(message.id);
          const event = JSON.parse(message.data) as JobEvent;
          hear(event);
          left = RETRIES;
          if (ENDS.includes(event.kind)) return await this.job(id);
        }
      } catch (error) {
        if (left <= 0 || (error instanceof Fault && error.code !== UNREACHABLE)) throw error;
      }
      await new Promise((resolve) => setTimeout(resolve, RETRY_MS));
    }
  }

  async #events(id: number, after: number): Promise<AsyncIterable<EventSourceMessage>> {
    const response = await this.#fetch(`/v1/jobs/${id}/events?after=${after}`);
    const text = response.body!.pipeThrough(new TextDecoderStream());
    return text.pipeThrough(new EventSourceParserStream());
  }

  async #json<T>(path: string, init: RequestInit = {}): Promise<T> {
    return (await (await this.#fetch(path, init)).json()) as T;
  }

  async #fetch(path: string, init: RequestInit = {}): Promise<Response> {
    let response: Response;
    try {
      response = await fetch(this.#base + path, {
        ...init,
        headers: { ...this.#headers, ...(init.headers as Record<string, string>) },
      });
    } catch (error) {
      const { cause, message } = error as Error;
      const why = (cause as { code?: string } | undefined)?.code ?? message;
      throw new Fault(UNREACHABLE, `no answer from ${this.#base}: ${why}`);
    }
    if (!response.ok) throw await faultOf(response, this.#base);
    return response;
  }
}

const UNREACHABLE = 'client/unreachable';

async function faultOf(response: Response, base: string): Promise<Fault> {
  const body = (await response.json().catch(() => undefined)) as { error?: FaultData } | undefined;
  return body?.error
    ? Fault.fromData(body.error)
    : new Fault('client/not-tiltwright', `${base} answered ${response.status} without a reason`);
}
