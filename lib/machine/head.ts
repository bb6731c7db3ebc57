/**
 * The head as a body of revolution: its radius over the height, and the room that it needs over the
 * table. Boxes of the head count by their farthest corner and meshes by their greatest radius at each
 * height, as if the part could meet them from every side: with a turning table it can.
 */
import type { Machine } from './machine.js';
import type { HeadPoint } from './outline.js';

export type { HeadPoint } from './outline.js';

/** The turned outlines of the head: the stack, and each mesh of the file turned about the axis. */
const outlinesOf = ({ stack, headMeshes }: Machine): (readonly HeadPoint[])[] => [
  ...(stack.length > 0 ? [stack] : []),
  ...headMeshes.map((m) => m.outline),
];

/** Corners of the outlines: between neighbours of one the radius changes evenly. */
export function headPoints(machine: Machine): HeadPoint[] {
  const corners = boxesAround(machine).flatMap(({ low, high, lowRadius: radius }) => [
    { above: low, radius },
    { above: high, radius },
  ]);
  return [...outlinesOf(machine).flat(), ...corners];
}

/** Greatest radius of the head at a height over the tip, mm; 0 above its top and below the tip. */
export function headRadius(machine: Machine, above: number): number {
  let radius = 0;
  for (const outline of outlinesOf(machine)) radius = Math.max(radius, radiusAt(outline, above));
  for (const { low, high, lowRadius } of boxesAround(machine)) {
    if (above >= low && above <= high) radius = Math.max(radius, lowRadius);
  }
  return radius;
}

/** Greatest radius of an outline at a height, mm; 0 over and under it. */
export function radiusAt(outline: readonly HeadPoint[], above: number): number {
  let radius = 0;
  for (let i = 0; i < outline.length; i++) {
    const low = outline[i]!;
    const high = outline[i + 1] ?? low;
    if (above < low.above || above > high.above) continue;
    const share = high.above > low.above ? (above - low.above) / (high.above - low.above) : 0;
    radius = Math.max(radius, low.radius + share * (high.radius - low.radius));
    if (high.above === low.above) radius = Math.max(radius, high.radius);
  }
  return radius;
}

/** A frustum about the axis of the head: its radius is linear between two heights; mm. */
export interface Frustum {
  readonly low: number;
  readonly lowRadius: number;
  readonly high: number;
  readonly highRadius: number;
}

/** The part of the head, turned about its axis, over the height `from`; boxes are taken whole. */
export const frustaFrom = (machine: Machine, from: number): Frustum[] => [
  ...outlinesOf(machine).flatMap((outline) => outlineFrom(outline, from)),
  ...boxesAround(machine),
];

/** The part of an outline over the height `from`; its foot is as wide as anything below. */
export function outlineFrom(stack: readonly HeadPoint[], from: number): Frustum[] {
  const rounds: Frustum[] = [];
  let foot = stack[0]!.radius;
  for (let i = 0; i + 1 < stack.length; i++) {
    const [a, b] = [stack[i]!, stack[i + 1]!];
    const share = (from - a.above) / (b.above - a.above);
    if (b.above <= from) foot = Math.max(foot, a.radius, b.radius);
    else if (share <= 0) {
      rounds.push({ low: a.above, lowRadius: a.radius, high: b.above, highRadius: b.radius });
    } else {
      foot = Math.max(foot, a.radius, a.radius + share * (b.radius - a.radius));
      rounds.push({ low: from, lowRadius: foot, high: b.above, highRadius: b.radius });
    }
  }
  return rounds.length > 0
    ? rounds
    : [{ low: from, lowRadius: foot, high: from, highRadius: foot }];
}

/** The boxes of the head, each turned all about the axis. */
const boxesAround = (machine: Machine): Frustum[] =>
  machine.headBoxes.map((box) => {
    const far = (c: 0 | 1): number => Math.max(Math.abs(box.from[c]), Math.abs(box.to[c]));
    const radius = Math.hypot(far(0), far(1));
    return { low: box.from[2], lowRadius: radius, high: box.to[2], highRadius: radius };
  });

/** The head over the height `from`, and the distance that it keeps, mm. */
export interface HeadMargin {
  readonly from: number;
  readonly need: number;
}

/** What stands beside: all of the clearance, from the tip (the lowest clearance of the head) up. */
export const marginsBeside = ({ clearance }: Machine): HeadMargin[] => [
  { from: clearance, need: clearance },
];

/**
 * What lies under the base plane of the region that is being printed is what the tip prints on, and a
 * plane that leans comes up towards the head beside it. There the head keeps a quarter of the clearance
 * from one clearance over the tip up, and all of it from three clearances up. All of it from one up would
 * mean that no plane may lean at all: the nozzle is as wide at its foot as it is high there.
 */
export const marginsUnder = ({ clearance }: Machine): HeadMargin[] => [
  { from: clearance, need: clearance / 4 },
  { from: 3 * clearance, need: clearance },
];

/** Height of the top of the head over the tip, mm. */
export function headTop(machine: Machine): number {
  return headPoints(machine).reduce((top, p) => Math.max(top, p.above), 0);
}

/**
 * The distance that a point of the head keeps from anything, mm. The tip itself must come near to
 * what it prints on, so the distance grows with the height over the tip up to the full clearance.
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
