/** A service on a free port with a fresh data folder, and the few calls that tests make of it. */
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { type Service, startService } from '../../worker/service/service.js';
import type { ServiceSettings } from '../../worker/service/settings.js';
import { openData } from '../../worker/store/data.js';
import type { JobRecord, PartRecord } from '../../worker/store/job.js';

export interface Answer<T> {
  readonly status: number;
  readonly body: T & { error?: { code: string; message: string } };
}

export interface TestService extends Service {
  readonly folder: string;
  call<T = Record<string, unknown>>(path: string, init?: RequestInit): Promise<Answer<T>>;
  upload(bytes: Uint8Array, name: string): Promise<Answer<PartRecord>>;
  submit(body: object, headers?: Record<string, string>): Promise<Answer<JobRecord>>;
  /** Waits until a job has ended. */
  ended(id: number): Promise<JobRecord>;
  close(): Promise<void>;
}

export const testSettings: ServiceSettings = {
  host: '127.0.0.1',
  port: 0,
  runner: { jobs: 1, threads: 0, memoryMb: 1500, seconds: 1200, keptMb: 200 },
  uploadMb: 20,
  inspectMb: 800,
  inspectSeconds: 300,
  rate: 10_000,
  uploads: { most: 64, mostEach: 16, leastRate: 10_000, windowSeconds: 20 },
  quota: { jobs: 1000, bytes: 1e9 },
};

/** Settings under which a small part is sliced quickly. */
export const quick = {
  regions: { directions: 40, effort: 4, lean: 0 },
  layers: { thickness: 0.3 },
  check: false,
};

export async function startTestService(
  settings: Partial<ServiceSettings> = {},
  folder = mkdtempSync(join(tmpdir(), 'tiltwright-service-')),
): Promise<TestService & { readonly token: string }> {
  const data = await openData(folder, { leaseMs: 5000, pauseMs: 20 });
  const secret = data.tokens.add('tester', 0);
  const service = await startService(data, { ...testSettings, ...settings });
  const call = async <T>(path: string, init: RequestInit = {}): Promise<Answer<T>> => {
    const response = await fetch(service.url + path, init);
    const text = await response.text();
    const json = response.headers.get('content-type')?.includes('json');
    return { status: response.status, body: (json ? JSON.parse(text) : { text }) as never };
  };
  return {
    ...service,
    folder,
    token: secret,
    call,
    upload: (bytes, name) =>
      call(`/v1/parts?name=${encodeURIComponent(name)}`, {
        method: 'POST',
        headers: { 'content-type': 'application/octet-stream' },
        body: bytes as never,
      }),
    submit: (body, headers = {}) =>
      call('/v1/jobs', {
        method: 'POST',
        headers: { 'content-type': 'application/json', ...headers },
        body: JSON.stringify({ machine: 'table-table-ac', material: 'pla', ...body }),
      }),
    ended: (id) =>
      new Promise((resolve) => {
        const check = (): void => {
          const job = data.jobs.show(id)!;
          if (job.ended === undefined) return;
          quiet();
          resolve(job);
        };
        const quiet = data.journal.onEvent(check);
        check();
      }),
    async close() {
      await service.stop(0);
      data.close();
      rmSync(folder, { recursive: true });
    },
  };
}
