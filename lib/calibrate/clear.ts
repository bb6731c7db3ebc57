/**
 * Whether a touch on a machine that is not yet measured is safe: joint values at the touch come in,
 * yes or no goes out. The head keeps its clearance and MARGIN more from table, targets and obstacles,
 * less only close to the point that it is to touch.
 */
import { applyPoint, compose, inverse } from '../base/frame.js';
import { type Vec3, length } from '../base/vector.js';
import { machineFromHead, machineFromPart } from '../machine/chain.js';
import type { Machine } from '../machine/machine.js';
import { headDistance, surfacePoints } from '../machine/solids.js';
import type { Boxes } from '../order/boxes.js';
import { type Bodies, bodiesOf } from '../motion/bodies.js';
import { tablePoints } from '../motion/gaps.js';
import { type Obstacles, obstaclesOf, roomAt } from '../motion/obstacles.js';
import type { Target } from './targets.js';

/** How much a machine may be out of its drawing where its head passes things, mm. */
export const MARGIN = 3;
/** Spacing of the points that stand for a target, mm. */
const SPACING = 2;
/** Within this distance of the tip only the flank of the nozzle is near, which the pose allows for. */
const CLOSE = 5;

export interface Room {
  /** The machine with MARGIN added to its clearance. */
  readonly machine: Machine;
  readonly bodies: Bodies;
  readonly obstacles: Obstacles;
  /** Surfaces of table and targets, part frame. */
  readonly points: readonly Vec3[];
}

export function roomOf(drawn: Machine, targets: readonly Target[]): Room {
  const machine = { ...drawn, clearance: drawn.clearance + MARGIN };
  const solids = targets.flatMap(solidPoints);
  const boxes: Boxes = Float64Array.from(solids.flatMap((p) => [...p, ...p]));
  return {
    machine,
    bodies: bodiesOf(machine, boxes.length ? [boxes] : []),
    obstacles: obstaclesOf(machine),
    points: [...tablePoints(machine), ...solids],
  };
}

/** Points of a target's surface and of what holds it up from the face. */
function solidPoints(target: Target): Vec3[] {
  if (target.kind === 'face') return [];
  if (target.kind === 'ball') return ballPoints(target.at, target.radius);
  const [l, w, h] = target.size;
  const [c, s] = [Math.cos(target.turn), Math.sin(target.turn)];
  return surfacePoints(
    { shape: 'box', from: [-l / 2, -w / 2, 0], to: [l / 2, w / 2, h] },
    SPACING,
  ).map(([x, y, z]): Vec3 => [target.at[0] + c * x - s * y, target.at[1] + s * x + c * y, z]);
}

function ballPoints(at: Vec3, radius: number): Vec3[] {
  const out: Vec3[] = [];
  const rings = Math.max(6, Math.ceil((Math.PI * radius) / SPACING));
  for (let i = 0; i <= rings; i++) {
    const polar = (Math.PI * i) / rings;
    for (let k = 0; k < 2 * rings; k++) {
      const a = (Math.PI * k) / rings;
      const r = radius * Math.sin(polar);
      out.push([
        at[0] + r * Math.cos(a),
        at[1] + r * Math.sin(a),
        at[2] + radius * Math.cos(polar),
      ]);
    }
  }
  // Its foot is taken as a post of half its radius.
  const foot = at[2] - radius;
  for (let z = 0; z < foot; z += SPACING) {
    for (let k = 0; k < 8; k++) {
      const a = (Math.PI * k) / 4;
      out.push([at[0] + (radius / 2) * Math.cos(a), at[1] + (radius / 2) * Math.sin(a), z]);
    }
  }
  return out;
}

export function isClear(room: Room, joints: Float64Array): boolean {
  const { machine, bodies, obstacles, points } = room;
  const f = compose(inverse(machineFromHead(machine, joints)), machineFromPart(machine, joints));
  for (const p of points) {
    const q = applyPoint(f, p);
    const apart = length(q);
    if (apart <= CLOSE) continue;
    // What is asked for grows away from the tip: the surface that is touched begins there.
    if (headDistance(machine, q) < Math.min(machine.clearance, apart / 6)) return false;
  }
  return roomAt(obstacles, bodies, joints).room >= 0;
}
