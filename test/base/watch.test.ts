/** Progress as it reaches people. */
import { expect, test } from 'vitest';
import { type Progress, forwardOnly } from '../../lib/base/watch.js';

const seen = (events: readonly (readonly [string, number, number])[]): string[] => {
  const out: Progress[] = [];
  const progress = forwardOnly((event) => out.push(event));
  for (const [stage, done, total] of events) progress({ stage, done, total });
  return out.map(({ stage, done, total }) => `${stage} ${done}/${total}`);
};

test('a stage that is left does not come back', () => {
  const events = [
    ['motion', 0, 2],
    ['clearance', 0, 4],
    ['clearance', 4, 4],
    ['motion', 2, 2],
    ['program', 0, 1],
  ] as const;
  expect(seen(events)).toEqual(['motion 0/2', 'clearance 0/4', 'clearance 4/4', 'program 0/1']);
});

test('within a stage the share does not fall, whatever the total becomes', () => {
  const events = [
    ['paths', 1, 4],
    ['paths', 1, 8],
    ['paths', 3, 8],
    ['paths', 2, 4],
    ['paths', 0, 0],
    ['paths', 4, 4],
  ] as const;
  expect(seen(events)).toEqual(['paths 1/4', 'paths 3/8', 'paths 2/4', 'paths 4/4']);
});
