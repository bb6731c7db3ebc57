/** Linear equations: what is found, put back into them, gives their right side. */
import { expect, it } from 'vitest';
import { seeded } from '../../lib/base/random.js';
import type { Vec3 } from '../../lib/base/vector.js';
import { solve3 } from '../../lib/verify/solve.js';

it('three equations in three unknowns, 200 of them, seed 6', () => {
  const random = seeded(6);
  for (let n = 0; n < 200; n++) {
    const m = Array.from({ length: 9 }, () => random() - 0.5);
    for (const i of [0, 4, 8]) m[i]! += 2;
    const right: Vec3 = [random(), random(), random()];
    const x = solve3(m, right);
    right.forEach((v, r) => {
      const row = m.slice(3 * r, 3 * r + 3);
      expect(row.reduce((sum, a, c) => sum + a * x[c]!, 0)).toBeCloseTo(v, 12);
    });
  }
});
