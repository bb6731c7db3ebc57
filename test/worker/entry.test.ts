/**
 * What a client meets that does something odd: refusals of the framework and of the protocol have the
 * service's shape, no answer holds a path of the server, sessions and listeners end with their token,
 * uploads are fair, and a token has its quota. The numbers of statuses are those of RFC 9110 and 6585.
 */
import { connect } from 'node:net';
import { request } from 'node:http';
import { rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { writeStl } from '../../lib/formats/write-mesh.js';
import { until } from '../support/server.js';
import { type TestService, quick, startTestService } from '../support/service.js';
import { cuboid, postWithArm } from '../support/shapes.js';

const cube = writeStl(cuboid([10, 10, 6]));
const arm = writeStl(postWithArm(12, 24, 12, 8));
const CODE = /^[a-z]+\/[a-z-]+$/;

let service: TestService;
let part: string;
beforeAll(async () => {
  service = await startTestService();
  part = (await service.upload(cube, 'cube.stl')).body.id;
});
afterAll(() => service.close());

describe('every refusal is an error with a code and a message', () => {
  const host = (): string => `Host: ${new URL(service.url).host}`;
  test.each<[string, () => string, number, string]>([
    ['a broken escape', () => `GET /v1/jobs/% HTTP/1.1\r\n${host()}`, 400, 'request/malformed'],
    [
      'a name of 300 characters',
      () => `GET /v1/machines/${'a'.repeat(300)} HTTP/1.1\r\n${host()}`,
      414,
      'request/too-long',
    ],
    [
      'a head of 20 kB',
      () => `GET /v1/jobs?state=${'a'.repeat(20_000)} HTTP/1.1\r\n${host()}`,
      431,
      'request/head',
    ],
    ['no HTTP', () => 'WATER the beans', 400, 'request/malformed'],
    ['no Host', () => 'GET /v1/jobs HTTP/1.1', 400, 'request/host'],
    [
      'two Hosts',
      () => `GET /v1/jobs HTTP/1.1\r\n${host()}\r\nHost: seeds.example`,
      400,
      'request/host',
    ],
    [
      'two equal Hosts',
      () => `GET /v1/jobs HTTP/1.1\r\n${host()}\r\n${host()}`,
      400,
      'request/host',
    ],
    [
      'an expectation',
      () => `POST /v1/jobs HTTP/1.1\r\n${host()}\r\nExpect: rain\r\nContent-Length: 0`,
      417,
      'request/expectation',
    ],
    [
      'no JSON',
      () =>
        `POST /v1/jobs HTTP/1.1\r\n${host()}\r\nContent-Type: application/json\r\nContent-Length: 2\r\n\r\n{{`,
      400,
      'request/malformed',
    ],
    [
      'more JSON than 16 MB',
      () =>
        `POST /v1/jobs HTTP/1.1\r\n${host()}\r\nContent-Type: application/json\r\nContent-Length: 99000000\r\n\r\n{`,
      413,
      'request/too-large',
    ],
    ['a strange address', () => `GET /etc/passwd HTTP/1.1\r\n${host()}`, 404, 'route/unknown'],
  ])('%s', async (_name, head, status, code) => {
    const answer = await raw(`${head()}\r\nConnection: close\r\n\r\n`);
    expect(answer).toMatchObject({ status, error: { code, message: expect.stringMatching(/\w/) } });
    expect(answer.error.code).toMatch(CODE);
  });
});

test('a job without a machine or a material is refused by name; nothing is chosen', async () => {
  for (const kind of ['machine', 'material'])
    for (const given of [undefined, '', null]) {
      const { status, body } = await service.submit({ part, [kind]: given });
      expect([status, body.error?.code]).toEqual([422, 'job/missing']);
      expect(body.error!.message).toContain(`no ${kind} given`);
    }
});

test('a finished job says its findings and how slice would have ended', async () => {
  // The arm of the post hangs in the air when the whole is printed along one direction.
  const settings = { ...quick, regions: { ...quick.regions, most: 1, pose: 'given' }, check: true };
  const { id } = (await service.upload(arm, 'arm.stl')).body;
  const bad = await service.ended((await service.submit({ part: id, settings })).body.id);
  const good = await service.ended((await service.submit({ part, settings: quick })).body.id);
  expect([good.exit, good.summary!.errors]).toEqual([0, 0]);
  expect(bad.summary!.errors).toBeGreaterThan(0);
  expect(bad.exit).toBe(3);
  const report = (
    await service.call<{ findings: { severity: string }[]; motion: { seconds: number } }>(
      `/v1/jobs/${bad.id}/files/report.json`,
    )
  ).body;
  const errors = report.findings.filter((f) => f.severity === 'error');
  expect(errors.length).toBe(bad.summary!.errors);
  expect(report.motion.seconds).toBe(bad.summary!.seconds);
});

test('what was asked for can be asked again: same part, names of the library, settings', async () => {
  const settings = { ...quick, layers: { thickness: 0.2 } };
  const machine = { ...(await service.call('/v1/machines/head-table')).body, name: 'Shed' };
  const first = (await service.submit({ part, settings, machine, priority: 3, name: 'cap' })).body;
  await service.ended(first.id);
  const asked = (await service.call(`/v1/jobs/${first.id}/order`)).body;
  expect(asked).toMatchObject({ part, name: 'cap', priority: 3, machine, material: 'pla' });
  const again = await service.submit(asked);
  expect(again.status).toBe(201);
  expect((await service.call(`/v1/jobs/${again.body.id}/order`)).body).toEqual(asked);
  service.context.data.jobs.cancel(again.body.id);
});

test('progress never runs back, and ends near the whole', async () => {
  const shares: number[] = [];
  const deaf = service.context.data.journal.onEvent(({ kind, data }) => {
    if (kind === 'progress') shares.push((data as { share: number }).share);
  });
  const settings = { ...quick, layers: { thickness: 0.22 }, check: true };
  await service.ended((await service.submit({ part, settings })).body.id);
  deaf();
  expect(shares.length).toBeGreaterThan(5);
  expect(shares).toEqual([...shares].sort((a, b) => a - b));
  expect(shares.at(-1)).toBeGreaterThan(0.9);
  expect(shares.at(-1)).toBeLessThanOrEqual(1);
});

describe('beyond loopback', () => {
  let open: Awaited<ReturnType<typeof startTestService>>;
  const as = (token: string): Record<string, string> => ({ authorization: `Bearer ${token}` });
  const bring = (token: string, bytes: Uint8Array, name: string) =>
    open.call<{ id: string }>(`/v1/parts?name=${name}`, {
      method: 'POST',
      headers: { ...as(token), 'content-type': 'application/octet-stream' },
      body: bytes as never,
    });
  beforeAll(async () => {
    open = await startTestService({
      host: '0.0.0.0',
      quota: { jobs: 2, bytes: 2 * cube.byteLength + 100 },
    });
  });
  afterAll(() => open.close());

  test('the cookie is a session of its own, and ends when it is ended or its token is removed', async () => {
    const begin = async (token: string): Promise<string> => {
      const answer = await fetch(`${open.url}/v1/session`, { method: 'POST', headers: as(token) });
      const cookie = answer.headers.get('set-cookie')!;
      expect(cookie).not.toContain(token);
      expect(cookie).not.toMatch(/Secure/i);
      return cookie.split(';')[0]!;
    };
    const may = async (cookie: string): Promise<number> =>
      (await open.call('/v1/jobs', { headers: { cookie } })).status;
    const [one, two] = [await begin(open.token), await begin(open.token)];
    expect(one).not.toBe(two);
    expect([await may(one), await may(two)]).toEqual([200, 200]);
    await open.call('/v1/session', { method: 'DELETE', headers: { cookie: one } });
    expect([await may(one), await may(two)]).toEqual([401, 200]);
    const { tokens } = open.context.data;
    const other = await begin(tokens.add('tablet', 0));
    expect(await may(other)).toBe(200);
    tokens.remove('tablet');
    expect([await may(other), await may(two)]).toEqual([401, 200]);
    // A session is no token.
    expect((await open.call('/v1/jobs', { headers: as(two.split('=')[1]!) })).status).toBe(401);
  });

  test('a removed token ends its listeners, and no event reaches them any more', async () => {
    const { tokens, jobs } = open.context.data;
    const token = tokens.add('phone', 0);
    const { body } = await bring(open.token, cube, 'cube.stl');
    const streams = await Promise.all(
      [token, open.token].map((t) => fetch(`${open.url}/v1/events`, { headers: as(t) })),
    );
    tokens.remove('phone');
    const order = { part: body.id, machine: 'table-table-ac', material: 'pla', settings: quick };
    const { id } = (
      await open.call<{ id: number }>('/v1/jobs', {
        method: 'POST',
        headers: { ...as(open.token), 'content-type': 'application/json' },
        body: JSON.stringify(order),
      })
    ).body;
    expect(await streams[0]!.text()).not.toContain('"job"');
    const reader = streams[1]!.body!.pipeThrough(new TextDecoderStream()).getReader();
    let heard = '';
    while (!heard.includes('"waiting"')) heard += (await reader.read()).value ?? '';
    await reader.cancel();
    jobs.cancel(id);
  });

  test('a token has its quota of jobs and of bytes; another token has its own', async () => {
    const { tokens, jobs } = open.context.data;
    const token = tokens.add('bench', 0);
    const { id } = (await bring(token, cube, 'cube.stl')).body;
    const submit = (t: string) =>
      open.call<{ id: number }>('/v1/jobs', {
        method: 'POST',
        headers: { ...as(t), 'content-type': 'application/json' },
        body: JSON.stringify({
          part: id,
          machine: 'table-table-ac',
          material: 'pla',
          settings: { layers: { thickness: 0.1 } },
          priority: -10,
        }),
      });
    const ids = [(await submit(token)).body.id, (await submit(token)).body.id];
    const third = await submit(token);
    expect([third.status, third.body.error?.code]).toEqual([429, 'quota/jobs']);
    expect((await submit(open.token)).status).toBe(201);
    ids.forEach((i) => jobs.cancel(i));
    expect((await submit(token)).status).toBe(201);

    expect((await bring(token, writeStl(cuboid([9, 9, 9])), 'b.stl')).status).toBe(201);
    const over = await bring(token, writeStl(cuboid([8, 8, 8])), 'c.stl');
    expect([over.status, over.body.error?.code]).toEqual([507, 'quota/bytes']);
    // The same bytes count once.
    tokens.remove('bench');
  });

  test('behind a proxy that speaks TLS: Secure cookies, its word on addresses, tokens on loopback, too', async () => {
    const behind = await startTestService({ proxy: '127.0.0.1', rate: 3 });
    expect((await behind.call('/v1/jobs')).status).toBe(401);
    const answer = await fetch(`${behind.url}/v1/session`, {
      method: 'POST',
      headers: { ...as(behind.token), 'x-forwarded-for': '192.0.2.1' },
    });
    expect(answer.headers.get('set-cookie')).toMatch(/; Secure/i);
    const from = async (address: string): Promise<number> =>
      (
        await behind.call('/v1/jobs', {
          headers: { ...as(behind.token), 'x-forwarded-for': address },
        })
      ).status;
    const statuses = [];
    for (let i = 0; i < 4; i++) statuses.push(await from('192.0.2.7'));
    expect(statuses).toEqual([200, 200, 200, 429]);
    expect(await from('192.0.2.8')).toBe(200);
    await behind.close();
  });
});

describe('uploads', () => {
  test('eight trickling clients do not block the ninth', async () => {
    const tricklers = Array.from({ length: 8 }, () => trickle(service.url));
    await Promise.all(tricklers.map((t) => t.begun));
    expect((await service.upload(cube, 'cube.stl')).status).toBe(201);
    tricklers.forEach((t) => t.stop());
  });

  test('where all places are taken by tricklers, the slowest gives way', async () => {
    const small = await startTestService({
      uploads: { most: 8, mostEach: 4, leastRate: 10_000, windowSeconds: 600 },
    });
    const tricklers = Array.from({ length: 4 }, () => trickle(small.url));
    await Promise.all(tricklers.map((t) => t.begun));
    const early = await small.upload(cube, 'cube.stl');
    expect([429, 201]).toContain(early.status);
    await until(async () => (await small.upload(cube, 'cube.stl')).status === 201);
    expect(await Promise.race(tricklers.map((t) => t.answer))).toEqual([408, 'upload/too-slow']);
    tricklers.forEach((t) => t.stop());
    await small.close();
  });

  test('an upload below the least rate is ended, and hears why', async () => {
    const small = await startTestService({
      uploads: { most: 8, mostEach: 4, leastRate: 1000, windowSeconds: 0.5 },
    });
    const slow = trickle(small.url);
    expect(await slow.answer).toEqual([408, 'upload/too-slow']);
    slow.stop();
    await small.close();
  });
});

test('no answer holds a path of the server', async () => {
  const { id } = (await service.submit({ part, settings: { ...quick, check: true } })).body;
  await service.ended(id);
  const { paths } = (
    await service.call<{ paths: Record<string, Record<string, unknown>> }>('/v1/openapi.json')
  ).body;
  const { files } = (await service.call<{ files: { name: string }[] }>(`/v1/jobs/${id}/files`))
    .body;
  const addresses = Object.keys(paths)
    .filter((p) => 'get' in paths[p]! && !p.endsWith('/events') && !p.includes('*'))
    .map((p) =>
      p
        .replace('{id}', p.includes('parts') ? part : String(id))
        .replace('{what}', 'job')
        .replace('{name}', p.startsWith('/v1/machines') ? 'head-table' : 'pla'),
    )
    .concat(files.map((f) => `/v1/jobs/${id}/files/${f.name}`));
  const own = [service.folder, process.cwd(), tmpdir() + '/'];
  const check = async (address: string): Promise<void> => {
    const text = await (await fetch(service.url + address)).text();
    expect([address, own.filter((p) => text.includes(p))]).toEqual([address, []]);
  };
  for (const address of addresses) await check(address);
  // And when the files of a result are gone under it.
  const { data: kept } = service.context;
  rmSync(kept.folder.result(id, kept.jobs.attempt(id)), { recursive: true });
  await check(`/v1/jobs/${id}/files/report.json`);
});

interface Bare {
  readonly status: number;
  readonly error: { code: string; message: string };
}

/** The answer to bytes written by hand, as no client library would. */
function raw(bytes: string): Promise<Bare> {
  const { port } = new URL(service.url);
  return new Promise((resolve, reject) => {
    const socket = connect(Number(port), '127.0.0.1', () => socket.write(bytes));
    let text = '';
    socket.on('data', (chunk) => {
      text += chunk.toString('latin1');
      const [head, body] = text.split('\r\n\r\n');
      const length = Number(/content-length: (\d+)/i.exec(head!)?.[1] ?? NaN);
      if (body?.length === length) socket.destroy();
    });
    socket.on('error', reject);
    socket.on('close', () => {
      const status = Number(/^HTTP\/1\.1 (\d+)/.exec(text)?.[1]);
      const body = text.split('\r\n\r\n')[1] ?? '';
      try {
        resolve({ status, error: (JSON.parse(body) as Bare).error });
      } catch {
        reject(new Error(`no JSON: ${text.slice(0, 300)}`));
      }
    });
  });
}

/** An upload that brings a byte now and then. */
function trickle(url: string): {
  begun: Promise<unknown>;
  answer: Promise<[number, string]>;
  stop(): void;
} {
  const asks = request(`${url}/v1/parts`, {
    method: 'POST',
    headers: { 'content-type': 'application/octet-stream' },
  });
  const answer = new Promise<[number, string]>((resolve) => {
    asks.on('response', (response) => {
      let text = '';
      response.on('data', (chunk: Buffer) => (text += chunk.toString()));
      response.on('end', () => {
        const { error } = JSON.parse(text) as Bare;
        resolve([response.statusCode!, error.code]);
      });
    });
  });
  asks.on('error', () => {});
  const begun = new Promise((resolve) => asks.write('s', resolve));
  const more = setInterval(() => asks.write('o'), 200);
  return {
    begun,
    answer,
    stop() {
      clearInterval(more);
      asks.destroy();
    },
  };
}
