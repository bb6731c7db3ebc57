/**
 * How fine the lattice of a part has to be: as fine as its narrowest wall or gap, no finer than FITTED where there is
 * none, and coarser where the part is so large that this many tetrahedra would be more than FITTED_TETRAHEDRA. Walls
 * go before size; where both cannot be had the lattice refuses (lattice.ts).
 */
import type { Mesh } from '../base/mesh.js';
import { massOf } from '../mesh/measure.js';
import { splitLongEdges } from '../mesh/split-edges.js';
import { narrowest } from './resolved.js';
import { skinSamples } from './skin.js';

/** Edge of a cube that shows what a usual part has, mm. */
const FITTED = 2;
/** So many take about 8 s of one core. */
const FITTED_TETRAHEDRA = 150_000;
/** Tetrahedra in a cube. */
const IN_A_CUBE = 12;
/** A wall is this much wider than the spacing that resolves it. */
const NARROWER = 0.98;
/** Finer samples of the skin may find narrower places; so often they are looked for. */
const FIT_ROUNDS = 4;

/** @returns edge of a cube, mm */
export function fittedSpacing(mesh: Mesh): number {
  const { volume } = massOf(mesh);
  let spacing = Math.max(FITTED, Math.cbrt((IN_A_CUBE * volume) / FITTED_TETRAHEDRA));
  for (let round = 0; round < FIT_ROUNDS; round++) {
    const skin = skinSamples(splitLongEdges(mesh, spacing / 2));
    const narrow = narrowest(mesh, skin, spacing);
    if (!narrow) break;
    spacing = NARROWER * narrow.width;
  }
  return spacing;
}
