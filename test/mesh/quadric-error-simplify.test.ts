/** Meshes made small for the search: about about as small as asked, closed, of the same topology (Euler) and volume. */
import { describe, expect, it } from 'vitest';
import { massOf } from '../../lib/mesh/measure.js';
import { coarse } from '../../lib/mesh/quadric-error-simplify.js';
import { bunny3k, scaledToHeight, subdivide } from '../support/open-meshes.js';

describe.each([1, 2, 3])('a bunny of 3.7 k triangles, each divided in four %s times', (times) => {
  let mesh = scaledToHeight(bunny3k(), 100);
  for (let i = 0; i < times; i++) mesh = subdivide(mesh);
  const small = coarse(mesh, 4000);

  it('comes down to about the 4000 triangles that were asked for, the skin closed', () => {
    expect(small.triangles.length / 3).toBeLessThan(1.02 * 4000);
    expect(small.twins.includes(-1)).toBe(false);
    expect(small.vertices.length / 3 - small.triangles.length / 6).toBe(
      mesh.vertices.length / 3 - mesh.triangles.length / 6,
    );
  });

  // Dividing changes no volume, and what is taken away strays by 0.4 % of the diagonal at most.
  it('keeps its volume within 1 %', () => {
    expect(massOf(small).volume / massOf(mesh).volume).toBeGreaterThan(0.99);
    expect(massOf(small).volume / massOf(mesh).volume).toBeLessThan(1.01);
  });
});
