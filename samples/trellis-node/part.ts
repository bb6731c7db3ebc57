/**
 * A trellis node: a trunk on a flange with four blind sockets for canes that lean 60 deg from
 * upright, and a fifth socket in the top of the trunk.
 */
import { leaned, type Mesh, revolved, rod, type SolidKernel } from '../../lib/index.js';

const SIDES = 72;
/** Other than outside, so that no corner of a socket lies on a line to a corner of its branch. */
const SOCKET_SIDES = 58;
const LEAN = 60;
const MIDDLE = 24;
const AZIMUTHS = [0, 90, 180, 270];

export function build(kernel: SolidKernel): Mesh {
  const trunk = revolved(
    [
      [
        [0, 0],
        [19, 0],
        [19, 3],
        [11, 8],
        [11, 38],
        [0, 38],
      ],
    ],
    SIDES,
  );
  const branches = AZIMUTHS.map((a) => leaned(rod(7.5, 0, 42, SIDES), LEAN, a, MIDDLE));
  const sockets = AZIMUTHS.map((a) => leaned(rod(5, 20, 43, SOCKET_SIDES), LEAN, a, MIDDLE));
  const part = kernel.difference(
    kernel.unite([trunk, ...branches]),
    kernel.unite([...sockets, rod(6, 31, 39, SOCKET_SIDES)]),
  );
  return kernel.simplify(part, 0.001);
}
