/**
 * 500 submissions as fast as one client can, twenty listeners, lists paging meanwhile: no error, every
 * listener hears of every job once and in order. How quick it is, `npm run bench` tells.
 */
import { afterAll, beforeAll, expect, test } from 'vitest';
import { writeStl } from '../../lib/formats/write-mesh.js';
import type { JobRecord } from '../../worker/store/job.js';
import { quick, startTestService } from '../support/service.js';
import { cuboid } from '../support/shapes.js';

const SUBMISSIONS = 500;
const LISTENERS = 20;

let service: Awaited<ReturnType<typeof startTestService>>;
beforeAll(async () => {
  service = await startTestService();
});
afterAll(() => service.close());

test(`${SUBMISSIONS} submissions, ${LISTENERS} listeners, lists paging meanwhile`, async () => {
  const part = (await service.upload(writeStl(cuboid([10, 10, 6])), 'cube.stl')).body.id;
  const listeners = await Promise.all(Array.from({ length: LISTENERS }, () => listen()));
  let submitting = true;
  const paging = pageWhile(() => submitting);
  const ids: number[] = [];
  for (let i = 0; i < SUBMISSIONS; i++) {
    const { status, body } = await service.submit({ part, settings: quick, name: `cap ${i}` });
    expect(status).toBe(201);
    ids.push(body.id);
  }
  submitting = false;
  expect(await paging).toBeGreaterThan(0);
  expect(new Set(ids).size).toBe(SUBMISSIONS);
  for (const listener of listeners) {
    const heard = await listener.waiting(SUBMISSIONS);
    expect(heard).toEqual(ids);
    listener.close();
  }
  for (const id of ids) service.context.data.jobs.cancel(id);
});

/** Walks through the list again and again; each walk sees each job once. Gives the number of walks. */
async function pageWhile(wanted: () => boolean): Promise<number> {
  let walks = 0;
  for (; wanted(); walks++) {
    const seen: number[] = [];
    for (let before: number | undefined; ;) {
      const query = `limit=100${before ? `&before=${before}` : ''}`;
      const { status, body } = await service.call<{ jobs: JobRecord[]; next?: number }>(
        `/v1/jobs?${query}`,
      );
      expect(status).toBe(200);
      seen.push(...body.jobs.map((j) => j.id));
      before = body.next;
      if (before === undefined) break;
    }
    expect(seen).toEqual([...new Set(seen)].sort((a, b) => b - a));
  }
  return walks;
}

interface Listener {
  /** Numbers of the first `count` jobs that were heard to wait, in the order heard. */
  waiting(count: number): Promise<number[]>;
  close(): void;
}

async function listen(): Promise<Listener> {
  const abort = new AbortController();
  const response = await fetch(`${service.url}/v1/events`, { signal: abort.signal });
  expect(response.status).toBe(200);
  const reader = response.body!.pipeThrough(new TextDecoderStream()).getReader();
  let text = '';
  return {
    async waiting(count) {
      for (;;) {
        const heard = [...text.matchAll(/"job":(\d+),"at":\d+,"kind":"waiting"/g)];
        if (heard.length >= count) return heard.map((m) => Number(m[1]));
        const { value, done } = await reader.read();
        if (done) throw new Error(`the stream ended after ${heard.length} of ${count}`);
        text += value;
      }
    },
    close: () => abort.abort(),
  };
}
