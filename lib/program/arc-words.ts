/**
 * The words of an arc block as its circle: which axes the plane holds, the centre by I J K or the radius by
 * R, and what the standard refuses of them.
 */
import type { Vec2 } from '../base/vector.js';
import { type Arc, RADIUS_SLACK, centreArc, radiusArc } from './arc.js';
import { type BlockReader, indexOf } from './block.js';

/** First and second axis, height, and the words of the centre, of each plane (right-handed). */
const PLANES = {
  170: { letters: ['X', 'Y', 'Z'], centre: ['I', 'J'], other: 'K' },
  180: { letters: ['Z', 'X', 'Y'], centre: ['K', 'I'], other: 'J' },
  190: { letters: ['Y', 'Z', 'X'], centre: ['J', 'K'], other: 'I' },
} as const;

/** G17, G18, G19 in tenths. */
export type ArcPlane = keyof typeof PLANES;
const R = indexOf('R');

/** Index of the plane's first and second axis and of its height. @throws Fault `program/no-such-axis` */
export function planeAxes(
  reader: BlockReader,
  plane: ArcPlane,
  axes: readonly { readonly letter: string }[],
): [number, number, number] {
  const [a, b, h] = PLANES[plane].letters.map((letter) => {
    const axis = axes.findIndex((x) => x.letter === letter);
    if (axis < 0) reader.faultAt(-1, 'no-such-axis', `an arc needs the axis ${letter}`);
    return axis;
  });
  return [a!, b!, h!];
}

/**
 * @param unit mm of one programmed unit
 * @param from,to in the plane, mm
 * @throws Fault `program/arc`
 */
export function readArc(
  reader: BlockReader,
  plane: ArcPlane,
  unit: number,
  from: Vec2,
  to: Vec2,
  clockwise: boolean,
): Arc {
  const { block } = reader;
  const words = PLANES[plane].centre.map(indexOf);
  const other = indexOf(PLANES[plane].other);
  if (block.has(other)) {
    reader.faultAt(other, 'arc', `${PLANES[plane].other} does not lie in the plane of the arc`);
  }
  const byCentre = words.some((w) => block.has(w));
  if (byCentre === block.has(R)) {
    const what = byCentre ? 'a centre and a radius' : 'neither centre nor radius';
    reader.faultAt(R, 'arc', `an arc with ${what}`);
  }
  if (!byCentre) return byRadius(reader, unit, from, to, clockwise);
  const [i, j] = words.map((w) => (block.has(w) ? block.value[w]! * unit : 0));
  const arc = centreArc(from, to, [from[0] + i!, from[1] + j!], clockwise);
  const off = Math.abs(arc.radiusFrom - arc.radiusTo);
  if (off > RADIUS_SLACK || arc.radiusFrom === 0) {
    reader.faultAt(
      words.find((w) => block.has(w))!,
      'arc',
      `radius ${arc.radiusFrom} mm at the start and ${arc.radiusTo} mm at the end, the limit of their difference is ${RADIUS_SLACK} mm`,
    );
  }
  return arc;
}

function byRadius(
  reader: BlockReader,
  unit: number,
  from: Vec2,
  to: Vec2,
  clockwise: boolean,
): Arc {
  const radius = reader.block.value[R]! * unit;
  const arc = radiusArc(from, to, radius, clockwise);
  if (arc) return arc;
  const apart = Math.hypot(to[0] - from[0], to[1] - from[1]);
  return reader.faultAt(R, 'arc', `radius ${radius} mm for points ${apart} mm apart`);
}
