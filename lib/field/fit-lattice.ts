/**
 * How fine the lattice of a part has to be: where nothing is narrow, as fine as FEW_TETRAHEDRA make it, but no finer than
 * FINEST; a part too large for that gets FITTED, or coarser cubes where those would be more than FITTED_TETRAHEDRA. Near
 * the table the growth has to turn over a few millimetres (a lying ring of R 20 and r 5 by facets: 259 mm2 hang on cubes
 * of 2 mm, 166 on 1.25, where 145 lean too far for any tilt; a tenth of its lowest tetrahedra grow more than 11 and 5 deg
 * off from those around them). A wall or gap gets two cubes over its width
 * as long as FEW_TETRAHEDRA are enough for that, for with one the growth is the same on both of its sides (a ball of
 * 10 mm with a wall of 2 mm: 48 mm2 hang by facets on one cube, 29 on two), and at least one in any case. Walls go
 * before size; where both cannot be had the lattice refuses (lattice.ts).
 */
import type { Mesh } from '../base/mesh.js';
import { massOf } from '../mesh/measure.js';
import { narrowest } from './resolved.js';
import { skinSamples } from './skin.js';

/** Edge of a cube below which nothing is gained, mm: five layers of 0.2 mm. */
const FINEST = 1;
/** Edge of a cube that shows what a usual part has, mm. */
const FITTED = 2;
/** So many take about 8 s of one core, from the lattice to the layers laid flat. */
const FITTED_TETRAHEDRA = 150_000;
/** So many may be spent on cubes smaller than FITTED, and on a second cube over the width of a wall. */
const FEW_TETRAHEDRA = 60_000;
/** Tetrahedra in a cube. */
const IN_A_CUBE = 12;
/** Cubes over the width of a wall, where they can be had. */
const CUBES_ACROSS = 2;
/** A wall is this much wider than the spacing that resolves it. */
const NARROWER = 0.98;
/** Finer samples of the skin may find narrower places; so often they are looked for. */
const FIT_ROUNDS = 4;

/** @returns edge of a cube, mm */
export function fittedSpacing(mesh: Mesh): number {
  const { volume } = massOf(mesh);
  const affordable = (tetrahedra: number): number => Math.cbrt((IN_A_CUBE * volume) / tetrahedra);
  const coarse = Math.max(FITTED, affordable(FITTED_TETRAHEDRA));
  let spacing = Math.max(FINEST, Math.min(coarse, affordable(FEW_TETRAHEDRA)));
  for (let round = 0; round < FIT_ROUNDS; round++) {
    const skin = skinSamples(mesh, spacing / 2);
    const width = narrowest(mesh, skin, CUBES_ACROSS * spacing, spacing)?.width ?? Infinity;
    const finer = Math.max(width / CUBES_ACROSS, affordable(FEW_TETRAHEDRA));
    const next = Math.min(spacing, finer, NARROWER * width);
    if (next === spacing) break;
    spacing = next;
  }
  return spacing;
}
