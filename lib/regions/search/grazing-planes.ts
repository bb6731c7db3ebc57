/**
 * Planes that graze a ceiling. A piece cut there begins with a facet in the air, or leaves a film under
 * it that is thinner than a bead and so is not printed: what lies on the film then hangs. Neither is
 * seen from the facets, as the film's own facets hang no more than before; the check of the program
 * finds it (7.2 and 8.6 mm2 over the bore of the sprinkler cap, 0.0 and 0.5 mm2 since planes keep off).
 */
import type { Mesh } from '../../base/mesh.js';
import { DEG, cross, dot, pointAt, sub } from '../../base/vector.js';
import { THREAD } from './piece-areas.js';
import type { CutMove } from './cut-move.js';

/** Smaller ceilings do not matter, mm2. */
const SPECK = 0.2;

/** Under a plane by no more than this, a facet leaves no room for a bead, mm. */
const FILM = 0.4;

/** Facets that lie along the plane: no farther from it than this, cosine. */
const IN_PLANE = Math.cos(15 * DEG);

/** Thin films do not matter below this area, mm2. */
const MOST_FILM = 1;

/**
 * True if a facet that hangs along the move's direction lies in its plane, within THREAD of it, or if
 * facets that hang lie along the plane and so closely under it that a film of more than MOST_FILM is
 * left between. What hangs along the table normal as well hangs with or without a film.
 * @param theta angle from the vertical from which a facet hangs, radians
 */
export function grazes(
  { triangles, vertices: v }: Pick<Mesh, 'vertices' | 'triangles'>,
  { normal, offset, direction }: Pick<CutMove, 'normal' | 'offset' | 'direction'>,
  theta: number,
): boolean {
  const heights = new Float64Array(v.length / 3);
  for (let i = 0; i < heights.length; i++) heights[i] = dot(pointAt(v, i), normal) - offset;
  const least = -Math.sin(theta);
  let film = 0;
  for (let t = 0; t < triangles.length; t += 3) {
    const [a, b, c] = [triangles[t]!, triangles[t + 1]!, triangles[t + 2]!];
    const [low, mid, high] = ascending(heights[a]!, heights[b]!, heights[c]!);
    if (low >= THREAD || high <= -FILM) continue;
    const n = cross(sub(pointAt(v, b), pointAt(v, a)), sub(pointAt(v, c), pointAt(v, a)));
    const twice = Math.hypot(...n);
    if (twice === 0 || dot(n, direction) >= least * twice) continue;
    if (twice > 2 * SPECK && low > -THREAD && high < THREAD) return true;
    if (n[2] < least * twice || -dot(n, normal) < IN_PLANE * twice) continue;
    film += (twice / 2) * (shareUnder(0, low, mid, high) - shareUnder(-FILM, low, mid, high));
    if (film > MOST_FILM) return true;
  }
  return false;
}

function ascending(a: number, b: number, c: number): [number, number, number] {
  const low = Math.min(a, b, c);
  const high = Math.max(a, b, c);
  return [low, a + b + c - low - high, high];
}

/** Share of a triangle's area under a height, from the heights of its corners in ascending order. */
function shareUnder(height: number, low: number, mid: number, high: number): number {
  if (height >= high) return 1;
  if (height <= low) return 0;
  return height <= mid
    ? (height - low) ** 2 / ((mid - low) * (high - low))
    : 1 - (high - height) ** 2 / ((high - mid) * (high - low));
}
