/**
 * The simple solids of the machine file against what moves near them, at given joint values: the
 * head against what stands still or rides with the table, table and printed regions against what
 * stands still or rides with the head. A pair that lies within the clearance with all joints at zero
 * (a bearing under the table) belongs together and is not asked about.
 */
import { applyPoint, compose, inverse } from '../base/frame.js';
import { type Vec3, length, sub } from '../base/vector.js';
import { carriedBy, machineFromHead, machineFromPart } from '../machine/chain.js';
import { headPoints } from '../machine/head.js';
import type { Machine } from '../machine/machine.js';
import { ballAround, headDistance, solidDistance, surfacePoints } from '../machine/solids.js';
import type { Bodies } from './bodies.js';

/** Spacing of the points that stand for an obstacle or the table, mm. */
const SPACING = 4;
/** A point of a surface is never farther than this from a point that stands for it, mm. */
const COARSE = SPACING * Math.SQRT1_2;

interface Guard {
  readonly name: string;
  readonly carrier: number;
  readonly solid: Machine['obstacles'][number]['solid'];
  readonly points: readonly Vec3[];
  readonly ball: { readonly centre: Vec3; readonly radius: number };
  readonly headSide: boolean;
  readonly tableSide: boolean;
  readonly besideHead: boolean;
  readonly besideTable: boolean;
}

export interface Obstacles {
  readonly machine: Machine;
  readonly guards: readonly Guard[];
  readonly table: readonly Vec3[];
  readonly headBall: { readonly centre: Vec3; readonly radius: number };
  /** Height and greatest radius of the head, mm. */
  readonly headSize: { readonly top: number; readonly wide: number };
}

/** What can be known before any joint moves. */
export function obstaclesOf(machine: Machine): Obstacles {
  const table = tablePoints(machine);
  const zero = new Float64Array(machine.joints.length);
  const points = headPoints(machine);
  const top = Math.max(...points.map((p) => p.above));
  const wide = Math.max(...points.map((p) => p.radius));
  const bare: Obstacles = {
    machine,
    table,
    guards: [],
    headBall: { centre: [0, 0, top / 2], radius: Math.hypot(top / 2, wide) },
    headSize: { top, wide },
  };
  const guards = machine.obstacles.map((o): Guard => {
    const carrier = machine.joints[o.carriedBy];
    const guard: Guard = {
      name: o.name,
      carrier: o.carriedBy,
      solid: o.solid,
      points: surfacePoints(o.solid, SPACING),
      ball: ballAround(o.solid),
      headSide: !!carrier && !carrier.carriesTable,
      tableSide: !!carrier?.carriesTable,
      besideHead: false,
      besideTable: false,
    };
    const near = machine.clearance;
    return {
      ...guard,
      besideHead: headGap(bare, guard, zero) < near,
      besideTable: tableGap(bare, guard, zero) < near,
    };
  });
  return { ...bare, guards };
}

export interface Room {
  /** What the nearest pair has beyond the clearance, mm; negative if it is too near. */
  readonly room: number;
  /** That pair, in words. */
  readonly pair: string;
}

/** The pair with the least room; infinite room where there is nothing to meet. */
export function roomAt(obstacles: Obstacles, bodies: Bodies, joints: ArrayLike<number>): Room {
  const near = obstacles.machine.clearance;
  let least = Infinity;
  let pair = '';
  const ask = (guard: Guard, who: string, gap: number): void => {
    if (gap - near >= least) return;
    least = gap - near;
    pair = `the ${who} comes within ${near} mm of "${guard.name}"`;
  };
  for (const guard of obstacles.guards) {
    if (!guard.headSide && !guard.besideHead) {
      ask(guard, 'head', headGap(obstacles, guard, joints));
    }
    if (guard.tableSide) continue;
    if (!guard.besideTable) ask(guard, 'table', tableGap(obstacles, guard, joints));
    ask(guard, 'part', partGap(obstacles.machine, guard, bodies, joints));
  }
  return { room: least, pair };
}

function headGap(o: Obstacles, guard: Guard, joints: ArrayLike<number>): number {
  const headFromGuard = compose(
    inverse(machineFromHead(o.machine, joints)),
    carriedBy(o.machine, joints, guard.carrier),
  );
  const apart = length(sub(applyPoint(headFromGuard, guard.ball.centre), o.headBall.centre));
  const far = apart - guard.ball.radius - o.headBall.radius;
  if (far > o.machine.clearance) return far;
  const { top, wide } = o.headSize;
  let least = Infinity;
  for (const p of guard.points) {
    const q = applyPoint(headFromGuard, p);
    // The cylinder around the head is nearer than the head itself: most points end here.
    const out = Math.max(0, Math.sqrt(q[0] * q[0] + q[1] * q[1]) - wide);
    const over = Math.max(0, -q[2], q[2] - top);
    if (out * out + over * over >= least * least) continue;
    least = Math.min(least, headDistance(o.machine, q));
  }
  return Math.max(0, least - COARSE);
}

function tableGap(o: Obstacles, guard: Guard, joints: ArrayLike<number>): number {
  const guardFromPart = compose(
    inverse(carriedBy(o.machine, joints, guard.carrier)),
    machineFromPart(o.machine, joints),
  );
  let least = Infinity;
  for (const p of o.table) {
    least = Math.min(least, solidDistance(guard.solid, applyPoint(guardFromPart, p)));
  }
  return Math.max(0, least - COARSE);
}

function partGap(
  machine: Machine,
  guard: Guard,
  bodies: Bodies,
  joints: ArrayLike<number>,
): number {
  const guardFromPart = compose(
    inverse(carriedBy(machine, joints, guard.carrier)),
    machineFromPart(machine, joints),
  );
  let least = Infinity;
  bodies.printed.forEach((boxes, region) => {
    const ball = bodies.balls[region]!;
    const far = solidDistance(guard.solid, applyPoint(guardFromPart, ball.centre)) - ball.radius;
    if (far > machine.clearance) {
      least = Math.min(least, far);
      return;
    }
    for (let i = 0; i < boxes.length; i += 6) {
      const low: Vec3 = [boxes[i]!, boxes[i + 1]!, boxes[i + 2]!];
      const high: Vec3 = [boxes[i + 3]!, boxes[i + 4]!, boxes[i + 5]!];
      const half = length(sub(high, low)) / 2;
      const middle: Vec3 = [0, 1, 2].map((c) => (low[c]! + high[c]!) / 2) as unknown as Vec3;
      least = Math.min(least, solidDistance(guard.solid, applyPoint(guardFromPart, middle)) - half);
    }
  });
  return least;
}

/** Points over the face, the underside and the rim of the table, part frame. */
function tablePoints(machine: Machine): Vec3[] {
  const { face, tableThickness } = machine;
  if (face.shape === 'disc') {
    return surfacePoints(
      { shape: 'cylinder', from: [0, 0, -tableThickness], to: [0, 0, 0], radius: face.radius },
      SPACING,
    );
  }
  const [x, y] = [face.size[0] / 2, face.size[1] / 2];
  return surfacePoints({ shape: 'box', from: [-x, -y, -tableThickness], to: [x, y, 0] }, SPACING);
}
