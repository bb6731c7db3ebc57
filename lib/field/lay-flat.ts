/**
 * Lays the level sets of a growth field flat, and does so again where layers fold over or come to lie over each other:
 * the sheets are made stiffer about those places, so that they keep their lengths there and are stretched elsewhere.
 *
 * Where a crease is narrower than the lattice the two sides of it come together as the sheet about it is flattened: six
 * tetrahedra of 284,000 lay over others in the neck of a bunny, and its better field was lost for them. More rounds do
 * not help (10 of them after 24, 9 after 50), nor does it to be ten times as stiff within 3 or 6 spacings: 7 and 6.
 * Another row of weights is one more flattening, as long as the first.
 */
import type { Watch } from '../base/watch.js';
import { type FieldMap, foldsOf, layerMapOf, refuseFolds } from './field-map.js';
import type { Lattice } from './lattice.js';
import { middleOf } from './linear-functions.js';
import { NearPlaces } from './near-places.js';
import { sheetsOf } from './sheets.js';

/** Times that sheets are made stiffer. */
const STIFFENED = 3;
/** How many times as stiff at a place, fading to nothing over the reach, spacings. */
const STIFFER = 30;
const STIFF_REACH = 8;
/** Where more of the tetrahedra than this are folded, layers cannot be laid flat: a share. */
const MOST_FOLDED = 1e-3;

/** @throws Fault `field/turned-over` or `field/overlap` with the place */
export function layFlat(lattice: Lattice, growth: Float64Array, watch?: Watch): FieldMap {
  const { length } = lattice.shape;
  const stiffness = new Float64Array(length).fill(1);
  for (let round = 0; ; round++) {
    const map = layerMapOf(lattice, growth, sheetsOf(lattice, growth, stiffness, watch));
    const folds = foldsOf(map);
    const places = [...folds.turned, ...folds.doubled];
    const done = places.length === 0 || round === STIFFENED;
    if (done || places.length > MOST_FOLDED * length) return refuseFolds(map, folds);
    stiffen(lattice, stiffness, places);
  }
}

function stiffen(lattice: Lattice, stiffness: Float64Array, places: readonly number[]): void {
  const near = new NearPlaces<void>(STIFF_REACH * lattice.spacing);
  for (const t of places) near.add(middleOf(lattice, t), undefined);
  for (let t = 0; t < stiffness.length; t++) {
    let most = 0;
    near.each(middleOf(lattice, t), (_, by) => (most = Math.max(most, by)));
    stiffness[t]! *= 1 + (STIFFER - 1) * most;
  }
}
