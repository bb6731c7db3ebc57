/** The corpus against its closed forms: by a plain sum over facets here, and by the overhang stage. */
import { describe, expect, test } from 'vitest';
import { DEG } from '../../lib/base/vector.js';
import { areaNormals, bounds, massOf } from '../../lib/mesh/measure.js';
import type { Mesh } from '../../lib/mesh/mesh.js';
import { hanging, leans, onTable, prepare } from '../../lib/overhang/overhang.js';
import { loadShapes } from '../support/shapes.js';
import { type Case, type Interval, corpus } from './corpus.js';

const limbs = await loadShapes();
const built = new Map(corpus.map((c): [string, Mesh] => [c.name, c.build(limbs)]));
const meshOf = (c: Case): Mesh => built.get(c.name)!;

const inside = (value: number, { least, most }: Interval, what: string): void => {
  expect(value, what).toBeGreaterThanOrEqual(least);
  expect(value, what).toBeLessThanOrEqual(most);
};

/** mm2 with n.z < -sin theta, facets on the table left out. */
function plainSum(mesh: Mesh, theta: number): number {
  const n = areaNormals(mesh);
  let sum = 0;
  for (let i = 0; i < n.length; i += 3) {
    const area = Math.hypot(n[i]!, n[i + 1]!, n[i + 2]!);
    const top = Math.max(...[0, 1, 2].map((k) => mesh.vertices[3 * mesh.triangles[i + k]! + 2]!));
    if (top > 1e-6 && n[i + 2]! < -Math.sin(theta) * area * (1 + 1e-9)) sum += area;
  }
  return sum;
}

describe.each(corpus.map((c) => [c.name, c] as const))('%s', (_, c) => {
  test('is closed, stands on the table, has its volume', () => {
    const mesh = meshOf(c);
    expect(mesh.twins).not.toContain(-1);
    expect(bounds(mesh).least[2]).toBeCloseTo(0, 12);
    if (c.volume) inside(massOf(mesh).volume, c.volume, 'volume');
  });

  test('hangs as the closed form says', () => {
    for (const theta of c.thetas ?? [30, 45, 60]) {
      inside(plainSum(meshOf(c), theta * DEG), c.hanging(theta), `${theta} deg`);
      const p = prepare(meshOf(c));
      const carried = onTable(meshOf(c), 0.005);
      const sine = Math.sin(theta * DEG);
      const area = p.areas.reduce(
        (sum, mm2, t) => (!carried[t] && leans(p, t, [0, 0, 1], sine) ? sum + mm2 : sum),
        0,
      );
      inside(area, c.hanging(theta), `${theta} deg, overhang stage`);
    }
  });

  test('starts in the air where it is known to', () => {
    if (c.islands === undefined) return;
    const { islands } = hanging(prepare(meshOf(c)), [0, 0, 1], 45 * DEG, onTable(meshOf(c), 0.005));
    expect(islands).toHaveLength(c.islands);
  });
});
