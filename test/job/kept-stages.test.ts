/** A job that finds its stages kept gives the same result, and only the stages whose inputs changed are made again. */
import { deserialize, serialize } from 'node:v8';
import { describe, expect, test } from 'vitest';
import { parse } from '../../lib/base/schema.js';
import { jobFile } from '../../lib/job/job-file.js';
import type { StageStore } from '../../lib/job/kept-stages.js';
import { loadSolidKernel } from '../../lib/kernel/solid.js';
import type { SliceInput } from '../../lib/job/lay-out.js';
import { type SliceResult, slice } from '../../lib/job/pipeline.js';
import { serialRunner } from '../../lib/job/tasks.js';
import { jobOf } from '../support/jobs.js';
import { cuboid } from '../support/shapes.js';

const settings = { regions: { directions: 40, effort: 12, lean: 0 } };
const input = jobOf(cuboid([10, 10, 6]), 'table-table-ac', settings);

/** Keeps records as bytes, as a file would, and notes which stages were found and which made. */
function memory(): StageStore & { readonly found: string[]; readonly made: string[] } {
  const records = new Map<string, Buffer>();
  const found: string[] = [];
  const made: string[] = [];
  const key = (stage: string, inputs: unknown): string => stage + JSON.stringify(inputs);
  return {
    found,
    made,
    get(stage, inputs) {
      const bytes = records.get(key(stage, inputs));
      if (bytes) found.push(stage);
      return Promise.resolve(bytes && (deserialize(bytes) as unknown));
    },
    put(stage, inputs, record) {
      made.push(stage);
      records.set(key(stage, inputs), serialize(record));
      return Promise.resolve();
    },
  };
}

async function run(given: SliceInput, keep?: StageStore): Promise<SliceResult> {
  return slice(given, {
    solid: await loadSolidKernel(),
    run: await serialRunner(),
    clock: () => 0,
    version: 'test',
    ...(keep ? { keep } : {}),
  });
}

const filled = (density: number): SliceInput => ({
  ...input,
  job: parse(jobFile, { ...settings, paths: { fill: { density } } }, 'job'),
});

describe('kept stages', () => {
  test('the same job again finds all of them and gives the same program and report', async () => {
    const keep = memory();
    const plain = await run(input);
    await run(input, keep);
    const again = await run(input, keep);
    expect(keep.made).toEqual(['regions', 'layers', 'support', 'paths']);
    expect(keep.found).toEqual(['regions', 'layers', 'support', 'paths']);
    expect(again.program).toEqual(plain.program);
    expect(again.report).toEqual(plain.report);
  });

  test('another fill density makes the paths alone again, and gives what a fresh run gives', async () => {
    const keep = memory();
    await run(filled(0.2), keep);
    keep.made.length = 0;
    const changed = await run(filled(0.35), keep);
    expect(keep.made).toEqual(['paths']);
    expect(changed.program).toEqual((await run(filled(0.35))).program);
  });

  test('another machine, place or region rule starts over', async () => {
    const keep = memory();
    await run(input, keep);
    keep.found.length = 0;
    await run({ ...input, machine: { ...input.machine, clearance: 1.5 } }, keep);
    await run({ ...input, job: { ...input.job, place: { ...input.job.place, turn: 5 } } }, keep);
    expect(keep.found).toEqual([]);
  });
});
