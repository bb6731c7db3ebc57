/** Times of the plan on the blocks of the text. */
import { expect, test } from 'vitest';
import { plannedTimes } from '../../lib/report/times.js';

test('blocks before the plan take none of its time, and no planned time is lost', () => {
  // Line 3 is of the machine file's own start; the plan ends blocks on lines 7, 8 and 10.
  const line = Uint32Array.of(3, 7, 8, 10);
  const lasts = Float64Array.of(0.5, 0.25, 2);
  expect([...plannedTimes({ line }, { lasts }, Uint32Array.of(7, 8, 10))]).toEqual([
    0, 0.5, 0.75, 2.75,
  ]);
});

test('blocks that the text spells on one line end together', () => {
  const lasts = Float64Array.of(1, 2, 4);
  const line = Uint32Array.of(5, 6);
  expect([...plannedTimes({ line }, { lasts }, Uint32Array.of(5, 5, 6))]).toEqual([3, 7]);
});
