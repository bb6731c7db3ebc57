/**
 * Planes that graze a ceiling, against areas in closed form (a plane strip's area under a height is its
 * length along the rise over the cosine of its slope; plane geometry). The film of 0.4 mm and 1 mm2 are
 * the project's own rule.
 */
import { describe, expect, it } from 'vitest';
import type { Mesh } from '../../../lib/base/mesh.js';
import { DEG, type Vec3 } from '../../../lib/base/vector.js';
import { grazes } from '../../../lib/regions/search/grazing-planes.js';

type Facets = Pick<Mesh, 'vertices' | 'triangles'>;

/** The planes lean by this, so that what hangs along their normal does not hang along the table normal. */
const LEAN = 60 * DEG;

const leaning = (angle: number): Vec3 => [Math.sin(angle), 0, Math.cos(angle)];

/**
 * A ceiling 10 mm wide that rises along x from a height by a slope, for a length, in two triangles; then
 * turned about y.
 */
function ceiling(from: number, slope: number, length: number, angle = LEAN): Facets {
  const to = from + slope * length;
  const flat = [0, 0, from, length, 0, to, length, 10, to, 0, 10, from];
  const [s, , c] = leaning(angle);
  const vertices = Float64Array.from(flat, (v, i) => {
    const [x, z] = [flat[i - (i % 3)]!, flat[i - (i % 3) + 2]!];
    return [x * c + z * s, v, z * c - x * s][i % 3]!;
  });
  return { vertices, triangles: Uint32Array.of(0, 2, 1, 0, 3, 2) };
}

const at = (
  mesh: Facets,
  offset: number,
  direction = leaning(LEAN),
  normal = leaning(LEAN),
): boolean => grazes(mesh, { normal, offset, direction }, 45 * DEG);

describe('a plane over a level ceiling of 100 mm2', () => {
  it.each([
    [0.1, true],
    [0.35, true],
    [0.45, false],
    [-0.1, true],
    [-0.25, false],
  ])('%d mm over it: grazes %s', (offset, grazes) => {
    expect(at(ceiling(0, 0, 10), offset)).toBe(grazes);
  });

  it('does not graze a floor', () => {
    const { vertices, triangles } = ceiling(0, 0, 10);
    expect(at({ vertices, triangles: triangles.slice().reverse() }, 0.1)).toBe(false);
  });

  it('does not graze what is no ceiling for the build direction', () => {
    expect(at(ceiling(0, 0, 10), 0.1, leaning(LEAN + 50 * DEG))).toBe(false);
  });
});

it('a ceiling that hangs along the table normal too hangs with a film or without', () => {
  const [up, level] = [leaning(0), ceiling(0, 0, 10, 0)];
  expect(at(level, 0.1, up, up)).toBe(true);
  expect(at(level, 0.35, up, up)).toBe(false);
});

describe('a plane over a ceiling that rises by 0.1', () => {
  // From x on it is nearer to the plane than 0.4 mm: a strip of 10 mm times (length - x) over cos.
  const slant = Math.hypot(1, 0.1);
  it.each([
    [0.95, false],
    [1.05, true],
  ])('a film of %d mm2: grazes %s', (area, grazes) => {
    const strip = area / (10 * slant);
    const mesh = ceiling(0, 0.1, 20);
    expect(at(mesh, 2 + 0.4 - 0.1 * strip)).toBe(grazes);
  });

  it('only what is under the plane counts: of a film cut short by the ceiling crossing it', () => {
    // Crosses the plane at x = 10; 4 mm before that it is 0.4 mm under it: 40.2 mm2 for 10 mm of
    // width, for 0.2 mm of width 0.8 mm2.
    const narrow = ceiling(0, 0.1, 20);
    for (let i = 1; i < narrow.vertices.length; i += 3) narrow.vertices[i]! /= 50;
    expect(at(ceiling(0, 0.1, 20), 1)).toBe(true);
    expect(at(narrow, 1)).toBe(false);
  });
});

it('a ceiling that rises more steeply than 15 deg from the plane leaves no film', () => {
  expect(at(ceiling(0, Math.tan(14 * DEG), 10), 1)).toBe(true);
  expect(at(ceiling(0, Math.tan(16 * DEG), 10), 1)).toBe(false);
});
