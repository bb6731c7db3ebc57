/** Obstacles given as closed meshes: a box as a mesh is the same obstacle as the box. */
import { expect, it } from 'vitest';
import { seeded } from '../../lib/base/random.js';
import { gapAt } from '../../lib/clearance/convex/conservative-advancement.js';
import { settingOf } from '../../lib/clearance/scene.js';
import { type Json, acJson, machineOf } from '../machine/machines.js';

const [FROM, TO] = [
  [20, -15, 5],
  [45, 15, 60],
] as const;

const corners = [0, 1, 2, 3, 4, 5, 6, 7].map(
  (n) => [0, 1, 2].map((c) => (n & (1 << c) ? TO[c]! : FROM[c]!)) as [number, number, number],
);
/** Counter-clockwise seen from outside. */
const faces: [number, number, number][] = [
  [0, 2, 3],
  [0, 3, 1],
  [4, 5, 7],
  [4, 7, 6],
  [0, 1, 5],
  [0, 5, 4],
  [2, 6, 7],
  [2, 7, 3],
  [0, 4, 6],
  [0, 6, 2],
  [1, 3, 7],
  [1, 7, 5],
];

const withSolid = (solid: unknown): Json =>
  ({ ...acJson(), obstacles: [{ name: 'block', carriedBy: 'frame', solid }] }) as Json;
const mesh = (triangles: unknown) => withSolid({ shape: 'mesh', vertices: corners, triangles });

it('has the gaps of the box outside, and is entered where the box is, 200 poses, seed 12', () => {
  const asBox = settingOf(machineOf(withSolid({ shape: 'box', from: FROM, to: TO })));
  const asMesh = settingOf(machineOf(mesh(faces)));
  const random = seeded(12);
  let inside = 0;
  for (let n = 0; n < 200; n++) {
    const joints = Float64Array.from([
      100 * random() - 20,
      60 * (random() - 0.5),
      90 * random(),
      0,
      0,
    ]);
    const [a, b] = [asBox, asMesh].map(
      ({ machine, pairs, search, still }) =>
        gapAt(
          machine,
          search,
          pairs.find((p) => p.things.name === '"block"')!,
          joints,
          still,
          500,
          0,
        )!.gap,
    ) as [number, number];
    if (a > 1e-9) expect(b).toBeCloseTo(a, 9);
    else {
      expect(b).toBeLessThanOrEqual(1e-9);
      inside++;
    }
  }
  expect(inside).toBeGreaterThan(20);
});

it('is refused where it is open, turned inside out, or names a vertex that is not there', () => {
  expect(() => machineOf(mesh(faces.slice(1)))).toThrow(/"block" has 3 open edges/);
  expect(() => machineOf(mesh(faces.map(([a, b, c]) => [a, c, b])))).toThrow(/face inwards/);
  expect(() => machineOf(mesh([...faces.slice(1), [0, 2, 8]]))).toThrow(
    /vertex 8, its last one is 7/,
  );
});
