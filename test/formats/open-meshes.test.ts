/** The meshes of npm packages are what other tests take them for. Counts: the packages' own files. */
import { describe, expect, it } from 'vitest';
import { bounds, massOf } from '../../lib/mesh/measure.js';
import type { Mesh } from '../../lib/mesh/mesh.js';
import {
  bunny3k,
  bunny69k,
  figure200k,
  gearwheel,
  scaledToHeight,
  subdivide,
  yUp,
} from '../support/open-meshes.js';

/** Euler's V - E + F of a closed mesh. */
const euler = (m: Mesh): number =>
  m.vertices.length / 3 - m.triangles.length / 2 + m.triangles.length / 3;

describe.each([
  // Facets in the file, less the two collapsed ones, plus what fills the five holes (223 - 2 x 5).
  { name: 'bunny3k', load: bunny3k, facets: 3674, chi: 2 },
  { name: 'bunny69k', load: bunny69k, facets: 69451 + 213, chi: 2 },
  { name: 'gearwheel', load: gearwheel, facets: 2444, chi: 0 },
  { name: 'figure200k', load: figure200k, facets: 201286 - 2, chi: 2 },
])('$name', ({ load, facets, chi }) => {
  const mesh = load();

  it('is closed, with the facets of its file', () => {
    expect(mesh.triangles.length / 3).toBe(facets);
    expect(mesh.twins.includes(-1)).toBe(false);
    expect(euler(mesh)).toBe(chi);
    expect(massOf(mesh).volume).toBeGreaterThan(0);
  });

  it('keeps volume and genus when subdivided, and scales to a height', () => {
    const big = scaledToHeight(yUp(mesh), 100);
    const { least, most } = bounds(big);
    expect(least[2]).toBe(0);
    expect(most[2]).toBeCloseTo(100, 9);
    const fine = subdivide(big);
    expect(fine.triangles.length).toBe(4 * mesh.triangles.length);
    expect(euler(fine)).toBe(chi);
    expect(massOf(fine).volume / massOf(big).volume).toBeCloseTo(1, 9);
  });
});
