/**
 * The head as a body of revolution: the outline of the machine record in, radii over the height and
 * the room that it needs over the table out. Boxes of the head count by their farthest corner, as if
 * the part could come at them from every side: with a turning table it can.
 */
import type { Machine } from './machine.js';

/** A circle of the head about its own axis: height over the nozzle tip and radius, mm. */
export interface HeadPoint {
  readonly above: number;
  readonly radius: number;
}

/** Corners of the outline: between neighbours of the stack the radius changes evenly. */
export function headPoints(machine: Machine): HeadPoint[] {
  const corners = machine.headBoxes.flatMap((box) => {
    const radius = Math.hypot(
      Math.max(Math.abs(box.from[0]), Math.abs(box.to[0])),
      Math.max(Math.abs(box.from[1]), Math.abs(box.to[1])),
    );
    return [
      { above: box.from[2], radius },
      { above: box.to[2], radius },
    ];
  });
  return [...machine.stack, ...corners];
}

/** Greatest radius of the head at a height over the tip, mm; 0 above its top and below the tip. */
export function headRadius(machine: Machine, above: number): number {
  let radius = 0;
  const { stack } = machine;
  for (let i = 0; i < stack.length; i++) {
    const low = stack[i]!;
    const high = stack[i + 1] ?? low;
    if (above < low.above || above > high.above) continue;
    const share = high.above > low.above ? (above - low.above) / (high.above - low.above) : 0;
    radius = Math.max(radius, low.radius + share * (high.radius - low.radius));
    if (high.above === low.above) radius = Math.max(radius, high.radius);
  }
  const points = headPoints(machine).slice(stack.length);
  for (let i = 0; i < points.length; i += 2) {
    if (above >= points[i]!.above && above <= points[i + 1]!.above) {
      radius = Math.max(radius, points[i]!.radius);
    }
  }
  return radius;
}

/** Height of the top of the head over the tip, mm. */
export function headTop(machine: Machine): number {
  return headPoints(machine).reduce((top, p) => Math.max(top, p.above), 0);
}

/**
 * The distance that a point of the head keeps from anything, mm. The tip itself must come near to
 * what it prints on, so what is asked grows with the height over the tip up to the full clearance.
 */
export const clearanceAt = (machine: Machine, above: number): number =>
  Math.min(machine.clearance, above);

/**
 * Least height of the nozzle tip over the table face, mm, with the head tilted by `tilt` (rad) from
 * the table normal and the face taken as infinite. A circle of radius r at height s over the tip
 * comes down to z + s cos t - r sin t, which must not be less than the clearance there; everything is
 * linear between corners, so corners decide, the one where the clearance becomes full among them.
 */
export function leastTipHeight(machine: Machine, tilt: number): number {
  const full = { above: machine.clearance, radius: headRadius(machine, machine.clearance) };
  const cosine = Math.cos(tilt);
  const sine = Math.abs(Math.sin(tilt));
  let least = 0;
  for (const { above, radius } of [...headPoints(machine), full]) {
    least = Math.max(least, clearanceAt(machine, above) - above * cosine + radius * sine);
  }
  return least;
}
