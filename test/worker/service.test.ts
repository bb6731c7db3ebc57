/** The service as a client meets it: parts, jobs, events, results, and who may. */
import { existsSync, readFileSync, readdirSync } from 'node:fs';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test, vi } from 'vitest';
import { writeStl } from '../../lib/formats/write-mesh.js';
import type { JobEvent, JobRecord } from '../../worker/store/job.js';
import { jobOf, runJob } from '../support/jobs.js';
import { until } from '../support/server.js';
import { type TestService, quick, startTestService } from '../support/service.js';
import { cuboid, postWithArm } from '../support/shapes.js';

const cube = writeStl(cuboid([10, 10, 6]));
const post = writeStl(postWithArm(12, 24, 12, 8));

let service: TestService;
let part: string;
beforeAll(async () => {
  service = await startTestService();
  part = (await service.upload(cube, 'cube.stl')).body.id;
});
afterAll(() => service.close());

describe('parts', () => {
  test('an upload is inspected and named by its bytes', async () => {
    const { status, body } = await service.upload(cube, 'cube.stl');
    expect(status).toBe(201);
    // Closed forms for a box of 10 x 10 x 6 mm.
    expect(body).toMatchObject({
      name: 'cube.stl',
      bytes: 84 + 50 * 12,
      inspection: { volume: 600, area: 440, closed: true },
    });
    const again = await service.call(`/v1/parts/${body.id}`);
    expect(again.body).toEqual({ ...body, made: expect.any(Number) });
  });

  test('what is no mesh is refused with a code, and nothing of it stays', async () => {
    const { status, body } = await service.upload(new TextEncoder().encode('#!/bin/sh\n'), 'x.stl');
    expect(status).toBe(422);
    expect(body.error!.code).toMatch(/^[a-z-]+\/[a-z-]+$/);
    expect(readdirSync(join(service.folder, 'incoming'))).toEqual([]);
  });
});

describe('jobs', () => {
  test('library and service give the same program, byte for byte, on one thread and on two', async () => {
    const wanted = await runJob({
      ...jobOf(postWithArm(12, 24, 12, 8), 'table-table-ac', quick),
      partName: 'post.stl',
    });
    const pooled = await startTestService({
      runner: { jobs: 1, threads: 2, memoryMb: 2000, seconds: 120, keptMb: 100 },
    });
    try {
      for (const s of [service, pooled]) {
        const { id } = (await s.upload(post, 'post.stl')).body;
        const job = (await s.submit({ part: id, settings: quick })).body;
        expect(await s.ended(job.id)).toMatchObject({ state: 'finished' });
        const got = await s.call<{ text: string }>(`/v1/jobs/${job.id}/files/program.ngc`);
        expect(got.body.text).toBe(wanted.program.join(''));
      }
    } finally {
      await pooled.close();
    }
  });

  test('the result lists what the command writes, each with its size', async () => {
    const { id } = (await service.submit({ part, settings: quick })).body;
    const job = await service.ended(id);
    expect(job.summary).toMatchObject({ regions: 1, errors: 0 });
    const { files } = (
      await service.call<{ files: { name: string; bytes: number }[] }>(`/v1/jobs/${id}/files`)
    ).body;
    expect(files.map((f) => f.name)).toEqual(
      expect.arrayContaining(['job.json', 'program.ngc', 'regions.svg', 'report.json']),
    );
    for (const { name, bytes } of files) {
      const response = await fetch(`${service.url}/v1/jobs/${id}/files/${name}`);
      expect((await response.arrayBuffer()).byteLength).toBe(bytes);
    }
    expect(await service.call(`/v1/jobs/${id}`, { method: 'DELETE' })).toMatchObject({
      status: 204,
    });
    expect(existsSync(join(service.folder, 'results', `${id}-1`))).toBe(false);
  });

  test('a job resubmitted with another fill finds its earlier stages kept', async () => {
    const settings = { ...quick, layers: { thickness: 0.25 } };
    const first = (await service.submit({ part, settings })).body;
    await service.ended(first.id);
    const before = readdirSync(join(service.folder, 'kept')).length;
    const fill = { ...settings, paths: { fill: { density: 0.4 } } };
    await service.ended((await service.submit({ part, settings: fill })).body.id);
    // Of four stages (regions, layers, support, paths) the last alone is made again.
    expect(readdirSync(join(service.folder, 'kept')).length - before).toBe(1);
  });

  test('a job that the library refuses fails at once with the code and message', async () => {
    const settings = { ...quick, place: { scale: 50 } };
    const { id } = (await service.submit({ part, settings })).body;
    const job = await service.ended(id);
    expect(job).toMatchObject({ state: 'failed', reason: { code: 'place/off-table' }, tries: 0 });
  });

  test('limits of time and memory end a job, not the service', async () => {
    const slow = await startTestService({
      runner: { jobs: 1, threads: 0, memoryMb: 1500, seconds: 0.2, keptMb: 10 },
    });
    const small = await startTestService({
      runner: { jobs: 1, threads: 0, memoryMb: 20, seconds: 100, keptMb: 10 },
    });
    const expected = ['job/too-long', 'job/too-much-memory'];
    for (const [i, s] of [slow, small].entries()) {
      const { id } = (await s.upload(cube, 'cube.stl')).body;
      const job = (await s.submit({ part: id })).body;
      expect(await s.ended(job.id)).toMatchObject({
        state: 'failed',
        reason: { code: expected[i] },
      });
      expect((await s.call('/v1/health')).status).toBe(200);
      await s.close();
    }
  });

  test.each([
    ['an unknown part', { part: '0'.repeat(64) }, 404, 'part/unknown'],
    ['a part that is a path', { part: '../../etc/passwd' }, 400, 'request/bad-value'],
    ['an unknown machine', { machine: '../lock' }, 404, 'library/unknown'],
    ['a machine that is none', { machine: { name: 'x' } }, 422, 'machine/bad-value'],
    ['settings out of bounds', { settings: { layers: { thickness: -1 } } }, 422, 'job/bad-value'],
    ['settings that name a file', { settings: { part: '/etc/passwd' } }, 422, 'job/unknown-key'],
    ['a key that nobody knows', { priorty: 1 }, 400, 'request/unknown-key'],
    ['a priority out of bounds', { priority: 99 }, 400, 'request/bad-value'],
  ])('refuses %s', async (_name, body, status, code) => {
    const answer = await service.submit({ part, ...body });
    expect([answer.status, answer.body.error?.code]).toEqual([status, code]);
  });

  test('the same idempotency key brings the same job; another body with it is refused', async () => {
    const key = { 'idempotency-key': 'morning-1' };
    const first = await service.submit({ part, settings: quick }, key);
    const second = await service.submit({ part, settings: quick }, key);
    const other = await service.submit({ part, settings: quick, priority: 2 }, key);
    expect([first.status, second.status, other.status]).toEqual([201, 200, 409]);
    expect(second.body.id).toBe(first.body.id);
    await service.ended(first.body.id);
  });

  test('cancelling ends a running job at once; removing needs it ended', async () => {
    const { id } = (await service.submit({ part })).body;
    while ((await service.call<JobRecord>(`/v1/jobs/${id}`)).body.state === 'waiting');
    expect((await service.call(`/v1/jobs/${id}`, { method: 'DELETE' })).status).toBe(409);
    const cancelled = await service.call(`/v1/jobs/${id}/cancel`, { method: 'POST' });
    expect(cancelled.body).toMatchObject({ state: 'cancelled' });
    expect((await service.call(`/v1/jobs/${id}/cancel`, { method: 'POST' })).status).toBe(409);
    expect((await service.call(`/v1/jobs/${id}`, { method: 'DELETE' })).status).toBe(204);
    expect((await service.call(`/v1/jobs/${id}`)).status).toBe(404);
  });
});

test('events resume after the last id that a listener saw, none twice, none missed', async () => {
  const { id } = (await service.submit({ part, settings: quick })).body;
  await service.ended(id);
  const all = await listen(service, `/v1/jobs/${id}/events`, 'finished');
  expect(all.map((e) => e.kind)).toEqual(['waiting', 'running', 'finished']);
  const rest = await listen(service, `/v1/jobs/${id}/events`, 'finished', all[0]!.seq);
  expect(rest).toEqual(all.slice(1));
});

test('the description names every route, and every route that it names answers', async () => {
  const { body } = await service.call<{ openapi: string; paths: Record<string, object> }>(
    '/v1/openapi.json',
  );
  expect(body.openapi).toMatch(/^3\.1/);
  for (const [path, methods] of Object.entries(body.paths)) {
    if (!('get' in methods) || path.endsWith('/events')) continue;
    const at = path
      .replace('{id}', '1')
      .replace('{what}', 'job')
      .replace('{name}', path.startsWith('/v1/machines') ? 'head-table' : 'pla');
    const { status } = await service.call(at.replace('{*}', 'program.ngc'));
    expect([path, status < 500]).toEqual([path, true]);
  }
});

test('machines and materials can be put into the library, checked', async () => {
  const file = JSON.parse(readFileSync('samples/machines/head-table.json', 'utf8')) as object;
  const put = (body: object): Promise<{ status: number }> =>
    service.call('/v1/machines/Shed 2', {
      method: 'PUT',
      headers: { 'content-type': 'application/json' },
      body: JSON.stringify(body),
    });
  expect((await put({ ...file, clearance: -1 })).status).toBe(422);
  expect((await put(file)).status).toBe(204);
  expect((await service.call('/v1/machines/Shed 2')).body).toEqual(file);
});

test('a machine of the library is shown by a page that may run itself, reach nothing, and is no page of ours', async () => {
  const file = JSON.parse(readFileSync('samples/machines/head-table.json', 'utf8')) as object;
  const name = 'Shed 3';
  const named = { ...file, name: '</script><b>Shed</b>' };
  const headers = { 'content-type': 'application/json' };
  const put = { method: 'PUT', headers, body: JSON.stringify(named) };
  expect((await service.call(`/v1/machines/${name}`, put)).status).toBe(204);
  const answer = await fetch(`${service.url}/v1/machines/${name}/page`);
  expect(answer.status).toBe(200);
  expect(answer.headers.get('content-type')).toBe('text/html; charset=utf-8');
  expect(answer.headers.get('x-content-type-options')).toBe('nosniff');
  // Content Security Policy, level 3: no source is allowed but what stands in the page.
  const policy = answer.headers.get('content-security-policy')!.split('; ');
  expect(policy).toContain("default-src 'none'");
  expect(policy).toContain('sandbox allow-scripts allow-downloads');
  expect(policy.join().match(/'self'|https?:|\*/)).toBeNull();
  const html = await answer.text();
  expect(html).toContain(`<title>${name}</title>`);
  const data = /<script id="data" type="application\/json">([\s\S]*?)<\/script>/.exec(html)![1]!;
  expect(JSON.parse(data)).toEqual(named);
  const { paths } = (
    await service.call<{ paths: Record<string, { get?: { responses: object } }> }>(
      '/v1/openapi.json',
    )
  ).body;
  expect(paths['/v1/machines/{name}/page']?.get?.responses).toMatchObject({
    200: { content: { 'text/html': {} } },
    default: { content: { 'application/json': {} } },
  });
  const missing = await service.call('/v1/machines/nobody/page');
  expect([missing.status, missing.body.error?.code]).toEqual([404, 'library/unknown']);
  const wrong = await service.call(`/v1/machines/${encodeURIComponent('../shed')}/page`);
  expect([wrong.status, wrong.body.error?.code]).toEqual([400, 'request/bad-value']);
  // Materials have none.
  expect((await service.call('/v1/materials/pla/page')).status).toBe(404);
});

test.each(['machines', 'materials'])(
  '%s of 5,000 levels are refused by their depth',
  async (kind) => {
    const { status, body } = await service.call<{ error: { code: string; message: string } }>(
      `/v1/${kind}/Deep`,
      {
        method: 'PUT',
        headers: { 'content-type': 'application/json' },
        body: `${'{"a":'.repeat(5000)}1${'}'.repeat(5000)}`,
      },
    );
    expect(status).toBe(400);
    expect(body.error.code).toBe('request/too-deep');
    expect(body.error.message).toMatch(/5,000 levels deep, the limit is 64/);
  },
);

describe('who may', () => {
  let open: Awaited<ReturnType<typeof startTestService>>;
  let paths: [string, string][];
  beforeAll(async () => {
    open = await startTestService({ host: '0.0.0.0' });
    const { paths: named } = (
      await service.call<{ paths: Record<string, Record<string, unknown>> }>('/v1/openapi.json')
    ).body;
    paths = Object.entries(named).flatMap(([path, methods]) =>
      Object.keys(methods).map((m): [string, string] => [m.toUpperCase(), path]),
    );
  });
  afterAll(() => open.close());

  test('beyond loopback no route does anything without a token or with a wrong one', async () => {
    expect(paths.length).toBeGreaterThan(20);
    for (const [method, path] of paths) {
      const at = path.replace('{id}', '1').replace('{name}', 'pla').replace('{what}', 'job');
      const answer = await open.call(at.replace('{*}', 'job.json'), { method });
      expect([method, path, answer.status]).toEqual([method, path, 401]);
    }
    const wrong = { authorization: 'Bearer wrong' };
    expect((await open.call('/v1/jobs', { headers: wrong })).status).toBe(401);
    expect(open.context.data.library.names('material')).toContain('pla');
  });

  test('with the token it answers; guessing is slowed down', async () => {
    const right = { authorization: `Bearer ${open.token}` };
    expect((await open.call('/v1/jobs', { headers: right })).status).toBe(200);
    const session = await fetch(`${open.url}/v1/session`, { method: 'POST', headers: right });
    const cookie = session.headers.get('set-cookie')!;
    expect(cookie).toMatch(/HttpOnly/i);
    expect(cookie).toMatch(/SameSite=Strict/i);
    const headers = { cookie: cookie.split(';')[0]! };
    expect((await open.call('/v1/jobs', { headers })).status).toBe(200);
    const guesses = [];
    for (let i = 0; i < 20; i++)
      guesses.push(
        (await open.call('/v1/jobs', { headers: { authorization: `Bearer ${i}` } })).status,
      );
    expect(guesses.at(-1)).toBe(429);
  });

  test('on loopback, pages of other sites and borrowed names are refused', async () => {
    const foreign = { origin: 'https://seeds.example' };
    expect((await service.call('/v1/jobs', { headers: foreign })).status).toBe(403);
    const { body } = await service.call<JobRecord>('/v1/jobs/1/cancel', {
      method: 'POST',
      headers: foreign,
    });
    expect(body.error!.code).toBe('auth/origin');
  });

  test('without any token the service does not start beyond loopback', async () => {
    const { startService } = await import('../../worker/service/service.js');
    const bare = await startTestService();
    bare.context.data.tokens.remove('tester');
    await expect(
      startService(bare.context.data, { ...bare.context.settings, host: '0.0.0.0' }),
    ).rejects.toMatchObject({ code: 'serve/no-token' });
    await bare.close();
  });
});

describe.each([2, -2, 24, -24])('the clock of the machine is set by %d hours', (hours) => {
  let jumped: TestService;
  let set = 0;
  beforeAll(async () => {
    const real = Date.now.bind(Date);
    vi.spyOn(Date, 'now').mockImplementation(() => real() + set);
    jumped = await startTestService();
  });
  afterAll(async () => {
    vi.restoreAllMocks();
    await jumped.close();
  });

  test('while a job runs: it is done at its first try, its part stays', async () => {
    const { id } = (await jumped.upload(cube, 'cube.stl')).body;
    const settings = { ...quick, layers: { thickness: 0.15 }, check: true };
    const [first, second] = [
      (await jumped.submit({ part: id, settings })).body.id,
      (await jumped.submit({ part: id, settings: quick })).body.id,
    ];
    const { jobs, parts } = jumped.context.data;
    await until(() => jobs.show(first)!.state === 'running');
    set = hours * 3_600_000;
    // The runner looks at its leases meanwhile.
    for (const job of [first, second])
      expect(await jumped.ended(job)).toMatchObject({ state: 'finished', tries: 0, losses: 0 });
    await parts.sweep(Date.now());
    expect(parts.show(id)).toBeDefined();
    expect(jobs.attempt(first)).toBe(1);
  });
});

/** Events of a stream until one of a kind. */
async function listen(
  { url }: TestService,
  path: string,
  until: JobEvent['kind'],
  after?: number,
): Promise<JobEvent[]> {
  const abort = new AbortController();
  const headers = after === undefined ? {} : { 'last-event-id': String(after) };
  const response = await fetch(url + path, { signal: abort.signal, headers });
  const events: JobEvent[] = [];
  let text = '';
  for await (const chunk of response.body!.pipeThrough(new TextDecoderStream())) {
    text += chunk;
    const blocks = text.split('\n\n');
    text = blocks.pop()!;
    for (const block of blocks) {
      const [, seq, data] = /^id: (\d+)\ndata: (.*)$/.exec(block) ?? [];
      if (data) events.push({ seq: Number(seq), ...(JSON.parse(data) as Omit<JobEvent, 'seq'>) });
    }
    if (events.at(-1)?.kind === until) break;
  }
  abort.abort();
  return events;
}
