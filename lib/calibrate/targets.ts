/**
 * What the nozzle touches and how far it is from it: at given joint values, the distance along the head's
 * own axis until tip and target touch. All targets are fixed to the table and are placed in the part frame,
 * mm and rad.
 *
 * The nozzle is its own probe. Its tip is a small disc (the flat), so over a leaning face the rim of the
 * flat touches first, and a ball is touched by the flat or by its rim; both are taken into account here.
 */
import { z } from 'zod';
import { DEG, type Vec3, dot, sub } from '../base/vector.js';
import { forward } from '../machine/forward.js';
import type { Machine } from '../machine/machine.js';

const positive = z.number().positive();

/** Files say degrees. */
export const targetFile = z.discriminatedUnion('kind', [
  z.strictObject({ kind: z.literal('face').describe('the table face, bare where it is touched') }),
  z.strictObject({
    kind: z.literal('ball'),
    at: z
      .tuple([z.number(), z.number(), z.number()])
      .describe('where the centre is, roughly, part frame, mm'),
    diameter: positive.describe('mm, known'),
  }),
  z.strictObject({
    kind: z.literal('block'),
    at: z.tuple([z.number(), z.number()]).describe('where the middle is, roughly, part frame, mm'),
    turn: z.number().default(0).describe('of its length from part X, roughly, deg'),
    size: z
      .tuple([positive, positive, positive])
      .describe('length, width and height over the face, known, mm'),
  }),
]);
export type TargetFile = z.output<typeof targetFile>;

/** Where a target really is. */
export type Target =
  | { readonly kind: 'face' }
  | { readonly kind: 'ball'; readonly at: Vec3; readonly radius: number }
  | {
      readonly kind: 'block';
      readonly at: readonly [number, number];
      readonly turn: number;
      readonly size: Vec3;
    };

export const targetFrom = (t: TargetFile): Target =>
  t.kind === 'ball'
    ? { kind: 'ball', at: t.at, radius: t.diameter / 2 }
    : t.kind === 'block'
      ? { ...t, turn: t.turn * DEG }
      : t;

/** What one touch is aimed at. */
export const AIMS = ['face', 'ball', 'block +x', 'block -x', 'block +y', 'block -y'] as const;
export type Aim = (typeof AIMS)[number];

/** Kind of the target that an aim belongs to. */
export const kindOf = (aim: Aim): Target['kind'] => aim.split(' ')[0] as Target['kind'];

interface TargetPlane {
  readonly normal: Vec3;
  readonly point: Vec3;
}

/** The plane of an aim, part frame; undefined for the ball. */
export function planeOf(aim: Aim, target: Target): TargetPlane | undefined {
  if (target.kind === 'face') return { normal: [0, 0, 1], point: [0, 0, 0] };
  if (target.kind === 'ball') return undefined;
  const [sign, axis] = [aim[6] === '-' ? -1 : 1, aim[7] === 'y' ? 1 : 0];
  const angle = target.turn + (axis * Math.PI) / 2;
  const normal: Vec3 = [sign * Math.cos(angle), sign * Math.sin(angle), 0];
  const half = target.size[axis]! / 2;
  return {
    normal,
    point: [target.at[0] + half * normal[0], target.at[1] + half * normal[1], target.size[2] / 2],
  };
}

/**
 * Distance along the head's axis between tip and target, mm; negative once the tip is inside. Not a
 * number where the tip moves along the face.
 * @param flat radius of the flat of the tip, mm
 */
export function distanceLeft(
  machine: Machine,
  flat: number,
  aim: Aim,
  target: Target,
  joints: ArrayLike<number>,
): number {
  const { tip, direction: up } = forward(machine, joints);
  const plane = planeOf(aim, target);
  if (!plane) return target.kind === 'ball' ? overBall(target, flat, tip, up) : NaN;
  const cosine = dot(plane.normal, up);
  if (cosine <= 0) return NaN;
  const rim = flat * Math.sqrt(Math.max(0, 1 - cosine * cosine));
  return (dot(plane.normal, sub(tip, plane.point)) - rim) / cosine;
}

/** Share of the radius up to which a ball is round; beyond it falls off along its tangent. */
const ROUND_BALL = 0.9;

/**
 * From the tip down to the ball: the rim stands `aside` off the line through the centre, where the
 * ball is sqrt(R^2 - aside^2) high. Where the flank would touch first no touch is planned,
 * but a search may pass there, and must find its way back.
 */
function overBall(
  ball: Extract<Target, { kind: 'ball' }>,
  flat: number,
  tip: Vec3,
  up: Vec3,
): number {
  const off = sub(tip, ball.at);
  const height = dot(off, up);
  const away = Math.sqrt(Math.max(0, dot(off, off) - height * height));
  const aside = Math.max(0, away - flat);
  const edge = Math.min(aside, ROUND_BALL * ball.radius);
  const round = Math.sqrt(ball.radius * ball.radius - edge * edge);
  return height - round + ((aside - edge) * edge) / round;
}
