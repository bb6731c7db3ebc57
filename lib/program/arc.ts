/**
 * Arcs of RS-274/NGC: circle and sweep from start and end in the plane and a centre (I J K from the start)
 * or a radius. Radius arcs: a positive R is the arc of at most half a turn, a negative one the other
 * (NISTIR 6556, section 3.5.3 [from memory]).
 */
import type { Vec2 } from '../base/vector.js';

/** Start and end radius of a centre arc may differ by this, mm (0.0002 inch is its counterpart). */
export const RADIUS_SLACK = 0.002;
/** Angles nearer than this are one, rad. */
const SAME_ANGLE = 1e-9;

export interface Arc {
  readonly centre: readonly [number, number];
  readonly radiusFrom: number;
  readonly radiusTo: number;
  readonly angle: number;
  /** Signed, counter-clockwise positive, never 0: a full turn where start and end are one. */
  readonly sweep: number;
}

/** From start to end about the centre, whose distances from both the caller compares. */
export function centreArc(from: Vec2, to: Vec2, centre: Vec2, clockwise: boolean): Arc {
  const a: Vec2 = [from[0] - centre[0], from[1] - centre[1]];
  const b: Vec2 = [to[0] - centre[0], to[1] - centre[1]];
  const angle = Math.atan2(a[1], a[0]);
  let sweep = Math.atan2(b[1], b[0]) - angle;
  if (clockwise) {
    while (sweep > -SAME_ANGLE) sweep -= 2 * Math.PI;
    while (sweep < -2 * Math.PI - SAME_ANGLE) sweep += 2 * Math.PI;
  } else {
    while (sweep < SAME_ANGLE) sweep += 2 * Math.PI;
    while (sweep > 2 * Math.PI + SAME_ANGLE) sweep -= 2 * Math.PI;
  }
  return {
    centre,
    radiusFrom: Math.hypot(...a),
    radiusTo: Math.hypot(...b),
    angle,
    sweep,
  };
}

/** Undefined if the points coincide or the radius is shorter than half their distance. */
export function radiusArc(
  from: Vec2,
  to: Vec2,
  radius: number,
  clockwise: boolean,
): Arc | undefined {
  const dx = to[0] - from[0];
  const dy = to[1] - from[1];
  const half = Math.hypot(dx, dy) / 2;
  const size = Math.abs(radius);
  if (half === 0 || half > size + RADIUS_SLACK / 2) return undefined;
  const away = Math.sqrt(Math.max(0, size * size - half * half));
  const left = clockwise === radius < 0;
  const s = (left ? 1 : -1) * (away / (2 * half));
  const centre: Vec2 = [(from[0] + to[0]) / 2 - s * dy, (from[1] + to[1]) / 2 + s * dx];
  return centreArc(from, to, centre, clockwise);
}

/** Pieces in which chords stay within `error` of the arc: error = r (1 - cos(step / 2)). */
export function pieceCount(arc: Arc, error: number): number {
  const r = Math.max(arc.radiusFrom, arc.radiusTo);
  if (r <= error) return 4;
  return Math.max(1, Math.ceil(Math.abs(arc.sweep) / (2 * Math.acos(1 - error / r))));
}

/** The point at a share of the sweep, 0 to 1. */
export function pointOn(arc: Arc, share: number): [number, number] {
  const r = arc.radiusFrom + (arc.radiusTo - arc.radiusFrom) * share;
  const angle = arc.angle + arc.sweep * share;
  return [arc.centre[0] + r * Math.cos(angle), arc.centre[1] + r * Math.sin(angle)];
}
