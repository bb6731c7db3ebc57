/**
 * Candidate joint paths from one pose to another, not yet checked: straight over low points; over points
 * raised by more and more; aside, where the head turns beside the part instead of over it; and two that
 * raise the plane through the tip over everything, one with all joints at once between two high points, one
 * with the tip led over the part at just the height that each angle needs.
 */
import { type Vec3, add, along, dot, scale, sub } from '../../base/vector.js';
import { carriedBy } from '../../machine/joint-chain.js';
import { forward } from '../../machine/forward.js';
import { headPoints } from '../../machine/head.js';
import { linearMap, mapInto } from '../../machine/linear.js';
import type { Machine } from '../../machine/machine.js';
import { type Bulk, clearOf, extent } from './swept-bounds.js';
import { between, follow } from '../lay/follow-direction.js';

/** A candidate path that is still to be checked. */
export interface CandidatePath {
  readonly knots: readonly Float64Array[];
  /** True if the knots lie on one smooth curve between the first and the last but one. */
  readonly smooth: boolean;
}

/** Spare clearance while the head turns, mm. */
export const TURN_SPARE = 0.1;
/** Heights of the tip over its first and last place, over the clearance, while it turns; mm. */
const TURN_HEIGHTS = [TURN_SPARE, 2, 6, 16];
/** Rounds of raising both ends of a turn. */
const RAISING_ROUNDS = 12;
/** Samples of a turn when its height is computed. */
const TURN_SAMPLES = 48;

export function candidatePaths(
  bulk: Bulk,
  start: Float64Array,
  end: Float64Array,
  chordError: number,
): CandidatePath[] {
  const { machine } = bulk;
  const paths: CandidatePath[] = [];
  for (const height of TURN_HEIGHTS) {
    const by = machine.clearance + height;
    const [high, over] = [lifted(machine, start, by), lifted(machine, end, by)];
    paths.push({ knots: [high, over, end], smooth: false });
    for (const side of sides(bulk, high, over)) {
      paths.push({ knots: [high, ...side, over, end], smooth: false });
    }
  }
  paths.push(turnAtOnce(bulk, start, end));
  const led = turnLed(bulk, start, end, chordError);
  if (led) paths.push(led);
  return paths;
}

/** The tip raised along the build direction by `height`, mm. */
export function lifted(machine: Machine, joints: Float64Array, height: number): Float64Array {
  const { tip, direction } = forward(machine, joints);
  const high = at(machine, joints, along(tip, direction, height));
  if (!high) throw new Error('linear joints do not span space where the head works');
  return high;
}

/** Joint values with the same rotaries and the plane through the tip clear of everything, mm. */
export function raised(bulk: Bulk, joints: Float64Array, more = 0): Float64Array {
  const { tip, direction } = forward(bulk.machine, joints);
  const need = bulk.machine.clearance + TURN_SPARE + more;
  return lifted(bulk.machine, joints, Math.max(0, need - clearOf(bulk, tip, direction)));
}

/** Undefined where the linear joints do not span space. */
function at(machine: Machine, rotaries: Float64Array, tip: Vec3): Float64Array | undefined {
  const map = linearMap(machine, rotaries);
  if (!map) return undefined;
  const out = new Float64Array(rotaries.length);
  mapInto(map, tip[0], tip[1], tip[2], out, 0);
  return out;
}

/**
 * Pairs of poses beside the part: the linear joints that run most square to the head are driven out
 * either way until the head stands beside a ball about table and part, and the turn is made there.
 */
function sides(bulk: Bulk, from: Float64Array, to: Float64Array): Float64Array[][] {
  const { machine } = bulk;
  const wide = Math.max(...headPoints(machine).map((p) => p.radius));
  const reach = bulk.radius + wide + machine.clearance + TURN_SPARE;
  return machine.joints.flatMap((joint, j) => {
    if (joint.kind !== 'linear' || Math.abs(axisInMachine(machine, from, j)[2]) > 0.5) return [];
    return [1, -1].flatMap((sign) => {
      const first = from.slice();
      const second = to.slice();
      // Beside the part origin as it stands before and after the turn.
      first[j] = sign > 0 ? Math.max(from[j]!, reach) : Math.min(from[j]!, -reach);
      second[j] = first[j]!;
      if (first[j]! > joint.most || first[j]! < joint.least) return [];
      return [[first, second]];
    });
  });
}

function axisInMachine(machine: Machine, joints: Float64Array, j: number): Vec3 {
  const f = carriedBy(machine, joints, j);
  const [x, y, z] = machine.joints[j]!.axis;
  return [
    f[0]! * x + f[4]! * y + f[8]! * z,
    f[1]! * x + f[5]! * y + f[9]! * z,
    f[2]! * x + f[6]! * y + f[10]! * z,
  ];
}

function turnAtOnce(bulk: Bulk, start: Float64Array, end: Float64Array): CandidatePath {
  let more = 0;
  let knots: Float64Array[] = [];
  for (let round = 0; round < RAISING_ROUNDS; round++) {
    const high = raised(bulk, start, more);
    const over = raised(bulk, end, more);
    knots = [high, over, end];
    const short = shortfall(bulk, high, over);
    if (short <= 0) break;
    more += short * (1 + round / 4) + 1e-6;
  }
  return { knots, smooth: false };
}

/** By how much the plane through the tip is too low in a turn, at samples; mm. */
function shortfall(bulk: Bulk, a: Float64Array, b: Float64Array): number {
  const need = bulk.machine.clearance + TURN_SPARE;
  let most = -Infinity;
  for (let i = 0; i <= TURN_SAMPLES; i++) {
    const { tip, direction } = forward(bulk.machine, between(a, b, i / TURN_SAMPLES));
    most = Math.max(most, need - 1e-9 - clearOf(bulk, tip, direction));
  }
  return most;
}

/** The tip led between the two high points, at each angle just as high as it needs. */
function turnLed(
  bulk: Bulk,
  start: Float64Array,
  end: Float64Array,
  chordError: number,
): CandidatePath | undefined {
  const { machine } = bulk;
  const high = raised(bulk, start, TURN_SPARE);
  const over = raised(bulk, end, TURN_SPARE);
  const from = forward(machine, high);
  const to = forward(machine, over);
  // Offsets from the head's axis through the part origin, and heights that the ends have to spare.
  const aside = (p: { tip: Vec3; direction: Vec3 }): Vec3 =>
    sub(p.tip, scale(p.direction, dot(p.tip, p.direction)));
  const spare = (p: { tip: Vec3; direction: Vec3 }): number => clearOf(bulk, p.tip, p.direction);
  const [a0, a1, s0, s1] = [aside(from), aside(to), spare(from), spare(to)];
  const turned = (t: number): Float64Array =>
    high.map((x, i) => (machine.joints[i]!.kind === 'rotary' ? x + t * (over[i]! - x) : 0));
  const tipAt = (t: number): Vec3 => {
    const d = forward(machine, turned(t)).direction;
    const side = add(scale(a0, 1 - t), scale(a1, t));
    const height = extent(bulk, d) + (1 - t) * s0 + t * s1;
    return along(side, d, height - dot(side, d));
  };
  const knots: Float64Array[] = [high];
  const led = follow(
    machine,
    high,
    (t) => (t === 1 ? over : at(machine, turned(t), tipAt(t))),
    tipAt,
    Math.max(chordError, LED),
    (joints) => knots.push(joints),
  );
  knots.push(end);
  return led ? { knots, smooth: true } : undefined;
}

/** How far the led tip may leave its path over the part, mm. */
const LED = TURN_SPARE / 2;
