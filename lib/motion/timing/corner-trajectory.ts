/**
 * The quickest way round a sharp corner for joints whose jerk is limited, as a linear program in time.
 *
 * On its way from the first leg (rates u) to the second (rates w) a joint path is q = -R u + P w, with R
 * what is left of the first leg and P what is done of the second. Both are free functions of time, so the
 * joints slow down, turn and speed up all at once. In their third derivatives, constant over each of
 * INTERVALS equal times, every limit is linear: jerk, acceleration and speed of the joints, and how far
 * the path strays. In the first half of the time the path belongs to the first leg, which it leaves by P
 * times the sine between the legs; in the second half to the second one, which it is off by R times that.
 * Both may be positive (the corner is cut) or negative (it is overrun). The path speed is held within a
 * polygon inside the circle of the greatest one. The program asks for the longest legs in the given time:
 * what they fall short of that time at full speed is what the corner costs.
 *
 * What was rejected, by the time that a right angle of X and Y costs at 35 and 60 mm/s with 0.05 mm, 3000
 * mm/s2 and 60,000 mm/s3 (the optimum over a fine grid: 6.1 and 17.9 ms):
 * - a blend at constant speed with ramps before and after it, 40.9 and 66.0 ms (22.6 and 42.6 in the ramps);
 * - ramps of both legs that overlap until the corner is cut by the deviation: 14.1 and 29.1 ms;
 * - those with one overrun of each leg: 7 and 19 ms, but twice the optimum at shallow corners (45 deg
 *   about an axis, 100 mm/s: 42 to 49 ms for 25), where legs share the joints' jerk;
 * - sum and difference of both speeds apart, each with its share of the jerk, mirrored about the middle:
 *   1.2 to 1.5 times the optimum, for a joint's jerk is used by one of them at a time;
 * - the same without shares: 1.24 times at 45 deg, since a corner need not be passed as its mirror image.
 * What is kept costs 7.2 and 18.8 ms there, with the rounding of corner-shapes.ts, and at most 1.27 times
 * the optimum in any corner of X and Y where that is more than 3 ms. 36 intervals gain 2 percent and cost
 * three times as much; a program takes about 1 ms. With Z or rotary joints it is 1.1 to 2.2 times the optimum,
 * which has three joints leave the plane of both legs; here they keep to it.
 */
import { LinearProgram } from './linear-program.js';

/** A joint that moves in a corner: its rates per mm before and behind it, and its limits. */
export interface CornerJoint {
  readonly before: number;
  readonly behind: number;
  readonly speed: number;
  readonly acceleration: number;
  readonly jerk: number;
}

/** A length of the first leg, and one of the second. */
export type LegLengths = readonly [number, number];

export interface CornerTask {
  /** Those that move on either leg. */
  readonly joints: readonly CornerJoint[];
  /** Cosine between both legs, over the joints. */
  readonly along: number;
  /** Path speed at which the corner begins and ends, and the greatest within it, mm/s. */
  readonly speed: number;
  /** Of the first and the second leg how much may be cut off, and how far it may be overrun, mm. */
  readonly inside: LegLengths;
  readonly outside: LegLengths;
  /** Time for the corner, in times that the hardest joint needs for its change of speed alone. */
  readonly horizon: number;
}

/** A corner's way: d2/dt2 of the speeds along both legs, constant in each interval. */
export interface CornerShape {
  /** Duration of an interval, s. */
  readonly step: number;
  /** mm/s3 along the first leg, and along the second. */
  readonly first: Float64Array;
  readonly second: Float64Array;
  /** Length of the first leg from where the corner begins, and of the second to where it ends, mm. */
  readonly before: number;
  readonly behind: number;
}

/** Intervals of a corner; even, as the middle is where the second leg begins to count. */
export const INTERVALS = 20;
/** Greatest angle between two sides of the polygon that bounds the path speed. */
const SPEED_SIDE = Math.PI / 12;
const FEWEST_SPEED_SIDES = 3;
/** Change of speed that may be needed beyond the corner's own, to tell whether acceleration can bind. */
const SURGE = 1.5;

/** Shortest time in which a joint changes its speed from one leg's to the other's, halved, s. */
export function swingSeconds(joints: readonly CornerJoint[], speed: number): number {
  let most = 0;
  for (const joint of joints) {
    const jump = Math.abs(joint.behind - joint.before) * speed;
    const { acceleration: a, jerk: j } = joint;
    const even = jump * j <= a * a ? Math.sqrt(jump / j) : (jump / a + a / j) / 2;
    most = Math.max(most, even);
  }
  return most;
}

/** @returns undefined if the corner cannot be passed at that speed in that time */
export function cornerShape(task: CornerTask): CornerShape | undefined {
  const n = INTERVALS;
  const { joints, speed, horizon } = task;
  const step = (2 * horizon * swingSeconds(joints, speed)) / n;
  if (!(step > 0 && step < Infinity)) return undefined;
  const cost = new Float64Array(2 * n);
  legLeft(0, cost, -1);
  legDone(n, cost, -1);
  const program = new LinearProgram(cost);
  boundPlaces(program, task, step);
  boundSpeeds(program, task);
  for (const joint of joints) boundJoint(program, joint, speed, step);
  fixEnds(program);
  let found = program.solve();
  if (found && gained(found, cost) > n) {
    // A corner that costs nothing could even gain, as its path is shorter; it counts as none.
    boundSum(program);
    found = program.solve();
  }
  return found && shapeOf(found, cost, speed, step);
}

/** Length of both legs. */
function gained(found: Float64Array, cost: Float64Array): number {
  let sum = 0;
  for (let i = 0; i < found.length; i++) sum -= found[i]! * cost[i]!;
  return sum;
}

function shapeOf(
  found: Float64Array,
  cost: Float64Array,
  speed: number,
  step: number,
): CornerShape {
  const n = INTERVALS;
  const unit = speed / (step * step);
  let [before, behind] = [0, 0];
  for (let i = 0; i < n; i++) {
    before -= found[i]! * cost[i]!;
    behind -= found[n + i]! * cost[n + i]!;
  }
  return {
    step,
    first: found.subarray(0, n).map((x) => x * unit),
    second: found.subarray(n).map((x) => x * unit),
    before: before * speed * step,
    behind: behind * speed * step,
  };
}

// Variables are d2/dt2 of the leg speeds, with an interval as the unit of time and the corner's speed as
// that of speed: first those of the first leg, then those of the second. Times t count in intervals.

const variables = (): Float64Array => new Float64Array(2 * INTERVALS);

/** Adds what is left of the first leg at t, by integration from the end, where nothing is. */
function legLeft(t: number, out: Float64Array, by: number): void {
  for (let i = Math.floor(t); i < INTERVALS; i++) {
    out[i]! += (by * ((i + 1 - t) ** 3 - Math.max(0, i - t) ** 3)) / 6;
  }
}

/** Adds what is done of the second leg at t, by integration from the start. */
function legDone(t: number, out: Float64Array, by: number): void {
  for (let i = 0; i < t; i++) {
    out[INTERVALS + i]! += (by * ((t - i) ** 3 - Math.max(0, t - i - 1) ** 3)) / 6;
  }
}

/** Adds shares of both leg speeds at node k. */
function legSpeeds(k: number, out: Float64Array, first: number, second: number): void {
  for (let i = k; i < INTERVALS; i++) out[i]! += first * (i - k + 0.5);
  for (let i = 0; i < k; i++) out[INTERVALS + i]! += second * (k - i - 0.5);
}

/** Adds shares of both leg accelerations at node k. */
function legRamps(k: number, out: Float64Array, first: number, second: number): void {
  for (let i = k; i < INTERVALS; i++) out[i]! -= first;
  for (let i = 0; i < k; i++) out[INTERVALS + i]! += second;
}

/** Bounds of the row that `put` writes, both ways. */
function within(
  program: LinearProgram,
  put: (out: Float64Array, by: number) => void,
  most: number,
  least: number,
): void {
  const [up, down] = [variables(), variables()];
  put(up, 1);
  put(down, -1);
  program.most(up, most);
  program.most(down, least);
}

/** At every node and between them the path keeps to the leg that counts. */
function boundPlaces(program: LinearProgram, task: CornerTask, step: number): void {
  const unit = task.speed * step;
  const [inside, outside] = [task.inside, task.outside].map((leg) => leg.map((x) => x / unit)) as [
    number[],
    number[],
  ];
  for (let t = 0.5; t < INTERVALS; t += 0.5) {
    if (2 * t <= INTERVALS) within(program, (o, by) => legDone(t, o, by), inside[1]!, outside[1]!);
    if (2 * t >= INTERVALS) within(program, (o, by) => legLeft(t, o, by), inside[0]!, outside[0]!);
  }
}

/**
 * The path speed within a polygon whose corners lie on the circle, two of them at the legs. Sides that the
 * direction does not come near in a third of the time are left out there.
 */
function boundSpeeds(program: LinearProgram, { along }: CornerTask): void {
  const turn = Math.acos(Math.max(-1, Math.min(1, along)));
  const sides = Math.max(FEWEST_SPEED_SIDES, Math.ceil(turn / SPEED_SIDE));
  const side = turn / sides;
  for (let k = 1; k < INTERVALS; k++) {
    const first = 3 * k > 2 * INTERVALS ? sides - 2 : 2 * k > INTERVALS ? 0 : -1;
    const last = 3 * k < INTERVALS ? 1 : 2 * k < INTERVALS ? sides - 1 : sides;
    for (let i = Math.max(-1, first); i <= Math.min(last, sides); i++) {
      const angle = (i + 0.5) * side;
      const row = variables();
      legSpeeds(k, row, Math.cos(angle), Math.cos(angle - turn));
      program.most(row, Math.cos(side / 2));
    }
  }
}

/** Both leg speeds together no faster than one leg: no time is gained. */
function boundSum(program: LinearProgram): void {
  for (let k = 1; k < INTERVALS; k++) {
    const row = variables();
    legSpeeds(k, row, 1, 1);
    program.most(row, 1);
  }
}

function boundJoint(program: LinearProgram, joint: CornerJoint, speed: number, step: number): void {
  const { before, behind } = joint;
  const even = speed / (step * step) / joint.jerk;
  for (let k = 0; k < INTERVALS && even > 0; k++) {
    const put = (out: Float64Array, by: number): void => {
      out[k] = by * even * before;
      out[INTERVALS + k] = by * even * behind;
    };
    within(program, put, 1, 1);
  }
  const jump = SURGE * Math.abs(behind - before) * speed;
  const [v, a] = [speed / joint.speed, speed / step / joint.acceleration];
  const ramps = !(jump * joint.jerk < joint.acceleration ** 2);
  const fast = (before * before + behind * behind) * v * v > FAST;
  for (let k = 1; k < INTERVALS; k++) {
    if (ramps) within(program, (o, by) => legRamps(k, o, by * a * before, by * a * behind), 1, 1);
    if (fast) within(program, (o, by) => legSpeeds(k, o, by * v * before, by * v * behind), 1, 1);
  }
}

/** Squared share of a joint's speed from which on it may bind within a corner. */
const FAST = 0.5;

/** The first leg begins and the second ends at full speed without acceleration; R and P are 0 elsewhere. */
function fixEnds(program: LinearProgram): void {
  const put = (fill: (row: Float64Array) => void, value: number): void => {
    const row = variables();
    fill(row);
    program.exactly(row, value);
  };
  put((row) => legSpeeds(0, row, 1, 0), 1);
  put((row) => legRamps(0, row, 1, 0), 0);
  put((row) => legSpeeds(INTERVALS, row, 0, 1), 1);
  put((row) => legRamps(INTERVALS, row, 0, 1), 0);
}
