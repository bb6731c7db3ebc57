/**
 * Distances between an obstacle of the machine and what moves near it, at given joint values: the
 * head as it is drawn, the table, the printed regions. Surfaces are stood for by points SPACING apart,
 * and the answer is on the safe side by what may lie between two points.
 */
import { type Frame, applyPoint, compose, inverse } from '../base/frame.js';
import { type Vec3, length, sub } from '../base/vector.js';
import { carriedBy, machineFromHead, machineFromPart } from '../machine/chain.js';
import { headPoints } from '../machine/head.js';
import type { Machine } from '../machine/machine.js';
import { ballAround, headDistance, solidDistance, surfacePoints } from '../machine/solids.js';
import type { Bodies } from './bodies.js';

/** Spacing of the points that stand for a surface, mm. */
const SPACING = 4;
/** A point of a surface is never farther than this from a point that stands for it, mm. */
const COARSE = SPACING * Math.SQRT1_2;

/** An obstacle with what is known of it before any joint moves. */
export interface Guard {
  readonly name: string;
  /** Index in `Machine.joints`, -1 for the frame. */
  readonly carrier: number;
  readonly solid: Machine['obstacles'][number]['solid'];
  readonly points: readonly Vec3[];
  readonly ball: { readonly centre: Vec3; readonly radius: number };
}

export interface HeadSize {
  readonly centre: Vec3;
  /** Of a ball about the centre, mm. */
  readonly radius: number;
  /** Height and greatest radius about the head's axis, mm. */
  readonly top: number;
  readonly wide: number;
}

export const guardsOf = (machine: Machine): Guard[] =>
  machine.obstacles.map((o) => ({
    name: o.name,
    carrier: o.carriedBy,
    solid: o.solid,
    points: surfacePoints(o.solid, SPACING),
    ball: ballAround(o.solid),
  }));

export function headSize(machine: Machine): HeadSize {
  const points = headPoints(machine);
  const top = Math.max(...points.map((p) => p.above));
  const wide = Math.max(...points.map((p) => p.radius));
  return { centre: [0, 0, top / 2], radius: Math.hypot(top / 2, wide), top, wide };
}

/** Points over the face, the underside and the rim of the table, part frame. */
export function tablePoints({ face, tableThickness }: Machine): Vec3[] {
  if (face.shape === 'disc') {
    return surfacePoints(
      { shape: 'cylinder', from: [0, 0, -tableThickness], to: [0, 0, 0], radius: face.radius },
      SPACING,
    );
  }
  const [x, y] = [face.size[0] / 2, face.size[1] / 2];
  return surfacePoints({ shape: 'box', from: [-x, -y, -tableThickness], to: [x, y, 0] }, SPACING);
}

export function headGap(
  machine: Machine,
  head: HeadSize,
  guard: Guard,
  joints: ArrayLike<number>,
): number {
  const headFromGuard = compose(
    inverse(machineFromHead(machine, joints)),
    carriedBy(machine, joints, guard.carrier),
  );
  const apart = length(sub(applyPoint(headFromGuard, guard.ball.centre), head.centre));
  const far = apart - guard.ball.radius - head.radius;
  if (far > machine.clearance) return far;
  let least = Infinity;
  for (const p of guard.points) {
    const q = applyPoint(headFromGuard, p);
    // The cylinder around the head is nearer than the head itself: most points end here.
    const out = Math.max(0, Math.sqrt(q[0] * q[0] + q[1] * q[1]) - head.wide);
    const over = Math.max(0, -q[2], q[2] - head.top);
    if (out * out + over * over >= least * least) continue;
    least = Math.min(least, headDistance(machine, q));
  }
  return Math.max(0, least - COARSE);
}

const guardFromPart = (machine: Machine, guard: Guard, joints: ArrayLike<number>): Frame =>
  compose(inverse(carriedBy(machine, joints, guard.carrier)), machineFromPart(machine, joints));

/** @param table points of `tablePoints` */
export function tableGap(
  machine: Machine,
  table: readonly Vec3[],
  guard: Guard,
  joints: ArrayLike<number>,
): number {
  const frame = guardFromPart(machine, guard, joints);
  let least = Infinity;
  for (const p of table) {
    least = Math.min(least, solidDistance(guard.solid, applyPoint(frame, p)));
  }
  return Math.max(0, least - COARSE);
}

export function partGap(
  machine: Machine,
  bodies: Bodies,
  guard: Guard,
  joints: ArrayLike<number>,
): number {
  const frame = guardFromPart(machine, guard, joints);
  let least = Infinity;
  bodies.printed.forEach((boxes, region) => {
    const ball = bodies.balls[region]!;
    const far = solidDistance(guard.solid, applyPoint(frame, ball.centre)) - ball.radius;
    if (far > machine.clearance) {
      least = Math.min(least, far);
      return;
    }
    for (let i = 0; i < boxes.length; i += 6) {
      const low: Vec3 = [boxes[i]!, boxes[i + 1]!, boxes[i + 2]!];
      const high: Vec3 = [boxes[i + 3]!, boxes[i + 4]!, boxes[i + 5]!];
      const middle: Vec3 = [(low[0] + high[0]) / 2, (low[1] + high[1]) / 2, (low[2] + high[2]) / 2];
      const half = length(sub(high, low)) / 2;
      least = Math.min(least, solidDistance(guard.solid, applyPoint(frame, middle)) - half);
    }
  });
  return least;
}
