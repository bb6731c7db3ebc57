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
 * itself leans too far for that, the head stands as upright as the lean allows. Near what is printed it stands aside
 * (keep-aside.ts).
 *
 * Rejected: the inverse at every point, which could not follow a ring at all (near the axis it asks for half turns at
 * once); 60 rounds between neighbours alone, which leave contours of a lying ring at 17 mm/s for 23 and the whole
 * of it, rings for fill, at 4326 s for 3295 (flat layers: 1365). The first joint held as long as the second one finds a
 * value that keeps to the lean, and drawn before it: 1380 s for 1289 (a ring of R 12 r 3), for the tilt is the slower.
 */
import { pointAt } from '../../base/vector.js';
import type { Machine } from '../../machine/machine.js';
import { PathKind, type Paths } from '../../paths/paths.js';
import { windings } from './run-solutions.js';
import { HeadDirection } from './head-direction.js';
import { type HeadTube, tubeOf } from './head-tube.js';
import { type RoomOf, keepAside } from './keep-aside.js';

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
 * @param room of the head among what is printed; left out: nothing is
 */
export function leanHead(
  machine: Machine,
  paths: Paths,
  from: number,
  to: number,
  lean: number,
  near: Float64Array,
  room?: RoomOf,
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
    if (room) keepAside(head, tube, paths, path, a, at, room);
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
