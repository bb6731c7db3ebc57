/**
 * Inset of walls by a different distance at each stretch of their edges, as loops that do not cross.
 *
 * The polygon kernel moves every edge by the same distance, so its first step is done here: every
 * stretch is moved along its normal, concave corners become arcs, at convex ones the path runs through
 * the corner itself. What turned inside out has negative winding, and the union by the positive rule
 * drops it; so a distance over half the width makes the loop vanish there.
 */
import type { Polygons } from '../../polygon/polygons.js';
import { type List, float64List } from '../../base/ragged.js';
import type { PolygonKernel } from '../../kernel/polygon.js';
import type { Walls } from './wall-widths.js';

/** Sine of a turn that is too small to count as a corner (about 3 deg). */
const STRAIGHT_SINE = 0.05;
/** Greatest distance of a chord from its arc, mm. */
const ARC_TOLERANCE = 0.005;

/** @param distance of each stretch, mm */
export function insetBy(walls: Walls, distance: Float64Array, kernel: PolygonKernel): Polygons {
  const { loops, nx, ny } = walls;
  const raw = float64List(4 * loops.points.length);
  const start = new Uint32Array(loops.start.length);
  for (let loop = 0; loop + 1 < loops.start.length; loop++) {
    const a = loops.start[loop]!;
    const b = loops.start[loop + 1]!;
    for (let k = a; k < b; k++) {
      const i = k > a ? k - 1 : b - 1;
      const d = (distance[i]! + distance[k]!) / 2;
      const x = loops.points[2 * k]!;
      const y = loops.points[2 * k + 1]!;
      const sine = nx[i]! * ny[k]! - ny[i]! * nx[k]!;
      const cosine = nx[i]! * nx[k]! + ny[i]! * ny[k]!;
      if (Math.abs(sine) < STRAIGHT_SINE && cosine > 0) {
        const size = d / (1 + cosine);
        raw.push2(x + (nx[i]! + nx[k]!) * size, y + (ny[i]! + ny[k]!) * size);
      } else if (sine > 0) {
        raw.push2(x + nx[i]! * d, y + ny[i]! * d);
        raw.push2(x, y);
        raw.push2(x + nx[k]! * d, y + ny[k]! * d);
      } else {
        arc(raw, x, y, nx[i]!, ny[i]!, Math.atan2(sine, cosine), d);
      }
    }
    start[loop + 1] = raw.length / 2;
  }
  return kernel.union({ points: raw.take(), start }, 'positive');
}

/** Turns the normal clockwise by -angle around a concave corner. */
function arc(
  out: List<Float64Array>,
  x: number,
  y: number,
  nx: number,
  ny: number,
  angle: number,
  d: number,
): void {
  const step = d > ARC_TOLERANCE ? 2 * Math.acos(1 - ARC_TOLERANCE / d) : Math.PI / 2;
  const parts = Math.max(1, Math.ceil(Math.abs(angle) / step));
  for (let k = 0; k <= parts; k++) {
    const turn = (angle * k) / parts;
    const c = Math.cos(turn) * d;
    const s = Math.sin(turn) * d;
    out.push2(x + nx * c - ny * s, y + nx * s + ny * c);
  }
}
