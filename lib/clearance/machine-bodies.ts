/**
 * The bodies of a machine: head, table and every obstacle as convex pieces, each with the joint that
 * carries it. The lowest `clearance` of the head is its tip, which must come near to what it prints on; the
 * body of the head begins above it, with a foot as wide as anything below. For an outline that widens
 * upwards, a body that keeps the clearance c leaves every point of the tip at height s over the nozzle at
 * least s away: balls of radius s around the tip lie inside balls of radius c around the foot. Over its own
 * base plane the head comes nearer (`marginsUnder`).
 */
import { type Frame, applyPoint, compose, identity, shift } from '../base/frame.js';
import { type Vec3, along, dot, length, sub, unit } from '../base/vector.js';
import { carriedBy, faceFrame } from '../machine/joint-chain.js';
import { type Frustum, marginsUnder, outlineFrom, frustaFrom } from '../machine/head.js';
import type { Machine } from '../machine/machine.js';
import { RigidBody, type ConvexPiece, type Things, meshBody } from './body.js';
import { meshPieces } from './mesh-body.js';
import { boxShape, roundShape } from './convex/support-shape.js';

/** Something that a joint carries. */
export interface CarriedThings<T extends Things = Things> {
  readonly name: string;
  readonly things: T;
  /** Index in `Machine.joints`, -1 for the frame. */
  readonly carrier: number;
  /** Machine coordinates with all joints at zero from the frame of the things. */
  readonly fixed: Frame;
}

export interface MachineBodies {
  /** Without the tip. */
  readonly head: CarriedThings<RigidBody>;
  /** Which part of the head keeps which distance from what lies under the base plane (`marginsUnder`). */
  readonly overBase: readonly { readonly body: CarriedThings<RigidBody>; readonly need: number }[];
  /**
   * With the tip, but higher than it stands by what a nozzle rubs over: what must not touch beads of curved layers, which
   * may rise towards it beside the one that is laid.
   */
  readonly overSheet: CarriedThings<RigidBody>;
  /** With the tip: what must keep clear while nothing is laid. */
  readonly wholeHead: CarriedThings<RigidBody>;
  readonly table: CarriedThings<RigidBody>;
  readonly obstacles: readonly CarriedThings<RigidBody>[];
}

/**
 * A nozzle rubs over what stands no higher over its tip, mm: one and a half layers of 0.2 mm, as the check has it, and as
 * much more as its cubes cannot tell apart. With 0.3 a ring on B-C was refused for 0.04 mm that the check does not find.
 */
export const RUBBED_OVER = 0.35;

export const HEAD_NAME = 'the head';
export const TABLE_NAME = 'the table';

export function bodiesOf(machine: Machine): MachineBodies {
  const [x, y, z] = machine.tip;
  const meshes = machine.headMeshes.map(({ tree }) => meshPieces(tree.mesh));
  const head = (from: number): CarriedThings<RigidBody> => ({
    name: HEAD_NAME,
    things: headBody(machine, meshes, from),
    carrier: lastCarrier(machine, false),
    fixed: shift(machine.tip),
  });
  return {
    head: head(machine.clearance),
    overBase: marginsUnder(machine).map(({ from, need }) => ({ body: head(from), need })),
    overSheet: { ...head(0), fixed: shift([x, y, z + RUBBED_OVER]) },
    wholeHead: head(0),
    table: {
      name: TABLE_NAME,
      things: machine.tableMesh
        ? meshBody(machine.tableMesh)
        : new RigidBody([tablePiece(machine)]),
      carrier: lastCarrier(machine, true),
      fixed: faceFrame(machine),
    },
    obstacles: machine.obstacles.map((o) => ({
      name: `"${o.name}"`,
      things: obstacleBody(o.solid),
      carrier: o.carriedBy,
      fixed: identity(),
    })),
  };
}

/** The joint next to the head or to the table. */
export const lastCarrier = (machine: Machine, table: boolean): number =>
  machine.joints.reduce((last, j, i) => (j.carriesTable === table ? i : last), -1);

const UP: Vec3 = [0, 0, 1];

/** The part of the head above the height `from`. */
function headBody(
  { stack, headBoxes }: Machine,
  meshes: readonly ReturnType<typeof meshPieces>[],
  from: number,
): RigidBody {
  const boxes = headBoxes.map((b) => ({ shape: boxShape(b.from, b.to) }));
  const rounds = stack.length > 0 ? outlineFrom(stack, from).map(frustum) : [];
  return new RigidBody(
    [...rounds, ...boxes],
    meshes.map((over) => over(from)),
  );
}

/**
 * The head as a body of revolution over the height `from`, boxes by their farthest corners, meshes by
 * their outlines: however it stands about its axis.
 */
export const roundHead = (machine: Machine, from: number): RigidBody =>
  new RigidBody(frustaFrom(machine, from).map(frustum));

function frustum(round: Frustum): ConvexPiece {
  const { low, lowRadius, high, highRadius } = round;
  const rings = [
    { centre: [0, 0, low] as Vec3, radius: lowRadius },
    { centre: [0, 0, high] as Vec3, radius: highRadius },
  ];
  const shape = roundShape(rings, UP);
  return high > low ? { shape, round } : { shape };
}

function tablePiece({ face, tableThickness }: Machine): ConvexPiece {
  const low = -tableThickness;
  if (face.shape === 'disc') {
    return frustum({ low, lowRadius: face.radius, high: 0, highRadius: face.radius });
  }
  const [x, y] = [face.size[0] / 2, face.size[1] / 2];
  return { shape: boxShape([-x, -y, low], [x, y, 0]) };
}

function obstacleBody(solid: Machine['obstacles'][number]['solid']): RigidBody {
  if (solid.shape === 'mesh') return meshBody(solid.mesh);
  if (solid.shape === 'box') return new RigidBody([{ shape: boxShape(solid.from, solid.to) }]);
  const { from, to, radius } = solid;
  const rings = [from, to].map((centre) => ({ centre, radius }));
  return new RigidBody([{ shape: roundShape(rings, unit(sub(to, from))) }]);
}

/** Machine coordinates from the frame of what is carried. */
export const machineFrom = (machine: Machine, c: CarriedThings, joints: ArrayLike<number>): Frame =>
  compose(carriedBy(machine, joints, c.carrier), c.fixed);

/** Farthest that any point of what is carried moves while the joints run straight from a to b, mm. */
export function mostMoved(
  machine: Machine,
  c: CarriedThings,
  a: ArrayLike<number>,
  b: ArrayLike<number>,
): number {
  const chain = chainOf(machine, c);
  const ball = ballOf(c);
  let sum = 0;
  chain.forEach((j, k) => {
    const joint = machine.joints[j]!;
    const step = Math.abs(b[j]! - a[j]!);
    if (step === 0) return;
    sum +=
      joint.kind === 'linear'
        ? step * length(joint.axis)
        : step *
          (reach(machine, chain, k + 1, foot(machine, j, ball), ball, a, b) +
            Math.hypot(...joint.runOut));
  });
  return sum;
}

/** Joints that carry it, from the frame outwards. */
function chainOf(machine: Machine, c: CarriedThings): number[] {
  if (c.carrier < 0) return [];
  const table = machine.joints[c.carrier]!.carriesTable;
  return machine.joints.flatMap((j, i) => (i <= c.carrier && j.carriesTable === table ? [i] : []));
}

export interface BoundingBall {
  readonly centre: Vec3;
  readonly radius: number;
}

/** A ball around it as it stands with all joints at zero. */
export function ballOf(c: CarriedThings): BoundingBall {
  const top = c.things.tree.levels.at(-1)!;
  return {
    centre: applyPoint(c.fixed, [top[0]!, top[1]!, top[2]!]),
    radius: Math.hypot(top[3]!, top[4]!, top[5]!),
  };
}

/** The point of a rotary joint's axis that is nearest to the ball. */
function foot(machine: Machine, j: number, { centre }: BoundingBall): Vec3 {
  const { axis, point } = machine.joints[j]!;
  return along(point, axis, dot(sub(centre, point), axis));
}

/**
 * Farthest that the ball can be from a point that moves with joint `chain[k - 1]`, whatever the joints
 * from chain[k] on do between a and b: a linear one shifts it, a rotary one keeps its distance from any
 * point of the axis.
 */
function reach(
  machine: Machine,
  chain: readonly number[],
  k: number,
  from: Vec3,
  ball: BoundingBall,
  a: ArrayLike<number>,
  b: ArrayLike<number>,
): number {
  const j = chain[k];
  if (j === undefined) return length(sub(ball.centre, from)) + ball.radius;
  if (machine.joints[j]!.kind === 'linear') {
    const shifted = length(machine.joints[j]!.axis) * Math.max(Math.abs(a[j]!), Math.abs(b[j]!));
    return shifted + reach(machine, chain, k + 1, from, ball, a, b);
  }
  const own = foot(machine, j, ball);
  // Run-out shifts by at most this much along the axis.
  const [x, y] = machine.joints[j]!.runOut;
  const shifted = 2 * Math.abs(x) + Math.abs(y);
  return shifted + length(sub(own, from)) + reach(machine, chain, k + 1, own, ball, a, b);
}
