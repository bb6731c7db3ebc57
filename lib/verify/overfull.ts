/**
 * Cells that get more material than they hold. The beads of a cell are metered; the cubes that they newly
 * fill are counted as they are laid, and what of the cell's part is still free at the end takes up more:
 * where a bead runs over another beside a gap, the gap gets it. Only what finds neither is too much.
 */
import type { Vec3 } from '../base/vector.js';
import type { BoxTree } from '../mesh/bvh.js';
import { windingNumbers } from '../mesh/query.js';
import { CELL_CUBES, cellCorner } from './deposit.js';
import type { Grids } from './grids.js';
import type { Print } from './print.js';
import type { Tally } from './tally.js';
import type { Trace } from './trace.js';
import { placeOf } from './walk.js';

/** A cell is too full from this factor on, and from this much material, mm3. */
const OVERFULL = 1.25;
const LEAST_CELL = 0.5;
/** Cubes along the edge of a block that counts as inside the part, or not, by its middle. */
const BLOCK_CUBES = 4;

/**
 * @param part without it nothing is known of gaps, and none is counted
 * @returns material without room, mm3
 */
export function reportOverfull(
  trace: Trace,
  print: Print,
  part: BoxTree | undefined,
  tally: Tally,
): number {
  let sum = 0;
  print.cells.forEach((cells, number) => {
    for (const [key, { metered, filled, block }] of cells) {
      if (metered < LEAST_CELL || metered < OVERFULL * filled) continue;
      const room = filled + (part ? freeIn(print.grids, number, part, cellCorner(key)) : 0);
      if (metered < OVERFULL * room) continue;
      sum += metered - room;
      tally.add('verify/overfull', 'note', metered - room, () => ({
        message: `${metered.toFixed(2)} mm3 are metered where there is room for ${room.toFixed(2)} mm3`,
        at: placeOf(trace, block),
      }));
    }
  });
  return sum;
}

/** What of a cell lies inside the part and is free, mm3. */
function freeIn(grids: Grids, number: number, part: BoxTree, [x, y, z]: Vec3): number {
  const grid = grids.list[number]!;
  let free = 0;
  for (let i = x; i < x + CELL_CUBES; i += BLOCK_CUBES) {
    for (let j = y; j < y + CELL_CUBES; j += BLOCK_CUBES) {
      for (let k = z; k < z + CELL_CUBES; k += BLOCK_CUBES) {
        const empty = emptyIn(grids, number, i, j, k);
        if (empty === 0) continue;
        const half = BLOCK_CUBES / 2;
        const middle = grid.placeOf(i + half, j + half, k + half);
        if ((windingNumbers(part, middle).get(0) ?? 0) > 0) free += empty;
      }
    }
  }
  return free * grid.cellVolume;
}

function emptyIn(grids: Grids, number: number, x: number, y: number, z: number): number {
  const grid = grids.list[number]!;
  let empty = 0;
  for (let n = 0; n < BLOCK_CUBES ** 3; n++) {
    const [i, j, k] = [
      n % BLOCK_CUBES,
      Math.floor(n / BLOCK_CUBES) % BLOCK_CUBES,
      Math.floor(n / BLOCK_CUBES ** 2),
    ];
    if (grid.has(x + i, y + j, z + k)) continue;
    const [px, py, pz] = grid.placeOf(x + i + 0.5, y + j + 0.5, z + k + 0.5);
    if (!grids.hasOther(number, px, py, pz)) empty++;
  }
  return empty;
}
