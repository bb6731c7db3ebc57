/**
 * Hostile input through the service: each piece ends in a refusal with a code or a normal result, and
 * the service stays up. The limits are the service's own; there is no outside source for them.
 */
import { existsSync, readdirSync } from 'node:fs';
import { request } from 'node:http';
import { type AddressInfo, connect } from 'node:net';
import { join } from 'node:path';
import { zipSync } from 'fflate';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { seeded } from '../../lib/base/random.js';
import { writeStl, writeThreeMf } from '../../lib/formats/write-mesh.js';
import { asciiStl, boxFacets, boxModel, bytesOf, objText, threeMf } from '../formats/files.js';
import { changed } from '../support/changed.js';
import { countOf } from '../support/proof.js';
import { quick, startTestService } from '../support/service.js';
import { cuboid, torus } from '../support/shapes.js';

const CODE = /^[a-z0-9]+\/[a-z0-9-]+$/;
const UPLOAD_MB = countOf(20, 200);
const cube = writeStl(cuboid([10, 10, 6]));

let service: Awaited<ReturnType<typeof startTestService>>;
beforeAll(async () => {
  service = await startTestService({ uploadMb: UPLOAD_MB, inspectMb: 400 });
});
afterAll(() => service.close());

async function expectUp(): Promise<void> {
  expect((await service.call('/v1/health')).status).toBe(200);
  expect((await service.upload(cube, 'cube.stl')).status).toBe(201);
  expect(readdirSync(join(service.folder, 'incoming'))).toEqual([]);
}

test.each([
  '../../../../tmp/x.stl',
  '..',
  'a/b.stl',
  'a\\b.stl',
  'a\0b.stl',
  '\n',
  'x'.repeat(300),
  '',
])('a part named %j is refused', async (name) => {
  const { status, body } = await service.upload(cube, name);
  expect([status, body.error?.code]).toEqual([400, 'request/bad-value']);
});

test('no path leads out of a result, however it is written', async () => {
  const part = (await service.upload(cube, 'cube.stl')).body.id;
  const { id } = (await service.submit({ part, settings: quick })).body;
  await service.ended(id);
  const paths = [
    '../../../tiltwright.db',
    '..%2f..%2f..%2ftiltwright.db',
    '%2e%2e/%2e%2e/tiltwright.db',
    'program.ngc%00.svg',
    'regions/../../../lock.db',
    '/etc/passwd',
    '%5c..%5c..%5cetc',
    '%',
  ];
  for (const path of paths) {
    const status = await raw(`GET /v1/jobs/${id}/files/${path} HTTP/1.1`);
    expect([path, [400, 404].includes(status)]).toEqual([path, true]);
  }
  expect(await raw(`GET /v1/jobs/${id}/files/program.ngc HTTP/1.1`)).toBe(200);
  await expectUp();
});

test('a part or a job holds nothing that is run', async () => {
  const mark = join(service.folder, 'ran');
  const name = `$(touch ${mark.replaceAll('/', '_')}) ; touch ran.stl`;
  const part = (await service.upload(cube, name)).body.id;
  const note = `"); require("fs").writeFileSync(${JSON.stringify(mark)}, ""); ("`;
  const { id } = (await service.submit({ part, name: note, settings: { ...quick, note } })).body;
  expect(await service.ended(id)).toMatchObject({ state: 'finished', name: note });
  expect(existsSync(mark)).toBe(false);
});

test('keys that reach for the prototype are refused or mean nothing', async () => {
  const part = (await service.upload(cube, 'cube.stl')).body.id;
  for (const text of [
    `{"part":"${part}","machine":"table-table-ac","material":"pla","settings":{"__proto__":{"check":1}}}`,
    `{"part":"${part}","machine":"__proto__","material":"constructor"}`,
    `[]`,
    `{"part":`,
    `null`,
    '['.repeat(100_000),
  ]) {
    const { status, body } = await service.call('/v1/jobs', {
      method: 'POST',
      headers: { 'content-type': 'application/json' },
      body: text,
    });
    expect([text.slice(0, 40), status >= 400 && status < 500]).toEqual([text.slice(0, 40), true]);
    expect(body.error!.code).toMatch(CODE);
  }
});

test('archives that unpack to far more than they hold', async () => {
  const blanks = new Uint8Array(countOf(120, 600) * 1_000_000).fill(0x20);
  const level = { level: 1 } as const;
  const bombs = {
    'a model of blanks': zipSync({ '3D/3dmodel.model': [blanks, level] }),
    'a thousand entries': zipSync(
      Object.fromEntries(
        Array.from({ length: 1000 }, (_, i) => [`3D/${i}.model`, [blanks.subarray(0, 5e5), level]]),
      ),
    ),
    'an archive in an archive': zipSync({
      '3D/3dmodel.model': zipSync({ a: [blanks.subarray(0, 1e7), level] }),
    }),
  };
  for (const [name, bytes] of Object.entries(bombs)) {
    const { status, body } = await service.upload(bytes, 'bomb.3mf');
    expect([name, status]).toEqual([name, 422]);
    expect(body.error!.code).toMatch(CODE);
  }
  await expectUp();
});

test('a mesh that needs too much memory ends its process alone', async () => {
  const small = await startTestService({ inspectMb: 20 });
  const { status, body } = await small.upload(cube, 'cube.stl');
  expect([status, body.error?.code]).toEqual([422, 'part/too-much-memory']);
  expect((await small.call('/v1/health')).status).toBe(200);
  await small.close();
});

test('2 GB declared, and more than the limit sent without saying', async () => {
  const declared = await send({ 'content-length': '2000000000' }, 1);
  expect(declared).toEqual({ status: 413, code: 'upload/too-large', sentMb: expect.any(Number) });
  expect(declared.sentMb).toBeLessThan(20);
  const chunked = await send({ 'transfer-encoding': 'chunked' }, 2 * UPLOAD_MB);
  expect([chunked.status, chunked.code]).toEqual([413, 'upload/too-large']);
  await expectUp();
});

const SEED = 7;
const CHANGED = countOf(300, 10_000);
test(
  `${CHANGED} changed meshes, seed ${SEED}`,
  { timeout: countOf(120, 3600) * 1000 },
  async () => {
    const random = seeded(SEED);
    const two = [...boxFacets([0, 0, 0], [10, 10, 10]), ...boxFacets([5, 5, 5], [10, 10, 10])];
    const makers = [
      () => changed(writeStl(torus(20, 5, 12, 8)), random),
      () => changed(asciiStl(two), random),
      () => changed(bytesOf(objText(two)), random),
      () => changed(writeThreeMf([{ name: 'ring', mesh: torus(20, 5, 12, 8) }]), random),
      () => threeMf(changed(bytesOf(boxModel()), random)),
    ];
    const ends = { taken: 0, refused: 0 };
    for (let i = 0; i < CHANGED; i++) {
      const { status, body } = await service.upload(makers[i % makers.length]!(), 'changed');
      if (status === 201) ends.taken++;
      else {
        expect([i, status, body.error!.code]).toEqual([
          i,
          expect.toSatisfy((s: number) => s === 422),
          expect.stringMatching(CODE),
        ]);
        // A defect or a crash would be coded, too, but is no way to refuse a mesh.
        expect([i, body.error!.code]).not.toEqual([i, 'part/defect']);
        expect([i, body.error!.code]).not.toEqual([i, 'part/crashed']);
        ends.refused++;
      }
    }
    expect(ends.taken).toBeGreaterThan(0);
    expect(ends.refused).toBeGreaterThan(0);
    await expectUp();
  },
);

/** Status of a request written by hand, as no client library would. */
function raw(line: string): Promise<number> {
  const { port } = new URL(service.url);
  return new Promise((resolve, reject) => {
    const socket = connect(Number(port), '127.0.0.1', () =>
      socket.write(`${line}\r\nHost: 127.0.0.1:${port}\r\nConnection: close\r\n\r\n`),
    );
    let text = '';
    socket.on('data', (chunk) => (text += chunk.toString('latin1')));
    socket.on('close', () => resolve(Number(/^HTTP\/1\.1 (\d+)/.exec(text)?.[1])));
    socket.on('error', reject);
  });
}

/** Sends megabytes until the service answers. */
function send(
  headers: Record<string, string>,
  megabytes: number,
): Promise<{ status: number; code: string; sentMb: number }> {
  const { port } = new URL(service.url) as unknown as AddressInfo;
  const chunk = new Uint8Array(1_000_000);
  return new Promise((resolve, reject) => {
    let sentMb = 0;
    let answered = false;
    const asks = request({
      port,
      path: '/v1/parts',
      method: 'POST',
      headers: { ...headers, 'content-type': 'application/octet-stream' },
    });
    asks.on('response', (answer) => {
      answered = true;
      let text = '';
      answer.on('data', (data: Buffer) => (text += data.toString()));
      answer.on('end', () => {
        const { error } = JSON.parse(text) as { error: { code: string } };
        resolve({ status: answer.statusCode!, code: error.code, sentMb });
        asks.destroy();
      });
    });
    asks.on('error', (error) => (answered ? undefined : reject(error)));
    const more = (): void => {
      while (!answered && sentMb < megabytes) {
        sentMb++;
        if (!asks.write(chunk)) return void asks.once('drain', more);
      }
    };
    more();
  });
}
