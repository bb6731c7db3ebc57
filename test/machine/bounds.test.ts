/** Numbers that no machine has: each once kept the check busy for hours. The limits are ours (lib/base/bounds.ts). */
import { expect, test } from 'vitest';
import { Fault } from '../../lib/base/fault.js';
import { readMachine } from '../../lib/machine/read.js';
import { acJson } from './machines.js';

type Json = ReturnType<typeof acJson>;

test.each<[string, (json: Json) => void, string, RegExp]>([
  [
    'an obstacle of 400 km',
    (json) =>
      Object.assign(json, {
        obstacles: [
          {
            name: 'wall',
            carriedBy: 'frame',
            solid: { shape: 'box', from: [0, 0, 0], to: [1, 4e8, 1] },
          },
        ],
      }),
    'machine/bad-value',
    /at most 100000, got 400000000/,
  ],
  [
    'a wall of 80 x 80 m',
    (json) =>
      Object.assign(json, {
        obstacles: [
          {
            name: 'wall',
            carriedBy: 'frame',
            solid: { shape: 'box', from: [0, 0, 0], to: [8e4, 8e4, 1] },
          },
        ],
      }),
    'machine/too-large',
    /surface of 12800 m2; the limit is 10 m2/,
  ],
  [
    'a table a kilometre thick',
    (json) => Object.assign(json.table, { thickness: 1e6 }),
    'machine/too-large',
    /the table has a surface of \d+ m2; the limit is 10 m2/,
  ],
])('%s is refused', (_, change, code, words) => {
  const json = acJson();
  change(json);
  expect(() => readMachine(json)).toThrow(
    expect.objectContaining({ code, message: expect.stringMatching(words) }) as Fault,
  );
});
