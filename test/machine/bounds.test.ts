/** Numbers that no machine has: each once kept the check busy for hours. The limits are ours (lib/base/bounds.ts). */
import { expect, test } from 'vitest';
import type { Fault } from '../../lib/base/fault.js';
import { readMachine } from '../../lib/machine/read-files.js';
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
    'machine/not-meant',
    /obstacles\.0\.solid\.to\.1 is 400000000 mm, the limits are -10000 to 10000 mm/,
  ],
  [
    'a wall of 8 x 8 m',
    (json) =>
      Object.assign(json, {
        unusual: ['obstacles.0.solid.to.0', 'obstacles.0.solid.to.1'],
        obstacles: [
          {
            name: 'wall',
            carriedBy: 'frame',
            solid: { shape: 'box', from: [0, 0, 0], to: [8e3, 8e3, 1] },
          },
        ],
      }),
    'machine/too-large',
    /surface of 128 m2; the limit is 10 m2/,
  ],
  [
    'a head of 2 m across',
    (json) => Object.assign(json.head.stack!.at(-1)!, { radius: 1000 }),
    'machine/too-large',
    /radius of 1000 mm, the limit is 300 mm/,
  ],
  [
    'a head with a box that ends 400 mm to one side and 300 mm to the other (3-4-5 triangle)',
    (json) =>
      Object.assign(json.head, {
        boxes: [{ shape: 'box', from: [0, -300, 40], to: [400, 0, 60] }],
      }),
    'machine/too-large',
    /box 1 of the head reaches 500 mm from the head's axis, the limit is 300 mm/,
  ],
  [
    'a head with a mesh that ends 400 mm to one side and 300 mm to the other',
    (json) =>
      Object.assign(json.head, {
        meshes: [
          {
            shape: 'mesh',
            vertices: [
              [0, 0, 40],
              [400, 0, 40],
              [0, 300, 40],
              [400, 300, 60],
            ],
            triangles: [
              [0, 2, 1],
              [0, 1, 3],
              [1, 2, 3],
              [2, 0, 3],
            ],
          },
        ],
      }),
    'machine/too-large',
    /mesh 1 of the head reaches 500 mm from the head's axis, the limit is 300 mm/,
  ],
  [
    'a table of 2.6 m across (2 pi 1.3^2 m2 both faces)',
    (json) => Object.assign(json.table, { thickness: 1000, face: { shape: 'disc', radius: 1300 } }),
    'machine/too-large',
    /the table has a surface of 10.6 m2; the limit is 10 m2/,
  ],
])('%s is refused', (_, change, code, words) => {
  const json = structuredClone(acJson());
  change(json);
  expect(() => readMachine(json)).toThrow(
    expect.objectContaining({ code, message: expect.stringMatching(words) }) as Fault,
  );
});
