/**
 * Time parameterization of a route for joints whose jerk is limited, with the same wanted times as in
 * time-optimal.ts: the path acceleration is continuous. Double-S profiles begin and end without it at
 * anchors; sharp corners lie between them, passed as sharp-passes.ts says.
 *
 * What this models is a controller that makes full use of its limits and of the deviation. The program's F
 * words are only the greatest speed of each block; how a real controller slows down for a corner is its own.
 *
 * From rest to rest: (1) forwards and backwards as fast as jerk and acceleration of each block allow,
 * starting over without acceleration wherever a limit of speed is reached; (2) anchors are the corners and
 * the places where the lower of both curves reaches a limit; (3) anchors that no ramp can connect are
 * lowered, forwards and backwards; (4) between two of them runs the profile with the least acceleration and
 * jerk of the blocks between. It never lies above the curves of (1), so it keeps every limit that they
 * keep. All of it is linear in the number of blocks.
 */
import { type WantedTimes, type TimeParameterization, cruiseOf } from './wanted-times.js';
import {
  type Bends,
  MIXED_JERK,
  TURNING_ACCELERATION,
  TURNING_JERK,
  bendsOf,
} from './curvature-blends.js';
import { gain, peakOf, rampTo } from './double-s.js';
import { type Profile, Times, evenSeconds } from './double-s-profile.js';
import { Trajectory, type TrajectoryPiece } from './trajectory.js';
import type { PaceShare } from '../motion.js';
import { NO_JOINT, type Route } from './path-limits.js';
import { type Shares, sharesOf } from './pace-shares.js';
import { SharpPasses } from './sharp-passes.js';

/** Rounds in which corners that cannot be reached at their speed get smaller shapes. */
const REACH_ROUNDS = 3;

/** Share by which two limits of speed may differ and count as one. */
const SAME_LIMIT = 1e-9;

/** Loose: where a limit of speed is met. Fixed: a stop or a blend, where acceleration must rest. */
const Anchor = { none: 0, loose: 1, fixed: 2 } as const;

/** Called for every profile with its first block and the one after its last, and for every corner. */
export type OnProfile = (from: number, to: number, profile: Profile, seconds: number) => void;

export class JerkLimited implements TimeParameterization {
  readonly seconds: Float64Array;
  readonly real: Float64Array;
  readonly bends: Bends;
  readonly #route: Route;
  readonly #wanted: WantedTimes;
  /** Speeds at the start of each block: at most, forwards, backwards, as chosen; mm/s. */
  readonly #most: Float64Array;
  readonly #forth: Float64Array;
  readonly #back: Float64Array;
  readonly #speed: Float64Array;
  readonly #anchor: Uint8Array;
  /** Of each block: greatest speed, acceleration and jerk along it, the speeds (1) ends with, peak. */
  readonly #cap: Float64Array;
  readonly #ramp: Float64Array;
  readonly #jerk: Float64Array;
  readonly #gained: Float64Array;
  readonly #peak: Float64Array;
  readonly #state = new Float64Array(2);
  readonly #passes: SharpPasses;

  constructor(route: Route, wanted: WantedTimes) {
    const n = route.length.length;
    const values = (): Float64Array => new Float64Array(n + 1);
    this.#route = route;
    this.#wanted = wanted;
    this.bends = bendsOf(route);
    this.#passes = new SharpPasses(route, this.bends);
    this.seconds = new Float64Array(n);
    this.real = new Float64Array(n);
    this.#most = values();
    this.#forth = values();
    this.#back = values();
    this.#speed = values();
    this.#anchor = new Uint8Array(n + 1);
    this.#cap = values();
    this.#ramp = values();
    this.#jerk = values();
    this.#gained = values();
    this.#peak = values();
  }

  run(from: number, to: number): void {
    const { segment, length } = this.#route;
    for (let r = from; r < to; r++) {
      const a = segment[r]!;
      const b = segment[r + 1]!;
      if (length[a]! > 0) this.#settle(a, b);
      else {
        for (let i = a; i < b; i++) {
          this.seconds[i] = this.real[i] = this.#wanted.least[i]!;
        }
      }
    }
  }

  share(): PaceShare {
    return sharesOf(this.#route, this.#wanted, this.real, (a, b, shares) =>
      this.#segment(a, b, shares),
    );
  }

  /** Profiles of the segments from .. to, in order; a corner is a profile at one speed of no blocks. */
  profiles(from: number, to: number, each: OnProfile): void {
    const { segment, length } = this.#route;
    for (let r = from; r < to; r++) {
      if (length[segment[r]!]! > 0) this.#segment(segment[r]!, segment[r + 1]!, undefined, each);
    }
  }

  follow(visit: (stretch: TrajectoryPiece) => void): void {
    const { segment, length } = this.#route;
    const passes = this.#passes;
    const course = new Trajectory(this.#route, visit, passes);
    for (let r = 0; r + 1 < segment.length; r++) {
      const a = segment[r]!;
      const b = segment[r + 1]!;
      course.begin(a, b);
      if (!(length[a]! > 0)) for (let i = a; i < b; i++) course.stand(i, this.real[i]!);
      else {
        this.#segment(a, b, undefined, (from, to, p) => {
          const shape = from === to ? passes.shape[to] : undefined;
          if (shape) course.corner(to, shape, p.v0);
          else if (from === to) course.blend(to, p.v0);
          else course.along(from, to, new Times(p).runs);
        });
      }
    }
  }

  /**
   * Evenly round all corners first, then by shapes where that is quicker for the blocks of a corner. On a
   * way with many corners close together a shape may cost its neighbours more than it gains.
   */
  #settle(a: number, b: number): void {
    const passes = this.#passes;
    const some = passes.evenly(a, b);
    this.#segment(a, b);
    if (!some) return;
    const even = this.real.slice(a, b);
    if (!passes.choose(a, b, this.#cap, even)) return;
    for (let round = 1; round <= REACH_ROUNDS; round++) {
      this.#speeds(a, b);
      if (!passes.again(a, b, this.#speed, this.#cap, round === REACH_ROUNDS)) break;
    }
    this.#segment(a, b);
    if (passes.dropped(a, b, even, this.real)) this.#segment(a, b);
    let gained = 0;
    for (let i = a; i < b; i++) gained += even[i - a]! - this.real[i]!;
    if (gained >= 0) return;
    passes.evenly(a, b);
    this.#segment(a, b);
  }

  /** Times of the blocks a .. b, with the corners passed as they are set. */
  #segment(a: number, b: number, shares?: Shares, each?: OnProfile): void {
    this.#caps(a, b);
    this.#speeds(a, b);
    for (let i = a; i < b; i++) this.real[i] = this.#peak[i] = 0;
    let from = a;
    for (let k = a + 1; k <= b; k++) {
      if (!this.#anchor[k]) continue;
      this.#profile(a, b, from, k, shares, each);
      if (k < b) this.#corner(k, shares, each);
      from = k;
    }
    for (let i = a; i < b; i++) this.seconds[i] = this.#route.length[i]! / this.#peak[i]!;
  }

  #speeds(a: number, b: number): void {
    this.#limits(a, b);
    this.#gain(a, b);
    this.#choose(a, b);
  }

  #cruise(b: number): number {
    return cruiseOf(this.#route, this.#wanted, b);
  }

  /** Length of block i without the corners at its ends; the segment is a .. b. */
  #between(i: number, a: number, b: number): number {
    const { before, behind } = this.#passes;
    const start = i > a ? behind[i]! : 0;
    const end = i + 1 < b ? before[i + 1]! : 0;
    return Math.max(0, this.#route.length[i]! - start - end);
  }

  /** What each block allows at its greatest speed. */
  #caps(a: number, b: number): void {
    const { ramp } = this.#route;
    const { turn, twist, jerkRatio, jerk } = this.bends;
    for (let i = a; i < b; i++) {
      const cap = Math.min(this.#cruise(i), Math.sqrt(turn[i]!), Math.cbrt(twist[i]!));
      this.#cap[i] = cap;
      this.#ramp[i] = ramp[i]!;
      this.#jerk[i] = jerk[i]!;
      if (turn[i]! < Infinity) {
        // A joint bears k v^2 and 3 k v a beside p a and p j, with |k| <= TURNING_ACCELERATION limit / turn.
        const mixed = (MIXED_JERK * turn[i]! * jerkRatio[i]!) / (3 * TURNING_ACCELERATION * cap);
        this.#ramp[i] = Math.min(
          ramp[i]! * (1 - (TURNING_ACCELERATION * cap * cap) / turn[i]!),
          mixed,
        );
        this.#jerk[i] = jerk[i]! * (1 - MIXED_JERK - (TURNING_JERK * cap ** 3) / twist[i]!);
      }
    }
  }

  /** The greatest speeds from block to block, and where acceleration rests. */
  #limits(a: number, b: number): void {
    const { blend } = this.bends;
    const { speed } = this.#passes;
    for (let i = a; i < b; i++) {
      const stands = i === a;
      const before = stands ? 0 : Math.min(this.#cap[i - 1]!, this.#cap[i]!);
      this.#most[i] = stands ? 0 : Math.min(before, speed[i]!);
      this.#anchor[i] = stands || blend[i]! > 0 ? Anchor.fixed : Anchor.none;
    }
    this.#most[b] = 0;
    this.#anchor[b] = Anchor.fixed;
  }

  /** (1): the quickest gain of speed from either end. */
  #gain(a: number, b: number): void {
    let acceleration = 0;
    let v = 0;
    this.#forth[a] = this.#back[b] = 0;
    for (let i = a; i < b; i++) {
      [v, acceleration] = this.#step(i, i + 1, v, acceleration, this.#between(i, a, b));
      this.#gained[i] = this.#state[0]!;
      this.#forth[i + 1] = v;
    }
    [v, acceleration] = [0, 0];
    for (let i = b - 1; i >= a; i--) {
      [v, acceleration] = this.#step(i, i, v, acceleration, this.#between(i, a, b));
      this.#gained[i] = Math.min(this.#gained[i]!, this.#state[0]!);
      this.#back[i] = v;
    }
  }

  /** Through block i to its end k: speed and acceleration there, without what its limits cut off. */
  #step(i: number, k: number, v: number, a: number, length: number): [number, number] {
    gain(v, Math.min(a, this.#ramp[i]!), length, this.#ramp[i]!, this.#jerk[i]!, this.#state);
    const most = Math.min(this.#cap[i]!, this.#most[k]!);
    if (this.#anchor[k] || this.#state[0]! >= most) return [Math.min(this.#state[0]!, most), 0];
    return [this.#state[0]!, this.#state[1]!];
  }

  /** (2) and (3): anchors and their speeds. */
  #choose(a: number, b: number): void {
    const speed = this.#speed;
    let bound = Infinity;
    for (let k = a; k <= b; k++) {
      speed[k] = Math.min(this.#forth[k]!, this.#back[k]!);
      if (!this.#anchor[k] && speed[k]! >= this.#most[k]! * (1 - SAME_LIMIT)) {
        this.#anchor[k] = Anchor.loose;
      }
      if (this.#anchor[k]) bound = Infinity;
      if (k === b || !this.#binds(k)) continue;
      // Two different greatest speeds within one profile: it rests where the second begins.
      const cap = this.#cap[k]!;
      if (bound < Infinity && Math.abs(cap - bound) > SAME_LIMIT * cap)
        this.#anchor[k] = Anchor.loose;
      bound = cap;
    }
    this.#meet(a, b, 1);
    this.#meet(b, a, -1);
  }

  /** True if block i would be run faster if its own limit allowed it. */
  #binds(i: number): boolean {
    return this.#cap[i]! < this.#gained[i]!;
  }

  /**
   * Lowers each anchor to what a ramp from the one before reaches. Where a limit of speed is met
   * sooner than a ramp can end there and is not passed later either, there is no need to rest.
   */
  #meet(first: number, last: number, by: 1 | -1): void {
    const [a, b] = by > 0 ? [first, last] : [last, first];
    let [length, ramp, jerk] = [0, Infinity, Infinity];
    let v = this.#speed[first]!;
    for (let k = first; k !== last;) {
      const i = by > 0 ? k : k - 1;
      length += this.#between(i, a, b);
      ramp = Math.min(ramp, this.#ramp[i]!);
      jerk = Math.min(jerk, this.#jerk[i]!);
      k += by;
      if (!this.#anchor[k]) continue;
      const reached = rampTo(v, length, this.#speed[k]!, ramp, jerk);
      if (reached < this.#speed[k]! && this.#passable(k, last, by)) {
        this.#anchor[k] = Anchor.none;
        continue;
      }
      v = this.#speed[k] = reached;
      [length, ramp, jerk] = [0, Infinity, Infinity];
    }
  }

  /** True if the anchor after k is no faster than what k allows. */
  #passable(k: number, last: number, by: 1 | -1): boolean {
    if (this.#anchor[k] === Anchor.fixed) return false;
    let next = k + by;
    while (next !== last && !this.#anchor[next]) next += by;
    return this.#speed[next]! <= this.#most[k]! * (1 + SAME_LIMIT);
  }

  /** (4): from the anchor before block `from` to the one before block `to`. */
  #profile(
    a: number,
    b: number,
    from: number,
    to: number,
    shares?: Shares,
    each?: OnProfile,
  ): void {
    let [length, most, ramp, jerk] = [0, Infinity, Infinity, Infinity];
    let [slow, weak, stiff] = [from, from, from];
    for (let i = from; i < to; i++) {
      length += this.#between(i, a, b);
      if (this.#binds(i) && this.#cap[i]! < most) [most, slow] = [this.#cap[i]!, i];
      if (this.#ramp[i]! < ramp) [ramp, weak] = [this.#ramp[i]!, i];
      if (this.#jerk[i]! < jerk) [jerk, stiff] = [this.#jerk[i]!, i];
    }
    if (!(length > 0)) return;
    const [v0, v1] = [this.#speed[from]!, this.#speed[to]!];
    most = Math.max(v0, v1, Math.min(most, Math.sqrt(ramp * length + v0 * v0 + v1 * v1)));
    // A ramp that only just fits may miss by rounding.
    const peak = peakOf(length, v0, v1, most, ramp, jerk);
    const profile = { length, v0, peak, v1, acceleration: ramp, jerk };
    each?.(from, to, profile, new Times(profile).seconds);
    this.#spread(a, b, from, to, profile);
    if (shares) this.#tally(profile, slow, weak, stiff, shares);
  }

  /** Time and greatest speed of each block of a profile. */
  #spread(a: number, b: number, from: number, to: number, p: Profile): void {
    const whole = new Times(p);
    if (to === from + 1) {
      this.real[from]! += whole.seconds;
      this.#peak[from] = Math.max(this.#peak[from]!, p.peak);
      return;
    }
    let s = 0;
    let before = 0;
    for (let i = from; i < to; i++) {
      const start = s;
      s += this.#between(i, a, b);
      const t = i + 1 < to ? whole.at(s) : whole.seconds;
      this.real[i]! += t - before;
      const peak =
        s < whole.up ? whole.speed(t) : start > whole.down ? whole.speed(before) : p.peak;
      this.#peak[i] = Math.max(this.#peak[i]!, peak);
      before = t;
    }
  }

  /** The corner at the start of block k: half of what it costs in either block. */
  #corner(k: number, shares?: Shares, each?: OnProfile): void {
    const passes = this.#passes;
    if (!(this.bends.blend[k]! > 0)) return;
    const v = this.#speed[k]!;
    const seconds = passes.seconds(k, v);
    const length = passes.before[k]! + passes.behind[k]!;
    const lost = (seconds - length / v) / 2;
    this.real[k - 1]! += passes.before[k]! / v + lost;
    this.real[k]! += passes.behind[k]! / v + lost;
    for (const i of [k - 1, k]) this.#peak[i] = Math.max(this.#peak[i]!, v);
    each?.(k, k, { length, v0: v, peak: v, v1: v, acceleration: 0, jerk: 0 }, seconds);
    if (!shares) return;
    const slower = this.#cap[k - 1]! < this.#cap[k]! ? k - 1 : k;
    // What a shape loses against even speed is its hardest joint's doing.
    const level = passes.shape[k] ? Math.min(seconds, length / v) : seconds;
    const bound = v >= passes.speed[k]! * (1 - SAME_LIMIT) && v < this.#cap[slower]!;
    shares.joint(passes.joint[k]!, bound ? seconds : seconds - level);
    if (!bound) this.#level(slower, level, shares);
  }

  #tally(p: Profile, slow: number, weak: number, stiff: number, shares: Shares): void {
    const { rampJoint } = this.#route;
    const { jerkJoint } = this.bends;
    const whole = new Times(p);
    const even = evenSeconds(p);
    const ramps = whole.seconds - whole.level;
    const joint = jerkJoint[stiff]!;
    shares.joint(rampJoint[weak]!, even);
    shares.joint(joint === NO_JOINT ? rampJoint[weak]! : joint, ramps - even);
    this.#level(slow, whole.level, shares);
  }

  /** Counts seconds at the greatest speed of block i. */
  #level(i: number, seconds: number, shares: Shares): void {
    const cruise = this.#cruise(i);
    if (this.#cap[i]! < cruise) shares.joint(this.bends.turnJoint[i]!, seconds);
    else shares.cruise(i, cruise, seconds);
  }
}
