/** The table's body: how far a head beside it or under its face is, from the sizes of the file alone. */
import { describe, expect, it } from 'vitest';
import { gapAt } from '../../lib/clearance/convex/conservative-advancement.js';
import { TABLE_NAME } from '../../lib/clearance/machine-bodies.js';
import { settingOf } from '../../lib/clearance/scene.js';
import { type Json, acJson, machineOf } from '../machine/machines.js';

/** A head like a rod, 5 mm in radius and 60 mm long, over a table 6 mm thick. */
function gapTo(face: Json['table']['face'], tip: readonly number[]): number {
  const json = acJson();
  json.head.stack = [
    { above: 0, radius: 5 },
    { above: 60, radius: 5 },
  ];
  json.table = { ...json.table, face };
  const { machine, pairs, search, still } = settingOf(machineOf(json));
  const pair = pairs.find((p) => p.things.name === TABLE_NAME)!;
  return gapAt(machine, search, pair, Float64Array.from([...tip, 0, 0]), still, 500, 0)!.gap;
}

const plate: Json['table']['face'] = { shape: 'rectangle', size: [240, 160] };
const disc: Json['table']['face'] = { shape: 'disc', radius: 100 };

describe('a head whose tip is 3 mm under the face, beside the table', () => {
  it.each([
    ['a plate of 240 x 160 mm, along X', plate, [150, 0], 30],
    ['along X the other way', plate, [-150, 30], 30],
    ['along Y', plate, [0, 100], 20],
    ['along Y the other way', plate, [-90, -100], 20],
    ['at a corner, 3-4-5', plate, [123, 84], 5],
    ['at the corner across, 3-4-5', plate, [-123, -84], 5],
    ['a disc of 100 mm, along X', disc, [120, 0], 20],
    ['a disc, 3-4-5', disc, [-72, 96], 20],
  ] as const)('%s', (_, face, at, far) => {
    expect(gapTo(face, [...at, -3])).toBeCloseTo(far - 5, 9);
  });
});

it.each([
  ['plate', plate],
  ['disc', disc],
])('over a %s it is as far as its foot is high, and the lowest 1 mm is the tip', (_, face) => {
  expect(gapTo(face, [50, 60, 7])).toBeCloseTo(7 + 1, 9);
});

it.each([
  ['plate', plate],
  ['disc', disc],
])('under a %s, 6 mm thick, it is as far as its top is low', (_, face) => {
  // The rod's top lies at -78 + 60 mm.
  expect(gapTo(face, [50, 60, -78])).toBeCloseTo(12, 9);
});
