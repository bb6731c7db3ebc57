/**
 * A sprinkler cap: a wide cap on a hollow stem that stands on a flange. The underside of the cap is
 * flat all around, so no single direction builds it.
 */
import { type Mesh, revolved, type SolidKernel } from '../../lib/index.js';

const SIDES = 96;

export function build(kernel: SolidKernel): Mesh {
  const outside = revolved(
    [
      [
        [0, 0],
        [18, 0],
        [18, 3],
        [9, 7],
        [9, 40],
        [27, 40],
        [27, 44],
        [12, 53],
        [0, 53],
      ],
    ],
    SIDES,
  );
  // Blind, its end a cone steep enough to close over itself.
  const bore = revolved(
    [
      [
        [0, -1],
        [6.5, -1],
        [6.5, 38],
        [0, 47],
      ],
    ],
    SIDES,
  );
  return kernel.difference(outside, bore);
}
