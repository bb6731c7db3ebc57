/**
 * Connected areas of the part's surface: samples of a kind whose cells of space touch, by flood fill over a
 * hash of cells (linear in the samples). Two sides of a thin wall may fall into one area; what is missing
 * there is missing on both.
 */
import type { Surface } from './shape.js';

export interface Area {
  /** mm2 */
  readonly area: number;
  readonly samples: readonly number[];
}

/**
 * Edge of a cell, mm. Samples lie half a millimetre apart: neighbours share a cell or lie in cells that
 * touch.
 */
const AREA_CELL = 1;

export function areasOf({ points, area }: Surface, is: (sample: number) => boolean): Area[] {
  const cells = new Map<string, number[]>();
  const cell = (i: number, c: number): number => Math.floor(points[3 * i + c]! / AREA_CELL);
  for (let i = 0; i < area.length; i++) {
    if (!is(i)) continue;
    const key = [cell(i, 0), cell(i, 1), cell(i, 2)].join();
    const samples = cells.get(key);
    if (samples) samples.push(i);
    else cells.set(key, [i]);
  }
  const areas: Area[] = [];
  for (const [key, first] of cells) {
    cells.delete(key);
    const samples: number[] = [];
    const open = [first];
    for (let part = open.pop(); part; part = open.pop()) {
      for (const i of part) samples.push(i);
      const at = [0, 1, 2].map((c) => cell(part[0]!, c));
      for (const near of around(at)) {
        const next = cells.get(near);
        if (!next) continue;
        cells.delete(near);
        open.push(next);
      }
    }
    areas.push({ area: samples.reduce((sum, i) => sum + area[i]!, 0), samples });
  }
  return areas;
}

/** Keys of the cells that touch one, by faces, edges or corners. */
function* around(at: readonly number[]): Generator<string> {
  for (let n = 0; n < 27; n++) {
    if (n === 13) continue;
    const step = [(n % 3) - 1, (Math.floor(n / 3) % 3) - 1, Math.floor(n / 9) - 1];
    yield step.map((s, c) => s + at[c]!).join();
  }
}
