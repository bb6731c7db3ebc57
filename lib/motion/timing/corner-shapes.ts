/**
 * The quickest ways round the corners of a route (corner-trajectory.ts), each found once for corners that
 * are nearly alike.
 *
 * A shape is sought for rates, speed and tolerance that are rounded a little, and with a little less than
 * the limits (SPARE). For the corner itself it is then judged by an own rule, instant by instant: joints
 * that would break a limit get the whole corner stretched in time, and where the path would stray too far
 * after that the shape is sought again with exact figures. So what is handed out keeps all limits, however
 * it was found.
 *
 * Measured on the programs of the samples: 4,000 to 16,000 linear programs of about 1 ms each, for 0.1 to
 * 1.9 percent of the time; finer rounding solves three times as many and gains 2 percent of a corner. Where
 * more than MOST_JOINTS joints move, as in curved layers, corners are passed evenly: a shape keeps to the
 * plane of both legs, and a sample with 6,600 programs gained 0.8 of 3,100 s.
 */
import {
  type CornerJoint,
  type CornerShape,
  type CornerTask,
  type LegLengths,
  cornerShape,
  swingSeconds,
} from './corner-trajectory.js';
import { type PassedCorner, type RoutedCorner, judged } from './corner-passing.js';
import { rampLength, rampSeconds, rampTo } from './double-s.js';
import { RADIAN, type Route, tipShift } from './path-limits.js';

/** Times for a corner, in swings: the best, and one for short blocks; shallow corners need more. */
const HORIZONS = { sharp: [2, 1.4], shallow: [2.3, 1.7] } as const;
/** Cosine between two legs from which on a corner is shallow. */
const SHALLOW = 0.5;
/** Share of the length that speed over the whole time would give that a corner takes at least. */
const SHORTEST_CORNER = 0.8;
/** Factors between speeds that are tried where blocks are short, and how many of them. */
const SLOWER = { least: 0.6, most: 0.85 } as const;
const TRIALS = 8;
/** Speeds that are tried after the first lie on powers of so much. */
const SPEED_STEP = 0.2;
/** Shares of the limits with which shapes are sought, and of the tolerance where that was not enough. */
const SPARE = { limits: 0.99, places: 0.98, again: 0.92 } as const;
/** Rounding of directions, and as shares that of speeds, and that of angles and tolerances. */
const DIRECTION = 1 / 40;
const SHARE = 0.01;
const COARSE = 0.025;
/** Gain of speed below which a corner is not worth a shape. */
const WORTH_A_SHAPE = 1.15;

/** Joints in a corner beyond which no shape is sought. */
const MOST_JOINTS = 3;

/** Linear programs that are solved for a job, about a millisecond each. */
const MOST_SHAPES = 10_000;

/** What a cosine of two legs is less than 1 at least. */
const STRAIGHT = 1e-12;

/** Share of its room up to which a corner leaves its legs long. */
const ROOMY = 0.5;

/** A straight from a corner to the middle of its block: mm, and the limits along it in mm/s, mm/s2, mm/s3. */
export interface CornerLeg {
  readonly length: number;
  readonly cap: number;
  readonly ramp: number;
  readonly jerk: number;
}

/** Time over what a corner leaves of its legs, with a ramp up from its speed, s. */
const onLegs = (legs: readonly [CornerLeg, CornerLeg], speed: number, taken: LegLengths): number =>
  legs.reduce((sum, { length, cap, ramp, jerk }, i) => {
    const far = Math.max(0, length - taken[i]!);
    const peak = rampTo(speed, far, Math.max(speed, cap), ramp, jerk);
    const rest = Math.max(0, far - rampLength(speed, peak, ramp, jerk));
    return sum + rampSeconds(speed, peak, ramp, jerk) + rest / peak;
  }, 0);

export class CornerShapes {
  readonly #route: Route;
  readonly #known = new Map<string, CornerShape | undefined>();
  #count = 0;

  constructor(route: Route) {
    this.#route = route;
  }

  /**
   * The quickest way round the corner at the start of block b that fits into half of either block.
   * @param u rates of the block before it
   * @param w rates of the block behind it
   * @param most path speed at which it may be passed, mm/s
   * @param legs the straights before it and behind it, up to the middle of either block
   * @param blend how it can be passed evenly
   * @returns undefined if that is as quick
   */
  pick(
    b: number,
    u: Float64Array,
    w: Float64Array,
    most: number,
    legs: readonly [CornerLeg, CornerLeg],
    blend: { readonly speed: number; readonly half: number },
  ): PassedCorner | undefined {
    const room = Math.min(legs[0].length, legs[1].length);
    if (u.reduce((n, rate, j) => n + (rate || w[j] ? 1 : 0), 0) > MOST_JOINTS) return undefined;
    const corner = cornerOf(this.#route, b, u, w);
    const even = Math.min(most, blend.speed);
    let least = onLegs(legs, even, [blend.half, blend.half]) + (2 * blend.half) / even;
    let best: PassedCorner | undefined;
    let speed = most;
    for (let n = 0; n < TRIALS && speed > blend.speed * WORTH_A_SHAPE; n++) {
      const time = speed * swingSeconds(corner.joints, speed);
      let excess = Infinity;
      for (const horizon of HORIZONS[corner.along > SHALLOW ? 'shallow' : 'sharp']) {
        excess = (time * horizon * SHORTEST_CORNER) / room;
        if (excess > 1) continue;
        const passed = this.#pass({ ...corner, speed, horizon });
        excess = passed ? Math.max(passed.before, passed.behind) / room : 1;
        if (!passed || excess > 1) continue;
        const { before, behind, seconds } = passed;
        const took = onLegs(legs, passed.speed, [before, behind]) + seconds;
        // On long legs nothing slower is quicker; on short ones it may leave room to speed up.
        if (took > least || excess < ROOMY) return took < least ? passed : best;
        [least, best] = [took, passed];
        break;
      }
      // With the same jerk a corner's length goes with speed to the power of 3/2.
      speed *= Math.min(SLOWER.most, Math.max(SLOWER.least, excess ** (-2 / 3)));
      speed = Math.exp(Math.floor(Math.log(speed) / SPEED_STEP) * SPEED_STEP);
    }
    return best;
  }

  #pass(task: RoutedCorner): PassedCorner | undefined {
    const near = nearby(task);
    let shape = this.#known.get(near.key);
    if (!shape && !this.#known.has(near.key)) {
      shape = this.#sought(spared(near.task, SPARE.places));
      this.#known.set(near.key, shape);
    }
    const scale = task.speed / near.task.speed;
    const passed = shape && judged(task, shape, scale);
    if (passed || !shape) return passed;
    const own = this.#sought(spared(task, SPARE.again));
    return own && judged(task, own, 1);
  }

  #sought(task: CornerTask): CornerShape | undefined {
    return this.#count++ < MOST_SHAPES ? cornerShape(task) : undefined;
  }
}

const bothLegs = ([a, b]: LegLengths, change: (mm: number) => number): LegLengths => [
  change(a),
  change(b),
];

const spared = (task: CornerTask, places: number): CornerTask => ({
  ...task,
  joints: task.joints.map((joint) => ({
    ...joint,
    speed: joint.speed,
    acceleration: joint.acceleration * SPARE.limits,
    jerk: joint.jerk * SPARE.limits,
  })),
  inside: bothLegs(task.inside, (mm) => mm * places),
  outside: bothLegs(task.outside, (mm) => mm * places),
});

/** Rates count in mm of path for each joint: a radian as RADIAN mm. */
function cornerOf(
  route: Route,
  b: number,
  u: Float64Array,
  w: Float64Array,
): Omit<RoutedCorner, 'speed' | 'horizon'> {
  const { machine } = route;
  const joints: CornerJoint[] = [];
  const which: number[] = [];
  let along = 0;
  for (let j = 0; j < u.length; j++) {
    if (u[j] === 0 && w[j] === 0) continue;
    const { kind, speed, acceleration, jerk } = machine.joints[j]!;
    const mm = kind === 'rotary' ? RADIAN : 1;
    along += u[j]! * w[j]! * mm * mm;
    which.push(j);
    joints.push({
      before: u[j]! * mm,
      behind: w[j]! * mm,
      speed: speed * mm,
      acceleration: acceleration * mm,
      jerk: jerk * mm,
    });
  }
  along = Math.max(-1, Math.min(1 - STRAIGHT, along));
  return { joints, which, along, ...strayed(route, b, u, w, along) };
}

/**
 * How much of either leg may be cut off or overrun. The path is off the other leg by that much times what
 * stands across to it in this leg's direction. In an acute corner the foot on the other leg would lie far
 * from the corner: there the path keeps as near to the corner as in a right angle. No joint overruns its
 * travel.
 */
function strayed(
  { machine, polyline, deviation }: Route,
  b: number,
  u: Float64Array,
  w: Float64Array,
  along: number,
): { inside: LegLengths; outside: LegLengths } {
  const n = u.length;
  const at = polyline.joints.subarray((b - 1) * n, b * n);
  const shift = (of: Float64Array, less: number, leg: Float64Array): number =>
    tipShift(
      machine,
      at,
      of.map((rate, j) => rate - less * leg[j]!),
    );
  // The foot may be anywhere on the other leg: over the joints, or where one joint stands right.
  const across = (of: Float64Array, leg: Float64Array): number => {
    let least = shift(of, along, leg);
    of.forEach((rate, j) => {
      const foot = rate / leg[j]!;
      if (foot > 0 && foot < 1) least = Math.min(least, shift(of, foot, leg));
    });
    return least;
  };
  const pairs = [
    [u, w],
    [w, u],
  ] as const;
  const lengths = pairs.map(([leg, other]) => {
    const inside =
      along >= 0 ? deviation / across(leg, other) : (Math.SQRT2 * deviation) / shift(other, 1, leg);
    let outside = along >= 0 ? inside : deviation / shift(leg, 0, other);
    for (let j = 0; j < n; j++) {
      const { least, most } = machine.joints[j]!;
      const rate = leg === u ? leg[j]! : -leg[j]!;
      if (rate > 0) outside = Math.min(outside, (most - at[j]!) / rate);
      if (rate < 0) outside = Math.min(outside, (least - at[j]!) / rate);
    }
    return [inside, Math.max(0, outside)] as const;
  });
  const [[in0, out0], [in1, out1]] = lengths as [LegLengths, LegLengths];
  return { inside: [in0, in1], outside: [out0, out1] };
}

/** A corner much like this one, of which there are few, and its name. */
function nearby(task: CornerTask): { readonly task: CornerTask; readonly key: string } {
  const { along, horizon } = task;
  const share = (x: number, round: (x: number) => number, by = COARSE): number =>
    round(Math.log(x) / by);
  const back = (n: number, by = COARSE): number => Math.exp(n * by);
  const speed = share(task.speed, (x) => Math.ceil(x - SHARE), SHARE);
  const inside = bothLegs(task.inside, (mm) => share(mm, Math.floor));
  const outside = bothLegs(task.outside, (mm) => share(mm, Math.floor));
  const tangent = share(Math.sqrt((1 - along) / (1 + along)), Math.round);
  // Half of the legs' sum and of their difference, which stand square to one another.
  const half = Math.atan(back(tangent));
  const [mean, jump] = [Math.sqrt((1 + along) / 2), Math.sqrt((1 - along) / 2)];
  const rows = task.joints.map(({ before, behind, ...limits }) => {
    let a = Math.round((before + behind) / 2 / mean / DIRECTION);
    let b = Math.round((behind - before) / 2 / jump / DIRECTION);
    if (a < 0 || (a === 0 && b < 0)) [a, b] = [-a, -b];
    const [c, d] = [a * DIRECTION * Math.cos(half), b * DIRECTION * Math.sin(half)];
    const name = [a, b, limits.speed, limits.acceleration, limits.jerk].join(' ');
    return { name, joint: { before: c - d, behind: c + d, ...limits } };
  });
  rows.sort((p, q) => (p.name < q.name ? -1 : 1));
  const key = [speed, inside, outside, tangent, horizon, ...rows.map((r) => r.name)].join(' ');
  return {
    key,
    task: {
      joints: rows.map((r) => r.joint),
      along: Math.cos(2 * half),
      speed: back(speed, SHARE),
      inside: bothLegs(inside, (x) => back(x)),
      outside: bothLegs(outside, (x) => back(x)),
      horizon,
    },
  };
}
