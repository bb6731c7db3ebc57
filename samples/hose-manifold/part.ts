/**
 * A hose manifold: water comes in through the foot and leaves through three outlets that lean 60 deg
 * from upright; a plug closes the hole at the top. The body narrows upwards so that a plane square to
 * an outlet can take it off just outside of the body.
 */
import {
  leaned,
  type Mesh,
  moved,
  revolved,
  rod,
  shift,
  type SolidKernel,
} from '../../lib/index.js';

const DEG = Math.PI / 180;
const SIDES = 72;
/** Other than outside, so that no corner of a bore lies on a line to a corner of its outlet. */
const BORE_SIDES = 58;
const LEAN = 60;
/** Height at which the axes of the outlets meet, mm. */
const MIDDLE = 30;
const AZIMUTHS = [0, 120, 240];

export function build(kernel: SolidKernel): Mesh {
  const body = revolved(
    [
      [
        [0, 0],
        [27, 0],
        [27, 4],
        [20, 4],
        [20, 32],
        [8, 47],
        [0, 47],
      ],
    ],
    SIDES,
  );
  const cavity = revolved(
    [
      [
        [0, -1],
        [8, -1],
        [8, 4],
        [17, 4],
        [17, 32],
        [5, 47],
        [5, 48],
        [0, 48],
      ],
    ],
    BORE_SIDES,
  );
  // The collar near the end holds the hose.
  const outlet = revolved(
    [
      [
        [0, 0],
        [8, 0],
        [8, 38],
        [9, 41],
        [9, 42],
        [7.5, 46],
        [0, 46],
      ],
    ],
    SIDES,
  );
  const screws = [60, 240].map((azimuth) =>
    moved(
      rod(1.8, -1, 5, 24),
      shift([23.5 * Math.cos(azimuth * DEG), 23.5 * Math.sin(azimuth * DEG), 0]),
    ),
  );
  const bores = AZIMUTHS.map((a) => leaned(rod(5.5, 5, 47, BORE_SIDES), LEAN, a, MIDDLE));
  const outside = kernel.unite([body, ...AZIMUTHS.map((a) => leaned(outlet, LEAN, a, MIDDLE))]);
  const part = kernel.difference(outside, kernel.unite([cavity, ...bores, ...screws]));
  return kernel.simplify(part, 0.001);
}
