/**
 * How the rotary joints stand at every point of curved layers. The head need not point exactly along the growth: it
 * may lean by a few degrees, at the price of the nozzle flat's radius times the sine, 0.035 mm at 5 deg. Inside that
 * tube of directions the joints turn as little and as evenly as they can, for what curved paths cost is the
 * roughness of directions: half a degree of it took contours from 31 to 6.5 mm/s.
 *
 * All of it happens in the values of the two rotary joints, never in vectors, so it holds for every chain of two, and
 * there is no pole: where the growth is nearly along the axis nearer to the part, a great turn about it moves the
 * direction less than the lean, and is not made. First from point to point: joints stay while the lean allows,
 * else turn towards the solution that is nearest in time, just as far as they must. Then path by path: each value is
 * drawn to the line between two others over the length of the path, as a string is pulled taut in a tube, wherever the
 * direction that comes of it is still in the tube; to far ones first, so that long waves go as quickly as short ones.
 * Where the first joint cannot turn without end, a path on which it would come to its end is begun whole turns earlier or
 * later, which are made up on the link before it.
 * Low over the table the head may lean from the growth, but not so far that it comes near the table; where the growth
 * itself leans too far for that, the head stands as upright as the lean allows.
 * The cosine between head and growth is bilinear in (1, cos, sin) of both values: nine numbers a point, and no chain of
 * joints is followed while values are tried (half the time of planning a ring's motion).
 *
 * Rejected: the inverse at every point, which could not follow a ring at all (near the axis it asks for half turns at
 * once); 60 rounds between neighbours alone, which leave contours of a lying ring at 17 mm/s for 23 and the whole
 * of it, rings for fill, at 4326 s for 3295 (flat layers: 1365). The first joint held as long as the second one finds a
 * value that keeps to the lean, and drawn before it: 1380 s for 1289 (a ring of R 12 r 3), for the tilt is the slower.
 */
import { type Vec3, pointAt } from '../../base/vector.js';
import { forwardInto } from '../../machine/forward.js';
import { rotaryPair, solveRotaries } from '../../machine/inverse.js';
import type { Machine } from '../../machine/machine.js';
import { PathKind, type Paths } from '../../paths/paths.js';
import { windings } from './run-solutions.js';
import { type HeadTube, tubeOf } from './head-tube.js';

/** How many points apart the neighbours are to which a value is drawn: far ones first, which even out long waves. */
const STRIDES = [256, 128, 64, 32, 16, 8, 4, 2, 1];
/** Rounds with each. */
const STRIDE_ROUNDS = 8;
/** Halvings in which the least turn is found. */
const LEAN_HALVINGS = 24;
/** Over fill, which nobody sees, the head may lean so many times as far: a ring of R 12 r 3 takes 1209 s for 1410. */
const FILL_LEAN = 2;
/** Points nearer than this count as so far apart, mm. */
const NEAREST = 0.01;

/** Angles at which a function a + b cos q + c sin q is sampled, rad. */
const SAMPLED_AT = [0, Math.PI / 2, Math.PI] as const;

/** The direction that the head has over the part, from the two rotary joints alone, against one of growth. */
class HeadDirection {
  readonly first: number;
  readonly second: number;
  readonly #machine: Machine;
  readonly #joints: Float64Array;
  /** Nine vectors: direction = sum of u_i v_j h_ij, with u and v = (1, cos, sin) of the two values. */
  readonly #h = new Float64Array(27);
  /** Their products with the growth in work. */
  readonly #m = new Float64Array(9);
  #leastCosine = -1;
  #leastZ = -1;

  constructor(machine: Machine) {
    const { first, second } = rotaryPair(machine);
    this.first = first;
    this.second = second;
    this.#machine = machine;
    this.#joints = machine.ready.slice();
    const pose = new Float64Array(6);
    const sampled = SAMPLED_AT.map((q1) =>
      SAMPLED_AT.map((q2) => {
        this.#joints[first] = q1;
        this.#joints[second] = q2;
        forwardInto(machine, this.#joints, 0, pose);
        return pose.slice(3);
      }),
    );
    for (let c = 0; c < 3; c++) {
      const rows = sampled.map((row) => harmonics(row.map((d) => d[c]!)));
      for (let j = 0; j < 3; j++) {
        harmonics(rows.map((row) => row[j]!)).forEach((x, i) => (this.#h[9 * i + 3 * j + c] = x));
      }
    }
  }

  /** Takes a point into work. */
  aim({ growth, leastCosine, leastZ }: HeadTube, k: number): void {
    this.#leastCosine = leastCosine[k]!;
    this.#leastZ = leastZ[k]!;
    for (let i = 0; i < 9; i++) {
      this.#m[i] =
        this.#h[3 * i]! * growth[3 * k]! +
        this.#h[3 * i + 1]! * growth[3 * k + 1]! +
        this.#h[3 * i + 2]! * growth[3 * k + 2]!;
    }
  }

  /** Whether the head may stand so at the point in work: near enough to its growth and upright enough over the table. */
  holds(q1: number, q2: number): boolean {
    const [c1, s1, c2, s2] = [Math.cos(q1), Math.sin(q1), Math.cos(q2), Math.sin(q2)];
    if (blended(this.#m, 1, 0, c1, s1, c2, s2) < this.#leastCosine) return false;
    return this.#leastZ === -1 || blended(this.#h, 3, 2, c1, s1, c2, s2) >= this.#leastZ;
  }

  /** Every pair of values in the travel that has the head along a direction, in the turns nearest to two values. */
  solutions(d: Vec3, q1: number, q2: number): (readonly [number, number])[] {
    this.#joints[this.first] = q1;
    this.#joints[this.second] = q2;
    return solveRotaries(this.#machine, d, this.#joints)
      .filter(({ violations }) => violations.length === 0)
      .map(({ joints }) => [joints[this.first]!, joints[this.second]!] as const);
  }

  /** The one of them that takes the least time from the two values; undefined out of reach. */
  nearest(d: Vec3, q1: number, q2: number): readonly [number, number] | undefined {
    const { joints } = this.#machine;
    let best: readonly [number, number] | undefined;
    let least = Infinity;
    for (const pair of this.solutions(d, q1, q2)) {
      const time = Math.max(
        Math.abs(pair[0] - q1) / joints[this.first]!.speed,
        Math.abs(pair[1] - q2) / joints[this.second]!.speed,
      );
      if (time < least) [best, least] = [pair, time];
    }
    return best;
  }
}

/** The sum of u_i v_j m_ij, nine numbers `stride` apart. */
function blended(
  m: Float64Array,
  stride: number,
  at: number,
  c1: number,
  s1: number,
  c2: number,
  s2: number,
): number {
  const row = (i: number): number =>
    m[3 * i * stride + at]! +
    c2 * m[(3 * i + 1) * stride + at]! +
    s2 * m[(3 * i + 2) * stride + at]!;
  return row(0) + c1 * row(1) + s1 * row(2);
}

/** a, b, c of a + b cos q + c sin q from its values at SAMPLED_AT. */
function harmonics(values: readonly number[]): [number, number, number] {
  const [at0, at90, at180] = values as [number, number, number];
  const a = (at0 + at180) / 2;
  return [a, (at0 - at180) / 2, at90 - a];
}

/** Rotary values at the points of paths from .. to. */
export interface HeadTurns {
  /** Index of the first point. */
  readonly first: number;
  /** Packed pairs: the rotary joint nearer to the part, and the other, rad. */
  readonly pairs: Float64Array;
  /** The first point whose direction no solution in the travel has; -1 for none. */
  readonly unreachable: number;
  /** Paths on which a joint comes to the end of its travel and turns back, however they are begun. */
  readonly turnedBack: number;
}

/**
 * @param paths with directions
 * @param lean how far the head may lean from the direction of growth, rad; over fill FILL_LEAN times as far
 * @param near joint values before the first point
 */
export function leanHead(
  machine: Machine,
  paths: Paths,
  from: number,
  to: number,
  lean: number,
  near: Float64Array,
): HeadTurns {
  const directions = paths.directions;
  if (!directions) throw new Error('flat paths have no directions of their own');
  const head = new HeadDirection(machine);
  const [a, b] = [paths.start[from]!, paths.start[to]!];
  const tube = tubeOf(machine, paths, from, to, (path) =>
    paths.kind[path] === PathKind.fill ? FILL_LEAN * lean : lean,
  );
  const pairs = new Float64Array(2 * (b - a));
  const follower: Follower = { head, tube, pairs, first: a };
  let at: readonly [number, number] = [near[head.first]!, near[head.second]!];
  const joint = machine.joints[head.first]!;
  const limited = Number.isFinite(joint.most - joint.least);
  let turnedBack = 0;
  for (let path = from; path < to; path++) {
    const [begin, end] = [paths.start[path]!, paths.start[path + 1]!];
    let turns = follow(follower, begin, end, at);
    if (turns.out >= 0) return { first: a, pairs, unreachable: turns.out, turnedBack };
    if (limited && turns.jump > TURNED_BACK) {
      // The joint comes to its end on the way: whole turns are made up before the path, where nothing is laid.
      const start = at;
      const others = head
        .solutions(pointAt(tube.aims, begin - a), ...start)
        .flatMap(([q1, q2]) => windings(joint, q1).map((wound) => [wound, q2] as const))
        .sort((p, q) => Math.abs(p[0] - start[0]) - Math.abs(q[0] - start[0]));
      const free = others.find((p) => {
        const { out, jump } = follow(follower, begin, end, p);
        return out < 0 && jump <= TURNED_BACK;
      });
      turns = follow(follower, begin, end, free ?? start);
      if (!free) turnedBack++;
    }
    at = turns.end;
  }
  for (let path = from; path < to; path++) {
    drawTaut(follower, paths, path);
  }
  return { first: a, pairs, unreachable: -1, turnedBack };
}

/** What stays the same from path to path. */
interface Follower {
  readonly head: HeadDirection;
  readonly tube: HeadTube;
  /** Filled in. */
  readonly pairs: Float64Array;
  readonly first: number;
}

/** A joint that turns farther than this from one point of a path to the next turns back, rad. */
const TURNED_BACK = Math.PI / 2;

/**
 * Fills in the values of points from .. to: joints stay while the lean allows, and turn as far as they must.
 * @returns the values at the end, the greatest turn from a point to the next, and the first point out of reach, else -1
 */
function follow(
  { head, tube, pairs, first }: Follower,
  from: number,
  to: number,
  [start1, start2]: readonly [number, number],
): { readonly end: readonly [number, number]; readonly jump: number; readonly out: number } {
  let [q1, q2, jump] = [start1, start2, 0];
  for (let k = from; k < to; k++) {
    head.aim(tube, k - first);
    if (!head.holds(q1, q2)) {
      const end = head.nearest(pointAt(tube.aims, k - first), q1, q2);
      if (!end) return { end: [q1, q2], jump, out: k };
      let [low, high] = [0, 1];
      for (let i = 0; i < LEAN_HALVINGS; i++) {
        const share = (low + high) / 2;
        if (head.holds(q1 + share * (end[0] - q1), q2 + share * (end[1] - q2))) high = share;
        else low = share;
      }
      const [by1, by2] = [high * (end[0] - q1), high * (end[1] - q2)];
      if (k > from) jump = Math.max(jump, Math.abs(by1), Math.abs(by2));
      q1 += by1;
      q2 += by2;
    }
    pairs[2 * (k - first)] = q1;
    pairs[2 * (k - first) + 1] = q2;
  }
  return { end: [q1, q2], jump, out: -1 };
}

/** Evens out the values of one path, in place; its ends are free to follow. */
function drawTaut(
  { head, tube, pairs, first }: Follower,
  { points, start }: Paths,
  path: number,
): void {
  const [a, b] = [start[path]!, start[path + 1]!];
  // How far along the path each point lies, mm.
  const along = new Float64Array(b - a);
  for (let i = 1; i < b - a; i++) {
    const k = 3 * (a + i);
    const far = Math.hypot(
      points[k]! - points[k - 3]!,
      points[k + 1]! - points[k - 2]!,
      points[k + 2]! - points[k - 1]!,
    );
    along[i] = along[i - 1]! + Math.max(NEAREST, far);
  }
  const own = pairs.subarray(2 * (a - first), 2 * (b - first));
  const last = b - a - 1;
  for (const stride of STRIDES) {
    if (stride > last) continue;
    for (let round = 0; round < STRIDE_ROUNDS; round++) {
      for (let i = 0; i <= last; i++) {
        const [before, after] = [Math.max(0, i - stride), Math.min(last, i + stride)];
        const share = (along[i]! - along[before]!) / (along[after]! - along[before]!);
        const [at, u, v] = [2 * i, 2 * before, 2 * after];
        const q1 = (own[at]! + own[u]! + share * (own[v]! - own[u]!)) / 2;
        const q2 = (own[at + 1]! + own[u + 1]! + share * (own[v + 1]! - own[u + 1]!)) / 2;
        head.aim(tube, a + i - first);
        if (!head.holds(q1, q2)) continue;
        own[at] = q1;
        own[at + 1] = q2;
      }
    }
  }
}
