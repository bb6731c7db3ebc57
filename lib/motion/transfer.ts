/**
 * From one region to the next: joint values where the tip is and where it should be come in, the
 * joint values at the ends of straight joint moves go out. The head leaves along the build direction
 * until the plane through the tip, square to the head, has table and printed regions on one side and
 * so the whole head on the other, turns there, and comes down along the new build direction.
 *
 * Two ways of turning are tried and the quicker one that keeps clear and inside all travel is taken:
 * all joints at once between two high points (a head that stands upright over a tilting table then
 * simply waits), and the tip led over the part at just the height that each angle needs. Both are
 * judged at steps so small that nothing moves farther than STEP between them, with half a step added
 * to the clearance, so nothing is missed between two samples.
 */
import { type Vec3, add, along, dot, length, scale, sub } from '../base/vector.js';
import { forward } from '../machine/forward.js';
import { linearMap, mapInto } from '../machine/linear.js';
import type { Machine } from '../machine/machine.js';
import { type Bodies, clearOf, extent } from './bodies.js';
import { between, follow } from './follow.js';
import { type Obstacles, roomAt } from './obstacles.js';
import { spell, violationsOf } from './travel.js';

/** Farthest that anything moves between two samples of a move, mm. */
const STEP = 1;
/** Rounds of raising both ends of a turn. */
const ROUNDS = 12;

export interface Scene {
  readonly machine: Machine;
  readonly bodies: Bodies;
  readonly obstacles: Obstacles;
}

export interface Transfer {
  /** Joint values at the end of each move; the last is where the transfer leads. */
  readonly knots: readonly Float64Array[];
  /** What the transfer breaks, in words; undefined if it keeps clear and inside all travel. */
  readonly problem: string | undefined;
}

/**
 * @param start joint values with the tip where it last worked
 * @param end joint values with the tip where it is to work next
 * @param chordError of the tip against its path while it is led, mm
 */
export function planTransfer(
  scene: Scene,
  start: Float64Array,
  end: Float64Array,
  chordError: number,
): Transfer {
  const ways = [turnAtOnce(scene, start, end), turnLed(scene, start, end, chordError)]
    .map((way) => ({ ...way, seconds: secondsOf(scene, start, way.knots) }))
    .sort((x, y) => x.seconds - y.seconds);
  let first: Transfer | undefined;
  for (const { knots, led } of ways) {
    const problem = led ? problemOf(scene, [start, ...knots], knots.length - 1) : NOT_LED;
    if (!problem) return { knots, problem };
    first ??= { knots, problem };
  }
  return first!;
}

/** A way to go that is still to be judged. */
interface Way {
  readonly knots: readonly Float64Array[];
  /** False if the joints cannot follow it. */
  readonly led: boolean;
}

/** Leaves along the build direction until everything is on the other side of the tip. */
export function planRetreat(scene: Scene, start: Float64Array): Transfer {
  const high = raised(scene, start, 0);
  return { knots: [high], problem: problemOf(scene, [start, high], 1) };
}

/** Joint values with the same rotaries and the tip clear by the clearance and `more`, mm. */
function raised(scene: Scene, joints: Float64Array, more: number): Float64Array {
  const { tip, direction } = forward(scene.machine, joints);
  const need = scene.machine.clearance + STEP / 2 + more;
  const height = Math.max(0, need - clearOf(scene.bodies, tip, direction));
  const high = at(scene.machine, joints, along(tip, direction, height));
  if (!high) throw new Error('linear joints do not span space where the head works');
  return high;
}

/** Undefined where the linear joints do not span space. */
function at(machine: Machine, rotaries: Float64Array, tip: Vec3): Float64Array | undefined {
  const map = linearMap(machine, rotaries);
  if (!map) return undefined;
  const out = new Float64Array(rotaries.length);
  mapInto(map, tip[0], tip[1], tip[2], out, 0);
  return out;
}

function turnAtOnce(scene: Scene, start: Float64Array, end: Float64Array): Way {
  let more = 0;
  let knots: Float64Array[] = [];
  for (let round = 0; round < ROUNDS; round++) {
    const high = raised(scene, start, more);
    const over = raised(scene, end, more);
    knots = [high, over, end];
    const short = shortfall(scene, high, over);
    if (short <= 0) break;
    more += short * (1 + round / 4) + 1e-6;
  }
  return { knots, led: true };
}

/** The tip led between the two high points, at each angle just as high as it needs. */
function turnLed(scene: Scene, start: Float64Array, end: Float64Array, chordError: number): Way {
  const { machine, bodies } = scene;
  const high = raised(scene, start, 0);
  const over = raised(scene, end, 0);
  const from = forward(machine, high);
  const to = forward(machine, over);
  // Offsets from the head's axis through the part origin, and heights that the ends have to spare.
  const aside = (p: { tip: Vec3; direction: Vec3 }): Vec3 =>
    sub(p.tip, scale(p.direction, dot(p.tip, p.direction)));
  const spare = (p: { tip: Vec3; direction: Vec3 }): number => clearOf(bodies, p.tip, p.direction);
  const [a0, a1, s0, s1] = [aside(from), aside(to), spare(from), spare(to)];
  const turned = (t: number): Float64Array =>
    high.map((x, i) => (machine.joints[i]!.kind === 'rotary' ? x + t * (over[i]! - x) : 0));
  const tipAt = (t: number): Vec3 => {
    const d = forward(machine, turned(t)).direction;
    const side = add(scale(a0, 1 - t), scale(a1, t));
    const height = extent(bodies, d) + (1 - t) * s0 + t * s1;
    return along(side, d, height - dot(side, d));
  };
  const knots: Float64Array[] = [high];
  const led = follow(
    machine,
    high,
    (t) => (t === 1 ? over : at(machine, turned(t), tipAt(t))),
    tipAt,
    Math.max(chordError, STEP / 4),
    (joints) => knots.push(joints),
  );
  knots.push(end);
  return { knots, led };
}

const NOT_LED = 'no path of the tip over the part turns the head';

/** How many equal parts of a straight joint move keep everything from moving farther than STEP in one. */
function stepsOf(scene: Scene, a: Float64Array, b: Float64Array): number {
  const { machine, bodies } = scene;
  const tips = Math.max(length(forward(machine, a).tip), length(forward(machine, b).tip));
  const path = machine.joints.reduce((sum, joint, i) => {
    const move = Math.abs(b[i]! - a[i]!);
    if (joint.kind === 'linear') return sum + move;
    const off = length(sub(joint.point, joint.carriesTable ? machine.origin : machine.tip));
    return sum + move * (bodies.radius + tips + 2 * off);
  }, 0);
  return Math.max(1, Math.ceil(path / STEP));
}

/** By how much a move lacks clearance at its worst sample, mm; not positive if it is clear. */
function shortfall(scene: Scene, a: Float64Array, b: Float64Array): number {
  const need = scene.machine.clearance + STEP / 2;
  let most = -Infinity;
  const count = stepsOf(scene, a, b);
  for (let i = 0; i <= count; i++) {
    const { tip, direction } = forward(scene.machine, between(a, b, i / count));
    most = Math.max(most, need - 1e-9 - clearOf(scene.bodies, tip, direction));
  }
  return most;
}

/**
 * The first thing that a chain of moves breaks. Moves 1 .. last - 1 of the chain turn and must be
 * clear; the first leaves the part and those from `last` on come down to it.
 */
function problemOf(scene: Scene, chain: readonly Float64Array[], last: number): string | undefined {
  const { machine } = scene;
  for (const joints of chain.slice(1)) {
    const violation = violationsOf(machine, joints)[0];
    if (violation) return spell(machine, violation);
  }
  for (let i = 1; i < last; i++) {
    const short = shortfall(scene, chain[i]!, chain[i + 1]!);
    if (short > 0) {
      return `the head would come ${short.toFixed(2)} mm too near to the part or the table, its clearance is ${machine.clearance} mm`;
    }
  }
  if (scene.obstacles.pairs.length === 0) return undefined;
  for (let i = 0; i + 1 < chain.length; i++) {
    const touch = meets(scene, chain[i]!, chain[i + 1]!);
    if (touch) return touch;
  }
  return undefined;
}

/**
 * The first obstacle that a move comes too near to. Nothing moves farther than STEP in one part of
 * the move, so where there is room for more, as many parts are passed over.
 */
function meets(scene: Scene, a: Float64Array, b: Float64Array): string | undefined {
  const count = stepsOf(scene, a, b);
  for (let i = 0; i <= count;) {
    const joints = between(a, b, i / count);
    const { room, words } = roomAt(scene.obstacles, scene.bodies, joints);
    if (room < 0) return words;
    const parts = Math.max(1, Math.floor(room / STEP));
    i = i < count ? Math.min(count, i + parts) : count + 1;
  }
  return undefined;
}

/** Least time of the moves by joint speed alone, s. */
function secondsOf(scene: Scene, start: Float64Array, knots: readonly Float64Array[]): number {
  let sum = 0;
  let before = start;
  for (const knot of knots) {
    sum += scene.machine.joints.reduce(
      (most, j, i) => Math.max(most, Math.abs(knot[i]! - before[i]!) / j.speed),
      0,
    );
    before = knot;
  }
  return sum;
}
