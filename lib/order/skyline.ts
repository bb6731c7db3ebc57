/**
 * How high a straight link across the layer must be so that the head passes over or beside everything that
 * earlier regions leave standing. Their boxes become heights over a grid of the run's layer space; heights
 * err only to the high side, since a cell takes the top of every box that overlaps it.
 */
import type { Frame } from '../base/frame.js';
import { headRadius, headTop } from '../machine/head.js';
import type { Machine } from '../machine/machine.js';
import { type Boxes, turnedBox } from './boxes.js';

/** Edge of a cell, mm. */
const SKYLINE_CELL = 2;
/** Spacing of the heights over the tip at which the head's radius is taken, mm. */
const SLICE = 0.5;

export interface Skyline {
  /**
   * Least height of the tip over the straight line from (x0, y0) to (x1, y1), mm of layer space.
   * @param from the height the link would have if nothing stood there
   */
  least(x0: number, y0: number, x1: number, y1: number, from: number): number;
}

/**
 * @param layerFromPart of the run
 * @param printed boxes of the regions that stand when the run begins, part frame
 */
export function skylineOf(
  machine: Machine,
  layerFromPart: Frame,
  printed: readonly Boxes[],
): Skyline {
  const cells = new Map<string, { x: number; y: number; z: number }>();
  let highest = -Infinity;
  for (const boxes of printed) {
    for (let i = 0; i < boxes.length; i += 6) {
      const [x, y, z] = turnedBox(layerFromPart, boxes, i);
      highest = Math.max(highest, z[1]);
      for (let cx = Math.floor(x[0] / SKYLINE_CELL); cx <= Math.floor(x[1] / SKYLINE_CELL); cx++) {
        for (
          let cy = Math.floor(y[0] / SKYLINE_CELL);
          cy <= Math.floor(y[1] / SKYLINE_CELL);
          cy++
        ) {
          const key = `${cx} ${cy}`;
          const cell = cells.get(key);
          if (!cell)
            cells.set(key, { x: (cx + 0.5) * SKYLINE_CELL, y: (cy + 0.5) * SKYLINE_CELL, z: z[1] });
          else if (z[1] > cell.z) cell.z = z[1];
        }
      }
    }
  }
  // Tallest first: a link asks only those that reach over it.
  const tall = [...cells.values()].sort((a, b) => b.z - a.z);
  const free = freeHeights(machine);
  return {
    least(x0, y0, x1, y1, from) {
      let height = from;
      if (highest <= from) return height;
      for (const cell of tall) {
        if (cell.z + machine.clearance <= height) break;
        const aside =
          lineDistance(cell.x, cell.y, x0, y0, x1, y1) - (SKYLINE_CELL * Math.SQRT2) / 2;
        height = Math.max(height, cell.z - free(aside));
      }
      return height;
    },
  };
}

/**
 * How far something may rise over the tip if it stands `aside` mm from the head's axis: up to where
 * the head with its clearance first becomes as wide as that; below the tip by the clearance if it
 * stands under the nozzle.
 */
function freeHeights(machine: Machine): (aside: number) => number {
  const top = headTop(machine);
  const wide: number[] = [];
  let widest = 0;
  for (let s = 0; s <= top + SLICE; s += SLICE) {
    // The widest place of the slice up to s, so that no step of the outline falls between.
    for (let k = 0; k <= 4; k++) {
      widest = Math.max(widest, headRadius(machine, Math.min(top, s - (k * SLICE) / 4)));
    }
    wide.push(widest + machine.clearance);
  }
  return (aside) => {
    if (aside >= wide.at(-1)!) return Infinity;
    const k = wide.findIndex((r) => r > aside);
    return k === 0 ? -machine.clearance : (k - 1) * SLICE - machine.clearance;
  };
}

function lineDistance(
  x: number,
  y: number,
  x0: number,
  y0: number,
  x1: number,
  y1: number,
): number {
  const [dx, dy] = [x1 - x0, y1 - y0];
  const square = dx * dx + dy * dy;
  const t = square > 0 ? Math.min(1, Math.max(0, ((x - x0) * dx + (y - y0) * dy) / square)) : 0;
  const [ex, ey] = [x - x0 - t * dx, y - y0 - t * dy];
  return Math.sqrt(ex * ex + ey * ey);
}
