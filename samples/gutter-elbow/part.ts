/**
 * A gutter elbow: a downpipe bend of 90 deg with a wall of 2.5 mm, a straight socket on a flange at
 * the foot and a short straight end that runs level.
 */
import {
  bent,
  compose,
  type Mesh,
  moved,
  revolved,
  rod,
  shift,
  type SolidKernel,
  turn,
} from '../../lib/index.js';

const SIDES = 72;
/** Straight pieces of the bend. */
const STEPS = 36;
const OUTER = 16;
const INNER = 13.5;
/** Radius of the bend, and where it begins, mm. */
const BEND = 30;
const FOOT = 14;
const END = 12;

export function build(kernel: SolidKernel): Mesh {
  const quarter = Math.PI / 2;
  const level = compose(shift([BEND, 0, FOOT + BEND]), turn([0, 1, 0], quarter));
  const bend = (radius: number): Mesh =>
    moved(bent(BEND, radius, 0, quarter, SIDES, STEPS), shift([0, 0, FOOT]));
  const foot = revolved(
    [
      [
        [0, 0],
        [23, 0],
        [23, 4],
        [OUTER, 8],
        [OUTER, FOOT],
        [0, FOOT],
      ],
    ],
    SIDES,
  );
  const outside = kernel.unite([foot, bend(OUTER), moved(rod(OUTER, 0, END, SIDES), level)]);
  const inside = kernel.unite([
    rod(INNER, -1, FOOT, SIDES),
    bend(INNER),
    moved(rod(INNER, 0, END + 1, SIDES), level),
  ]);
  return kernel.difference(outside, inside);
}
