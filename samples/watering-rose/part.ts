/**
 * The base of a watering rose: a round foot that flares out 63 deg from upright into a shallow bowl. The flare hangs all
 * the way round, so no flat region frees it; curved layers lean outwards with it.
 */
import { type Mesh, revolved } from '../../lib/index.js';

const SIDES = 96;

export function build(): Mesh {
  return revolved(
    [
      [
        [0, 0],
        [13, 0],
        [13, 2],
        [20, 5.5],
        [20, 9],
        [16, 9],
        [10, 6],
        [0, 6],
      ],
    ],
    SIDES,
  );
}
