/** Cells on either side of the origin that have keys of their own. */
const KEYED_CELLS = 32768;

/** One number for a cell of an even grid in space. */
export const cellKey = (i: number, j: number, k: number): number =>
  ((i + KEYED_CELLS) * 2 * KEYED_CELLS + j + KEYED_CELLS) * 2 * KEYED_CELLS + k + KEYED_CELLS;
