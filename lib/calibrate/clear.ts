/**
 * Whether a touch on a machine that is not yet measured is safe: joint values at the touch come in,
 * yes or no goes out. The head keeps its clearance and MARGIN more from table, targets and obstacles,
 * less only close to the point that it is to touch.
 */
import { applyPoint, compose, inverse } from '../base/frame.js';
import { type Vec3, length, pointAt } from '../base/vector.js';
import { machineFromHead, machineFromPart } from '../machine/chain.js';
import { type Pair, gapAt } from '../clearance/advance.js';
import { Body, type Piece } from '../clearance/body.js';
import { type Setting, settingOf } from '../clearance/scene.js';
import { boxShape, hull, roundShape } from '../clearance/shape.js';
import type { Machine } from '../machine/machine.js';
import { headDistance, surfacePoints } from '../machine/solids.js';
import type { Target } from './targets.js';

/** How much a machine may be out of its drawing where its head passes things, mm. */
export const MARGIN = 3;
/** Spacing of the points that stand for a target, mm. */
const SPACING = 2;
/** The same for the table, mm. */
const TABLE = 4;
/** Within this distance of the tip only the flank of the nozzle is near, which the pose allows for. */
const CLOSE = 5;

export interface Room {
  /** The machine with MARGIN added to its clearance. */
  readonly machine: Machine;
  readonly setting: Setting;
  /** What must keep clear of the obstacles. */
  readonly pairs: readonly Pair[];
  /** Surfaces of table and targets, part frame. */
  readonly points: readonly Vec3[];
}

export function roomOf(drawn: Machine, targets: readonly Target[]): Room {
  const machine = { ...drawn, clearance: drawn.clearance + MARGIN };
  const setting = settingOf(machine);
  const { head, table, obstacles } = setting.bodies;
  const pieces = targets.flatMap(piecesOf);
  const set = { ...table, name: 'a target', things: new Body(pieces) };
  const withTargets = obstacles.flatMap((body): Pair[] =>
    pieces.length > 0 && body.carrier !== set.carrier
      ? [{ body, things: set, need: machine.clearance }]
      : [],
  );
  // The head may come to table and targets: that is asked point by point.
  const others = setting.pairs.filter((p) => p.body !== head || p.things !== table);
  return {
    machine,
    setting,
    pairs: [...others, ...withTargets],
    points: [...tablePoints(machine), ...targets.flatMap(solidPoints)],
  };
}

/** A target as convex pieces, part frame. */
function piecesOf(target: Target): Piece[] {
  if (target.kind === 'face') return [];
  if (target.kind === 'ball') {
    const [x, y, z] = target.at;
    const foot = [0, z].map((h) => ({ centre: [x, y, h] as Vec3, radius: target.radius / 2 }));
    return [{ shape: hull([target.at], target.radius) }, { shape: roundShape(foot, [0, 0, 1]) }];
  }
  const [l, w, h] = target.size;
  const { points } = boxShape([-l / 2, -w / 2, 0], [l / 2, w / 2, h]);
  const corners = [0, 1, 2, 3, 4, 5, 6, 7].map((i) => turned(target, pointAt(points, i)));
  return [{ shape: hull(corners) }];
}

function turned(target: Extract<Target, { kind: 'block' }>, [x, y, z]: Vec3): Vec3 {
  const [c, s] = [Math.cos(target.turn), Math.sin(target.turn)];
  return [target.at[0] + c * x - s * y, target.at[1] + s * x + c * y, z];
}

/** Points over the face, the underside and the rim of the table, part frame. */
function tablePoints({ face, tableThickness }: Machine): Vec3[] {
  const low = -tableThickness;
  if (face.shape === 'disc') {
    const { radius } = face;
    return surfacePoints({ shape: 'cylinder', from: [0, 0, low], to: [0, 0, 0], radius }, TABLE);
  }
  const [x, y] = [face.size[0] / 2, face.size[1] / 2];
  return surfacePoints({ shape: 'box', from: [-x, -y, low], to: [x, y, 0] }, TABLE);
}

/** Points of a target's surface and of what holds it up from the face. */
function solidPoints(target: Target): Vec3[] {
  if (target.kind === 'face') return [];
  if (target.kind === 'ball') return ballPoints(target.at, target.radius);
  const [l, w, h] = target.size;
  return surfacePoints(
    { shape: 'box', from: [-l / 2, -w / 2, 0], to: [l / 2, w / 2, h] },
    SPACING,
  ).map((p) => turned(target, p));
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
  const { machine, setting, pairs, points } = room;
  const f = compose(inverse(machineFromHead(machine, joints)), machineFromPart(machine, joints));
  for (const p of points) {
    const q = applyPoint(f, p);
    const apart = length(q);
    if (apart <= CLOSE) continue;
    // What is asked for grows away from the tip: the surface that is touched begins there.
    if (headDistance(machine, q) < Math.min(machine.clearance, apart / 6)) return false;
  }
  return pairs.every(
    (pair) => !gapAt(machine, setting.meeter, pair, joints, setting.still, pair.need, 0),
  );
}
