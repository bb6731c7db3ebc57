/**
 * Times and progress of a job's stages. The clocks are the test's own: they stand still but where the test
 * moves them on, so that every figure is known.
 */
import { beforeAll, expect, test } from 'vitest';
import type { Progress } from '../../lib/base/watch.js';
import { fileResult } from '../../lib/job/file-result.js';
import { type SliceResult, slice } from '../../lib/job/pipeline.js';
import { Stages } from '../../lib/job/stages.js';
import { serialRunner } from '../../lib/job/tasks.js';
import { loadSolidKernel } from '../../lib/kernel/solid.js';
import type { Report } from '../../lib/report/report.js';
import { jobOf } from '../support/jobs.js';
import { postWithArm } from '../support/shapes.js';

test('a stage has its own time on both clocks, the job the time of all and of what lies between', async () => {
  let [time, cpu] = [100, 7];
  const pass = (seconds: number, threads: number): void => {
    time += seconds;
    cpu += seconds * threads;
  };
  const stages = new Stages({ clock: () => time, cpuClock: () => cpu });
  stages.now('one', () => pass(2, 1));
  pass(1, 1);
  const during = await stages.later('two', () => {
    pass(4, 2);
    return Promise.resolve(stages.timing());
  });
  const one = { name: 'one', seconds: 2, cpuSeconds: 2 };
  const two = { name: 'two', seconds: 4, cpuSeconds: 8 };
  expect(during).toEqual({ took: { seconds: 7, cpuSeconds: 11 }, stages: [one, two] });
  expect(stages.timing()).toEqual(during);
});

// Spans may be bridged, so the regions are planned twice, and layers are made in between.
const input = jobOf(postWithArm(8, 16, 12, 6), 'table-table-ac', {
  check: false,
  layers: { bridge: 5, thickness: 0.3, first: 0.3 },
  regions: { directions: 40, effort: 12, lean: 0 },
});
let result: SliceResult;
let time = 0;
const events: Progress[] = [];

beforeAll(async () => {
  result = await slice(input, {
    solid: await loadSolidKernel(),
    run: await serialRunner(),
    version: 'test',
    clock: () => time,
    watch: { progress: (event) => events.push(event) },
  });
}, 60_000);

test('making and writing the files are stages, and the report that is written tells them', async () => {
  const begin = time;
  let text = '';
  const filed = await fileResult(result, input, '', (files) => {
    for (const [name, content] of files) {
      time += 3;
      if (name === 'report.json') text = [...(content as Iterable<string>)].join('');
    }
    return Promise.resolve(files.size);
  });
  const written = JSON.parse(text) as Report;
  expect(filed.names.at(-1)).toBe('report.json');
  expect(written.stages.slice(-2).map((s) => s.name)).toEqual(['files', 'write']);
  expect(written.stages.at(-1)!.seconds).toBe(3 * filed.written);
  expect(written.took.seconds).toBe(time - begin);
  expect(JSON.parse(JSON.stringify(filed.report))).toEqual(written);
});

test('every piece of progress has a name, and while the regions are planned it is theirs and does not fall', () => {
  expect(events.filter(({ stage }) => stage === '')).toEqual([]);
  const isRegions = ({ stage }: Progress): boolean => stage === 'regions';
  const from = events.findIndex(isRegions);
  const regions = events.slice(from, events.findLastIndex(isRegions) + 1);
  expect(regions.length).toBeGreaterThan(4);
  expect([...new Set(regions.map(({ stage }) => stage))]).toEqual(['regions']);
  const shares = regions.map(({ done, total }) => done / total);
  expect(shares).toEqual([...shares].sort((a, b) => a - b));
});
