/**
 * Whether poses and moves of a machine that is not yet measured are safe around its touches. The head keeps
 * its clearance and a margin more from table, targets and obstacles; at a touch it comes nearer only
 * close to the point that it is to touch.
 */
import { applyPoint, compose, inverse } from '../base/frame.js';
import { type Vec3, length } from '../base/vector.js';
import {
  type ClearancePair,
  firstClose,
  gapAt,
} from '../clearance/convex/conservative-advancement.js';
import {
  type CarriedThings,
  type MachineBodies,
  bodiesOf,
  lastCarrier,
} from '../clearance/machine-bodies.js';
import { RigidBody } from '../clearance/body.js';
import { DistanceSearch } from '../clearance/nearest-on-path.js';
import { ZERO_GAP_ROUNDING } from '../clearance/scene.js';
import { type Path, still as standing } from '../clearance/body-path.js';
import { type ConvexShape, hull, roundShape } from '../clearance/convex/support-shape.js';
import { faceFrame, machineFromHead, machineFromPart } from '../machine/joint-chain.js';
import { limitOf } from '../machine/inverse.js';
import type { Machine } from '../machine/machine.js';
import { headDistance, meshPoints, surfacePoints } from '../machine/solid-distance.js';
import type { Target } from './targets.js';

/** How a program looks for its targets: what the machine may deviate, mm. */
export interface SearchWay {
  /** Height over a touch from which the tip comes down slowly: more than a machine deviates. */
  readonly approach: number;
  /** How far below a touch it gives up. */
  readonly below: number;
  /** How much more than its clearance the head keeps where it passes things. */
  readonly margin: number;
}

/** For a machine as drawn, with errors to 1 mm and 1 deg, and targets that stand within 1.5 mm of their place. */
export const COARSE_SEARCH: SearchWay = { approach: 14, below: 9, margin: 7 };
/** For a machine that a coarse program has measured. */
export const FINE_SEARCH: SearchWay = { approach: 6, below: 3, margin: 3 };
/** Spacing of the points that represent table and targets, mm. */
const POINT_SPACING = 3;
/** Within this distance of the tip only the flank of the nozzle is near, which the pose allows for. */
const FLANK_ONLY = 5;

export interface TouchRoom {
  /** Its clearance is wider by the margin of the search. */
  readonly machine: Machine;
  readonly search: DistanceSearch;
  readonly still: Path;
  /** Pairs that keep clear while nothing is touched. */
  readonly apart: readonly ClearancePair[];
  /** Pairs that keep clear even at a touch. */
  readonly always: readonly ClearancePair[];
  /** Points of the surfaces that may be touched, part frame. */
  readonly points: readonly Vec3[];
}

export function roomOf(
  drawn: Machine,
  targets: readonly Target[],
  { margin }: SearchWay,
): TouchRoom {
  const machine = { ...drawn, clearance: drawn.clearance + margin };
  const bodies = bodiesOf(machine);
  const search = new DistanceSearch();
  const still = standing();
  const rest = targets.flatMap((t) => bodyOf(t, machine));
  const touched: CarriedThings[] = [bodies.table, ...rest];
  const apart = pairsOf(machine, bodies, rest, margin).filter(({ body, things, need }) => {
    // What lies together with all joints at zero, such as a bearing under the table, belongs together.
    const zero = new Float64Array(machine.joints.length);
    if (body === bodies.wholeHead && touched.includes(things)) return true;
    const pair = { body, things, need };
    return !gapAt(machine, search, pair, zero, still, drawn.clearance + ZERO_GAP_ROUNDING, 0);
  });
  return {
    machine,
    search,
    still,
    apart,
    always: apart.filter((p) => !(p.body === bodies.wholeHead && touched.includes(p.things))),
    points: [...tablePoints(machine), ...targets.flatMap(targetPoints)],
  };
}

/** Everything that moves against something else. */
function pairsOf(
  machine: Machine,
  bodies: MachineBodies,
  rest: readonly CarriedThings[],
  margin: number,
): ClearancePair[] {
  // Nothing is laid here, so the tip keeps clear like the rest of the head.
  const { wholeHead, table, obstacles } = bodies;
  const all: CarriedThings<RigidBody>[] = [wholeHead, table, ...obstacles];
  const pairs: ClearancePair[] = [];
  all.forEach((body, i) => {
    for (const things of [...all.slice(i + 1), ...(body === table ? [] : rest)]) {
      if (body.carrier === things.carrier) continue;
      // A head and the fork that holds it, or a slide and its rails, are as near as they were built.
      const built = side(machine, body) === side(machine, things) || i > 1;
      const need = machine.clearance - (built && !rest.includes(things) ? margin : 0);
      pairs.push({ body, things, need });
    }
  });
  return pairs;
}

const side = (machine: Machine, { carrier }: CarriedThings): string =>
  carrier < 0 ? 'frame' : machine.joints[carrier]!.carriesTable ? 'table' : 'head';

/** A target as the table carries it; the support of a ball is taken as a post of half its radius. */
function bodyOf(target: Target, machine: Machine): CarriedThings<RigidBody>[] {
  if (target.kind === 'face') return [];
  const shapes = target.kind === 'ball' ? ballShapes(target) : [hull(blockCorners(target))];
  return [
    {
      name: `the ${target.kind}`,
      things: new RigidBody(shapes.map((shape) => ({ shape }))),
      carrier: lastCarrier(machine, true),
      fixed: faceFrame(machine),
    },
  ];
}

function ballShapes({ at, radius }: Extract<Target, { kind: 'ball' }>): ConvexShape[] {
  const ring = (z: number): { centre: Vec3; radius: number } => ({
    centre: [at[0], at[1], z],
    radius: radius / 2,
  });
  return [hull([at], radius), roundShape([ring(0), ring(Math.max(0, at[2]))], [0, 0, 1])];
}

type TargetBlock = Extract<Target, { kind: 'block' }>;

function placed({ at, turn }: TargetBlock, [x, y, z]: Vec3): Vec3 {
  const [c, s] = [Math.cos(turn), Math.sin(turn)];
  return [at[0] + c * x - s * y, at[1] + s * x + c * y, z];
}

function blockCorners(block: TargetBlock): Vec3[] {
  const [l, w, h] = block.size;
  return [0, h].flatMap((z) =>
    [-1, 1].flatMap((i) => [-1, 1].map((k) => placed(block, [(i * l) / 2, (k * w) / 2, z]))),
  );
}

/** Points over the face, the underside and the rim of the table. */
function tablePoints({ face, tableThickness, tableMesh }: Machine): Vec3[] {
  if (tableMesh) return meshPoints(tableMesh, POINT_SPACING);
  if (face.shape === 'disc') {
    const { radius } = face;
    return surfacePoints(
      { shape: 'cylinder', from: [0, 0, -tableThickness], to: [0, 0, 0], radius },
      POINT_SPACING,
    );
  }
  const [x, y] = [face.size[0] / 2, face.size[1] / 2];
  return surfacePoints(
    { shape: 'box', from: [-x, -y, -tableThickness], to: [x, y, 0] },
    POINT_SPACING,
  );
}

function targetPoints(target: Target): Vec3[] {
  if (target.kind === 'face') return [];
  if (target.kind === 'block') {
    const [l, w, h] = target.size;
    const from: Vec3 = [-l / 2, -w / 2, 0];
    return surfacePoints({ shape: 'box', from, to: [l / 2, w / 2, h] }, POINT_SPACING).map((p) =>
      placed(target, p),
    );
  }
  const { at, radius } = target;
  const rings = Math.max(6, Math.ceil((Math.PI * radius) / POINT_SPACING));
  return Array.from({ length: rings + 1 }, (_, i) => (Math.PI * i) / rings).flatMap((polar) =>
    Array.from({ length: 2 * rings }, (_, k): Vec3 => {
      const [a, r] = [(Math.PI * k) / rings, radius * Math.sin(polar)];
      return [at[0] + r * Math.cos(a), at[1] + r * Math.sin(a), at[2] + radius * Math.cos(polar)];
    }),
  );
}

/** True if the head may stand so, with its tip at a touch. */
export function canTouch(room: TouchRoom, joints: Float64Array): boolean {
  const { machine } = room;
  const f = compose(inverse(machineFromHead(machine, joints)), machineFromPart(machine, joints));
  for (const p of room.points) {
    const q = applyPoint(f, p);
    const apart = length(q);
    if (apart <= FLANK_ONLY) continue;
    // The required distance grows away from the tip: the surface that is touched begins there.
    if (headDistance(machine, q) < Math.min(machine.clearance, apart / 6)) return false;
  }
  return isFree(room, joints, joints, true);
}

/**
 * True if the straight joint move from a to b keeps everything apart and every joint in its travel.
 * @param touching true for the last move down to a touch and the first up from it
 */
export function isFree(
  room: TouchRoom,
  a: Float64Array,
  b: Float64Array,
  touching: boolean,
): boolean {
  const { machine, search, still } = room;
  if (b.some((v, i) => limitOf(machine.joints[i]!, v) !== undefined)) return false;
  return (touching ? room.always : room.apart).every(
    (pair) => !firstClose(machine, search, pair, a, b, still),
  );
}
