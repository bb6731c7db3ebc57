/** Filament that a job takes from the spool: the greatest sum of what is metered so far. */
import { expect, it } from 'vitest';
import { filamentTaken } from '../../lib/motion/motion.js';

const taken = (...mm: number[]): number => filamentTaken({ filament: Float64Array.from(mm) });

it('is the greatest sum on the way, not the one at the end', () => {
  expect(taken(1, 2, 3)).toBe(6);
  expect(taken(5, -1.5, 1.5, 2)).toBe(7);
  // Drawn back at the end, it has been taken all the same.
  expect(taken(5, 2, -1.5)).toBe(7);
  expect(taken(-1.5, 0.5)).toBe(0);
  expect(taken()).toBe(0);
});
