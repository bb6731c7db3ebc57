/**
 * A client of the job server, for programs and for our own commands: uploads parts, submits jobs, follows
 * them and brings their results. It needs `fetch`, which Node and browsers have. Every refusal of the
 * server is thrown as the Fault that it is; that no server answers is one too.
 */
import { EventSourceParserStream, type EventSourceMessage } from 'eventsource-parser/stream';
import { Fault, type FaultData } from '../lib/base/fault.js';
import type { JobEvent, JobRecord, PartRecord, ResultFile, State } from './store/job.js';

export type {
  JobEvent,
  JobRecord,
  PartRecord,
  Progress as JobProgress,
  ResultFile,
  State as JobState,
  Summary as JobSummary,
} from './store/job.js';
export { Fault, type FaultData } from '../lib/base/fault.js';

/** What is kept by name in the library of a server. */
export type LibraryKind = 'machine' | 'material';

/** A job to be done. */
export interface JobRequest {
  /** Id of an uploaded part. */
  readonly part: string;
  /** Name of a machine in the library, or the content of a machine file. */
  readonly machine: unknown;
  /** Name of a material in the library, or the content of a material file. */
  readonly material: unknown;
  /** Content of a job file without part, machine and material; standard values are filled in. */
  readonly settings?: Readonly<Record<string, unknown>>;
  /** For people; the name of the part if left out. */
  readonly name?: string;
  /** -10 to 10, the higher the sooner; 0 if left out. */
  readonly priority?: number;
}

/** Which jobs a list shows. */
export interface JobQuery {
  /** Only of these states. */
  readonly state?: readonly State[];
  /** At most so many, 1 to 200; 50 if left out. */
  readonly limit?: number;
  /** Only jobs older than this one. */
  readonly before?: number;
}

/** A page of a list of jobs. */
export interface JobPage {
  /** Newest first. */
  readonly jobs: readonly JobRecord[];
  /** `before` of the next page; absent on the last one. */
  readonly next?: number;
}

/** How the server is. */
export interface ServerHealth {
  readonly status: 'ok' | 'trouble';
  readonly version?: string;
  readonly trouble?: FaultData;
  /** Number of jobs in each state. */
  readonly jobs?: Readonly<Record<string, number>>;
}

/** Events after which a job stays as it is. */
const ENDS: readonly JobEvent['kind'][] = ['finished', 'failed', 'cancelled', 'removed'];
const RETRY_MS = 2000;
const RETRIES = 30;
const UNREACHABLE = 'client/unreachable';

/**
 * One server, with the token by which it knows the caller. All methods throw a Fault: the server's own,
 * `client/unreachable` where none answers, `client/not-tiltwright` where something else does.
 */
export class Client {
  readonly #base: string;
  readonly #headers: Record<string, string>;

  /**
   * @param server its address, such as `http://127.0.0.1:7733`
   * @param token needed beyond the machine that it runs on
   * @throws Fault `client/bad-value` for an address that is no URL
   */
  constructor(server: string, token?: string) {
    if (!URL.canParse(server)) throw new Fault('client/bad-value', `server: a URL, got ${server}`);
    this.#base = server.replace(/\/$/, '');
    this.#headers = token ? { authorization: `Bearer ${token}` } : {};
  }

  /** How the server is; also where work is held up, which other calls do not tell. */
  async health(): Promise<ServerHealth> {
    const response = await this.#answer('/v1/health');
    if (response.ok || response.status === 503) {
      const body = (await response.json().catch(() => undefined)) as ServerHealth | undefined;
      if (body?.status) return body;
    }
    throw await faultOf(response, this.#base);
  }

  /** Uploads the bytes of a part file; the server inspects it before it answers. */
  upload(name: string, bytes: Uint8Array): Promise<PartRecord> {
    const headers = { 'content-type': 'application/octet-stream' };
    const path = `/v1/parts?name=${encodeURIComponent(name)}`;
    return this.#json(path, { method: 'POST', headers, body: bytes as never });
  }

  /** What an uploaded part is. */
  part(id: string): Promise<PartRecord> {
    return this.#json(`/v1/parts/${encodeURIComponent(id)}`);
  }

  /**
   * Has a job done.
   * @param key the same key brings the same job, however often it is sent; a new one if left out
   */
  submit(job: JobRequest, key: string = crypto.randomUUID()): Promise<JobRecord> {
    const headers = { 'content-type': 'application/json', 'idempotency-key': key };
    return this.#json('/v1/jobs', { method: 'POST', headers, body: JSON.stringify(job) });
  }

  /** How a job stands. */
  job(id: number): Promise<JobRecord> {
    return this.#json(`/v1/jobs/${id}`);
  }

  /** A page of the jobs, newest first. */
  jobs({ state, limit, before }: JobQuery = {}): Promise<JobPage> {
    const query = new URLSearchParams();
    if (state) query.set('state', state.join(','));
    if (limit !== undefined) query.set('limit', String(limit));
    if (before !== undefined) query.set('before', String(before));
    return this.#json(`/v1/jobs?${query.toString()}`);
  }

  /** Ends a job that waits or runs. */
  cancel(id: number): Promise<JobRecord> {
    return this.#json(`/v1/jobs/${id}/cancel`, { method: 'POST' });
  }

  /** Forgets a job that has ended, with its result. */
  async remove(id: number): Promise<void> {
    await this.#fetch(`/v1/jobs/${id}`, { method: 'DELETE' });
  }

  /** The files of the result of a finished job. */
  async files(id: number): Promise<ResultFile[]> {
    return (await this.#json<{ files: ResultFile[] }>(`/v1/jobs/${id}/files`)).files;
  }

  /** The bytes of one file of a result. */
  async file(id: number, name: string): Promise<Uint8Array> {
    const path = name.split('/').map(encodeURIComponent).join('/');
    const response = await this.#fetch(`/v1/jobs/${id}/files/${path}`);
    return new Uint8Array(await response.arrayBuffer());
  }

  /** The names of the machines or materials in the library. */
  async names(kind: LibraryKind): Promise<string[]> {
    return (await this.#json<{ names: string[] }>(`/v1/${kind}s`)).names;
  }

  /** The content of a machine or material file in the library. */
  content(kind: LibraryKind, name: string): Promise<Record<string, unknown>> {
    return this.#json(`/v1/${kind}s/${encodeURIComponent(name)}`);
  }

  /** Puts the content of a machine or material file into the library, in place of one of that name. */
  async put(kind: LibraryKind, name: string, content: object): Promise<void> {
    const headers = { 'content-type': 'application/json' };
    const path = `/v1/${kind}s/${encodeURIComponent(name)}`;
    await this.#fetch(path, { method: 'PUT', headers, body: JSON.stringify(content) });
  }

  /**
   * Hears a job's events until it has ended; a line that breaks is taken up where it broke, for a minute.
   * @param signal ends the listening, not the job; its reason is thrown
   */
  async follow(
    id: number,
    hear: (event: JobEvent) => void = () => undefined,
    signal?: AbortSignal,
  ): Promise<JobRecord> {
    let last = 0;
    for (let left = RETRIES; ; left--) {
      try {
        for await (const message of await this.#events(id, last, signal)) {
          last = Number(message.id);
          const event = JSON.parse(message.data) as JobEvent;
          hear(event);
          left = RETRIES;
          if (ENDS.includes(event.kind)) return await this.job(id);
        }
      } catch (error) {
        signal?.throwIfAborted();
        if (left <= 0 || (error instanceof Fault && error.code !== UNREACHABLE)) throw error;
      }
      await pause(RETRY_MS, signal);
    }
  }

  async #events(
    id: number,
    after: number,
    signal: AbortSignal | undefined,
  ): Promise<AsyncIterable<EventSourceMessage>> {
    const path = `/v1/jobs/${id}/events?after=${after}`;
    const response = await this.#fetch(path, signal ? { signal } : {});
    const text = response.body!.pipeThrough(new TextDecoderStream());
    return text.pipeThrough(new EventSourceParserStream());
  }

  async #json<T>(path: string, init: RequestInit = {}): Promise<T> {
    return (await (await this.#fetch(path, init)).json()) as T;
  }

  async #fetch(path: string, init: RequestInit = {}): Promise<Response> {
    const response = await this.#answer(path, init);
    if (!response.ok) throw await faultOf(response, this.#base);
    return response;
  }

  async #answer(path: string, init: RequestInit = {}): Promise<Response> {
    try {
      return await fetch(this.#base + path, {
        ...init,
        headers: { ...this.#headers, ...(init.headers as Record<string, string>) },
      });
    } catch (error) {
      init.signal?.throwIfAborted();
      const { cause, message } = error as Error;
      const why = (cause as { code?: string } | undefined)?.code ?? message;
      throw new Fault(UNREACHABLE, `no answer from ${this.#base}: ${why}`);
    }
  }
}

function pause(ms: number, signal: AbortSignal | undefined): Promise<void> {
  return new Promise((resolve, reject) => {
    const end = (): void => {
      clearTimeout(timer);
      reject(signal!.reason as Error);
    };
    const timer = setTimeout(() => {
      signal?.removeEventListener('abort', end);
      resolve();
    }, ms);
    signal?.addEventListener('abort', end, { once: true });
    if (signal?.aborted) end();
  });
}

async function faultOf(response: Response, base: string): Promise<Fault> {
  const body = (await response.json().catch(() => undefined)) as { error?: FaultData } | undefined;
  return body?.error
    ? Fault.fromData(body.error)
    : new Fault('client/not-tiltwright', `${base} answered ${response.status} without a reason`);
}
