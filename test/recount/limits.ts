/**
 * The recount of limits: every joint of every block against its travel and its speed, and every
 * boundary of two blocks against acceleration and jerk. A program states no ramps, so what is asked is
 * whether its feeds can be reached at all, by the model that the guide states under "How fast, and
 * how long": at a corner each joint changes its rate within half of either block, for which it has the
 * longer the more the way slows down in between. That gives each boundary its greatest speed, each block
 * its greatest ramp, and a pass in each direction the greatest speed that each block can see. A feed
 * beyond that is a violation; what rounding to the program's decimals can make of a corner is left off
 * first. Necessary for a motion within the limits, not sufficient: how fast jerk lets a ramp begin, and
 * how much of each limit a curve leaves for ramps, is not asked.
 */
import { type File, type Joint, jointsOf } from './chain.js';
import type { Moves } from './program.js';

export interface Violation {
  readonly line: number;
  readonly what: string;
}

/** Half a last decimal at either end, mm and deg. */
const ROUNDING = 1e-4;
/** Share of a limit that is rounding of F and of short blocks. */
const SHARE = 1.01;
/** Share of a feed that is a matter of which blocks count as one straight way. */
const MODEL = 1.15;
/** How much longer a corner may take than its length at full speed says: where the way slows down in it. */
const SLOWED = 1.5;
/** A degree counts as so many mm of way: those of a radius of 50 mm. */
const DEGREE = (50 * Math.PI) / 180;
/** Share of the deviation by which points may lie beside a straight way. */
const BESIDE = 0.4;

/** @param deviation how far a corner may be rounded, mm */
export function countViolations(file: File, moves: Moves, deviation: number): Violation[] {
  const joints = jointsOf(file);
  return [...ofBlocks(joints, moves), ...ofBoundaries(joints, moves, deviation)];
}

/**
 * The ways of a program may be read in more than one way: by how short a block is that goes with its
 * neighbours, and from which end straight ways are put together. A feed that can be reached in one reading
 * can be reached.
 */
function ofBoundaries(joints: readonly Joint[], moves: Moves, deviation: number): Violation[] {
  const [one, ...others] = [moves, turned(moves)].flatMap((way) =>
    [(1 - BESIDE) * deviation, 2 * deviation].map((short) =>
      inReading(joints, way, deviation, short),
    ),
  ) as [Beyond[], ...Beyond[][]];
  return one.filter(({ from, to }) =>
    others.every((other) =>
      other.some((o) => Math.min(o.from, o.to) <= to && Math.max(o.from, o.to) >= from),
    ),
  );
}

/** The same moves from the last to the first: what can be reached is the same. */
function turned(moves: Moves): Moves {
  const { jointCount: n, from, joints, line, seconds } = moves;
  const count = line.length;
  const back = new Float64Array(joints.length);
  for (let b = 0; b < count; b++) {
    back.set(
      b + 1 < count ? joints.subarray(n * (count - 2 - b), n * (count - 1 - b)) : from,
      n * b,
    );
  }
  return {
    ...moves,
    from: joints.slice(n * (count - 1)),
    joints: back,
    line: line.slice().reverse(),
    seconds: seconds.slice().reverse(),
  };
}

/** A violation in blocks of the lines from .. to. */
interface Beyond extends Violation {
  readonly from: number;
  readonly to: number;
}

function ofBlocks(joints: readonly Joint[], moves: Moves): Violation[] {
  const { jointCount: n, from, line, seconds } = moves;
  const out: Violation[] = [];
  for (let b = 0; b < line.length; b++) {
    joints.forEach((j, i) => {
      const value = moves.joints[n * b + i]!;
      const [least, most] = travelOf(j);
      if (value < least - ROUNDING || value > most + ROUNDING) {
        out.push({ line: line[b]!, what: `${j.letter} at ${value}, travel ${least} to ${most}` });
      }
      const by = Math.abs(value - (b ? moves.joints[n * (b - 1) + i]! : from[i]!));
      if (by - ROUNDING <= j.speed * seconds[b]! * SHARE) return;
      const speed = (by / seconds[b]!).toFixed(2);
      out.push({ line: line[b]!, what: `${j.letter} at ${speed} a second, limit ${j.speed}` });
    });
  }
  return out;
}

function travelOf({ travel, turns }: Joint): readonly [number, number] {
  if (travel !== 'endless') return travel;
  return turns === undefined ? [-Infinity, Infinity] : [-360 * turns, 360 * turns];
}

/** Straight blocks of the way, one after the other; a chain ends where nothing moves. */
interface Way {
  /** Of the first block of each, and of the last. */
  readonly line: number[];
  readonly to: number[];
  readonly length: number[];
  /** Of the feed along the way, mm/s. */
  readonly speed: number[];
  /** Joint rates of each, mm and deg for a mm of way. */
  readonly rate: Float64Array[];
}

function inReading(
  joints: readonly Joint[],
  moves: Moves,
  deviation: number,
  short: number,
): Beyond[] {
  const out: Beyond[] = [];
  for (const way of waysOf(joints, moves, deviation, short)) {
    const corner = cornerSpeeds(joints, way, deviation);
    const ramp = way.rate.map((rate) => leastRatio(joints, rate, (j) => j.acceleration));
    const count = way.length.length;
    // Squares of the greatest speeds at the boundaries.
    const x = Float64Array.from({ length: count + 1 }, (_, b) => (corner[b] ?? 0) ** 2);
    for (let b = 0; b < count; b++) {
      x[b + 1] = Math.min(x[b + 1]!, x[b]! + 2 * ramp[b]! * way.length[b]!);
    }
    for (let b = count - 1; b >= 0; b--) {
      x[b] = Math.min(x[b]!, x[b + 1]! + 2 * ramp[b]! * way.length[b]!);
    }
    for (let b = 0; b < count; b++) {
      const most = Math.sqrt((x[b]! + x[b + 1]!) / 2 + ramp[b]! * way.length[b]!);
      if (way.speed[b]! <= most * MODEL + ROUNDING) continue;
      const [asked, can] = [way.speed[b]!.toFixed(2), most.toFixed(2)];
      const what = `a feed of ${asked} mm/s of way, where ${can} is the most that acceleration and jerk allow`;
      out.push({ line: way.line[b]!, from: way.line[b]!, to: way.to[b]!, what });
    }
  }
  return out;
}

/**
 * Blocks whose ends lie on one straight way, to within a share of the deviation, are one if their feeds
 * are alike. A block that is shorter than the rest of the deviation may be rounded away as a whole.
 * @param short mm; shorter blocks have no feed of their own
 */
function waysOf(joints: readonly Joint[], moves: Moves, deviation: number, short: number): Way[] {
  const { jointCount: n, from, line, seconds } = moves;
  const [beside, stub] = [BESIDE * deviation, (1 - BESIDE) * deviation];
  const weight = joints.map((j) => (j.kind === 'rotary' ? DEGREE : 1));
  const at = (b: number): Float64Array => (b < 0 ? from : moves.joints.subarray(n * b, n * b + n));
  const between = (a: number, b: number): Float64Array =>
    at(b).map((v, j) => (v - at(a)[j]!) * weight[j]!);
  const straight = (a: number, b: number): boolean => {
    const chord = between(a, b);
    const size = Math.max(norm(chord), ROUNDING);
    for (let k = a + 1; k < b; k++) {
      const to = between(a, k);
      const t = Math.min(1, Math.max(0, dot(to, chord) / size ** 2));
      if (norm(to.map((v, j) => v - t * chord[j]!)) > beside) return false;
    }
    return true;
  };
  const feed = (b: number): number => norm(between(b - 1, b)) / seconds[b]!;
  const size = (b: number): number => norm(between(b - 1, b));
  const out: Way[] = [];
  let way: Way = { line: [], to: [], length: [], speed: [], rate: [] };
  for (let b = 0; b < line.length;) {
    if (norm(between(b - 1, b)) === 0) {
      if (way.line.length > 0) out.push(way);
      way = { line: [], to: [], length: [], speed: [], rate: [] };
      b++;
      continue;
    }
    let end = b + 1;
    let fastest = feed(b);
    while (end < line.length && end - b < MOST) {
      if (norm(between(end - 1, end)) === 0 || !straight(b - 1, end)) break;
      if (size(b) < short && end === b + 1) fastest = feed(end);
      else if (size(end) >= short && !alike(feed(end), fastest)) break;
      else fastest = Math.max(fastest, size(end) < short ? 0 : feed(end));
      end++;
    }
    // Left over between a straight way and a corner, and short enough to be cut off with it.
    if (end === b + 1 && size(b) < stub && way.line.length > 0) {
      b = end;
      continue;
    }
    const by = between(b - 1, end - 1);
    const length = norm(by);
    way.line.push(line[b]!);
    way.to.push(line[end - 1]!);
    way.length.push(length);
    way.speed.push(fastest);
    way.rate.push(by.map((v, j) => v / weight[j]! / length));
    b = end;
  }
  return way.line.length > 0 ? [...out, way] : out;
}

/** At most so many blocks are taken as one. */
const MOST = 24;
const alike = (a: number, b: number): boolean => Math.abs(a - b) <= 0.05 * Math.max(a, b);

/**
 * Greatest speed at the start of each block, mm/s of way. Jerk is asked at corners that stand by
 * themselves: to change a rate by that much within the time takes at least so much of it.
 */
function cornerSpeeds(
  joints: readonly Joint[],
  { length, rate }: Way,
  deviation: number,
): Float64Array {
  return Float64Array.from(length, (q, b) => {
    if (b === 0) return 0;
    const p = length[b - 1]!;
    const noise = ROUNDING * (1 / p + 1 / q);
    const jump = rate[b]!.map((v, j) => less(v - rate[b - 1]![j]!, noise));
    const stray = norm(jump.map((v, j) => v * (joints[j]!.kind === 'rotary' ? DEGREE : 1)));
    const half = (SLOWED * Math.min(p, q)) / 2;
    const bent = jump.map((v) => v / (2 * half));
    const most = Math.sqrt(leastRatio(joints, bent, (j) => j.acceleration));
    // Blocks so short that their corners are those of a curve.
    if ((6 * deviation) / stray > Math.min(p, q) / 2) return most;
    const slope = jump.map((v) => v / half ** 2);
    return Math.min(most, Math.cbrt(leastRatio(joints, slope, (j) => j.jerk ?? Infinity)));
  });
}

/** The value moved towards 0. */
const less = (value: number, by: number): number =>
  Math.sign(value) * Math.max(0, Math.abs(value) - by);

/** The least of limit over rate, for joints that move. */
function leastRatio(
  joints: readonly Joint[],
  rate: Float64Array,
  limit: (j: Joint) => number,
): number {
  let least = Infinity;
  joints.forEach((j, i) => {
    if (rate[i] !== 0) least = Math.min(least, limit(j) / Math.abs(rate[i]!));
  });
  return least;
}

const dot = (a: Float64Array, b: Float64Array): number => a.reduce((s, v, j) => s + v * b[j]!, 0);
const norm = (a: Float64Array): number => Math.sqrt(dot(a, a));
