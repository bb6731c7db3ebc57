/**
 * Where a touch is possible: every aim at many places and poses as joint values at the touch, those that
 * the joints reach and at which the tip touches before the flank of the nozzle does. Clearance is checked
 * later, for the few that are chosen.
 */
import { DEG, type Vec3, along, cross, dot, square } from '../base/vector.js';
import { jointsOf } from '../machine/joint-chain.js';
import { forward } from '../machine/forward.js';
import { limitOf } from '../machine/inverse.js';
import { linearMap, mapInto } from '../machine/linear.js';
import type { Machine } from '../machine/machine.js';
import { contact, downward } from './touch-contact.js';
import type { DeviationModel } from './deviation-model.js';
import type { DeviatedMachine } from './effect.js';
import { stateAt } from './deviation-model.js';
import { type Aim, type Target, kindOf, planeOf } from './targets.js';

/** A possible touch. */
export interface CandidateTouch {
  readonly aim: Aim;
  /** At the touch, order of Machine.joints. */
  readonly joints: Float64Array;
  /** Change of the joint values for 1 mm down the head's axis. */
  readonly down: Float64Array;
}

/** Steps of a joint that goes round, and of one that goes to and fro. */
const ROUND_STEPS = 12;
const FRO_STEPS = 7;
/**
 * Farthest that a joint is turned for a touch, deg: more adds little information and comes near to things.
 */
const MOST_TOUCH_TURN = 60;
/** The flank must lean away from the surface by this much more than the surface leans, deg. */
const FLANK_SPARE = 6;
/** Lean of the ball's surface where its side is touched, deg. */
const ON_BALL = 35;

/** @param coarse only the middle of targets, which is met though the machine is some millimetres off */
export function candidates(model: DeviationModel, coarse = false): CandidateTouch[] {
  const state = stateAt(model, new Float64Array(model.parameters.length));
  const lean = Math.min(steepest(model.machine), 75 * DEG);
  const aims = model.targets.flatMap((t): Aim[] =>
    t.kind === 'block' ? ['block +x', 'block -x', 'block +y', 'block -y'] : [t.kind],
  );
  return poses(model.machine).flatMap((pose) => {
    const up = forward(model.machine, pose).direction;
    const map = linearMap(model.machine, pose);
    if (!map) return [];
    return aims.flatMap((aim) =>
      places(model, aim, up, lean, coarse).flatMap((p): CandidateTouch[] => {
        const from = new Float64Array(pose.length);
        mapInto(map, p[0], p[1], p[2], from, 0);
        const found = reached(state, aim, from);
        return found ? [found] : [];
      }),
    );
  });
}

function reached(state: DeviatedMachine, aim: Aim, from: Float64Array): CandidateTouch | undefined {
  const down = downward(state.machine, from);
  const joints = down && contact(state, aim, from, down);
  if (!joints || joints.some((v, i) => limitOf(state.machine.joints[i]!, v) !== undefined)) {
    return undefined;
  }
  return { aim, joints, down };
}

/** Rotary values on an even grid; linear ones zero. */
function poses(machine: Machine): Float64Array[] {
  let out = [new Float64Array(machine.joints.length)];
  for (const i of jointsOf(machine, 'rotary')) {
    const { least, most } = machine.joints[i]!;
    const round = most - least >= 2 * Math.PI - 1e-9;
    const [from, to] = round
      ? [Math.max(least, -Math.PI), Math.max(least, -Math.PI) + 2 * Math.PI]
      : [Math.max(least, -MOST_TOUCH_TURN * DEG), Math.min(most, MOST_TOUCH_TURN * DEG)];
    const count = round ? ROUND_STEPS : FRO_STEPS;
    const values = Array.from(
      { length: count },
      (_, k) => from + ((to - from) * k) / (round ? count : count - 1),
    );
    out = out.flatMap((pose) =>
      values.map((v) => {
        const next = pose.slice();
        next[i] = v;
        return next;
      }),
    );
  }
  return out;
}

/** Steepest lean of a surface, from square to the head, that the tip touches before the flank does. */
function steepest({ stack }: Machine): number {
  let least = Math.PI / 2;
  const tip = stack[0]!;
  for (const s of stack) {
    if (s.above > 0) least = Math.min(least, Math.atan2(s.above, s.radius - tip.radius));
    if (s.above > NOZZLE) break;
  }
  return least - FLANK_SPARE * DEG;
}

/** Height over the tip up to which the outline counts as its flank, mm. */
const NOZZLE = 4;

/** Tip places near an aim, part frame, mm. */
function places(model: DeviationModel, aim: Aim, up: Vec3, lean: number, coarse: boolean): Vec3[] {
  const target = model.targets.find((t) => t.kind === kindOf(aim))!;
  const plane = planeOf(aim, target);
  if (plane && dot(plane.normal, up) < Math.cos(lean)) return [];
  if (target.kind === 'face') return facePlaces(model.machine);
  if (target.kind === 'ball') {
    return coarse ? [along(target.at, up, target.radius)] : ballPlaces(model, target, up);
  }
  const side = cross([0, 0, 1], plane!.normal);
  const half = target.size[aim[7] === 'y' ? 0 : 1]! / 2;
  // High on the side: the flank has most room there.
  const height = coarse ? target.size[2] / 2 : Math.max(target.size[2] / 2, target.size[2] - 4);
  return (coarse ? [0] : [-0.7, 0, 0.7]).map((share) => {
    const p = along(plane!.point, side, share * half);
    return [p[0], p[1], height];
  });
}

function facePlaces({ face }: Machine): Vec3[] {
  if (face.shape === 'rectangle') {
    const shares = [-0.45, -0.225, 0, 0.225, 0.45];
    return shares.flatMap((x) => shares.map((y): Vec3 => [x * face.size[0], y * face.size[1], 0]));
  }
  const ring = (share: number): Vec3[] =>
    Array.from({ length: 8 }, (_, k) => {
      const a = (2 * Math.PI * k) / 8;
      return [share * face.radius * Math.cos(a), share * face.radius * Math.sin(a), 0];
    });
  return [[0, 0, 0], ...ring(0.5), ...ring(0.9)];
}

function ballPlaces(
  { machine }: DeviationModel,
  ball: Extract<Target, { kind: 'ball' }>,
  up: Vec3,
): Vec3[] {
  const u = square(up);
  const v = cross(up, u);
  const off = ball.radius * Math.sin(ON_BALL * DEG) + machine.nozzle.flat / 2;
  const top = along(ball.at, up, ball.radius);
  const around = Array.from({ length: 4 }, (_, k) => {
    const a = (Math.PI * k) / 2;
    return along(along(top, u, off * Math.cos(a)), v, off * Math.sin(a));
  });
  return [top, ...around];
}
