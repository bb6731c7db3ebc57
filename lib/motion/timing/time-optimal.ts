/**
 * Time-optimal path parameterization under every joint's speed and acceleration, by reachability analysis:
 * from each stop backwards the greatest speeds from which the stop can still be made, then forwards as fast
 * as those and the joints allow. Each block is three stretches: half of the corner before it, the straight
 * between, half of the corner after it. The path acceleration is constant in the halves, so limits hold at
 * every point of them (interval.ts); the straight is run in the least time, by ramps and a stretch at the
 * greatest speed. Both passes are linear in the number of blocks.
 */
import { Interval } from './interval.js';
import { type WantedTimes, type TimeParameterization, cruiseOf } from './wanted-times.js';
import { Trajectory, type TrajectoryPiece } from './trajectory.js';
import type { PaceShare } from '../motion.js';
import { trapezoid } from './trapezoid.js';
import { type Route, ratesInto } from './path-limits.js';
import type { JerkSegment } from './jerk-segment.js';
import { type Shares, sharesOf } from './pace-shares.js';

/** Share of a limit from which on it counts as what limits the speed. */
const AT_LIMIT = 0.95;

export class TimeOptimal implements TimeParameterization {
  readonly #route: Route;
  readonly #wanted: WantedTimes;
  readonly #interval: Interval;
  #u: Float64Array;
  #v: Float64Array;
  readonly seconds: Float64Array;
  readonly real: Float64Array;
  /** Squares of the speed at the four ends of the three stretches, mm2/s2; block b has 3 b .. 3 b + 3. */
  readonly x: Float64Array;

  /** @param wanted may be changed between calls of `run` */
  constructor(route: Route, wanted: WantedTimes) {
    const n = route.length.length;
    const joints = route.polyline.jointCount;
    this.#route = route;
    this.#wanted = wanted;
    this.#interval = new Interval(joints);
    this.#u = new Float64Array(joints);
    this.#v = new Float64Array(joints);
    this.seconds = new Float64Array(n);
    this.real = new Float64Array(n);
    this.x = new Float64Array(3 * n + 1);
  }

  run(from: number, to: number): void {
    const { segment, length } = this.#route;
    for (let r = from; r < to; r++) {
      const a = segment[r]!;
      const b = segment[r + 1]!;
      if (length[a]! > 0) {
        this.#backward(a, b);
        this.#forward(a, b);
      } else this.#stand(a, b);
    }
  }

  #stand(a: number, b: number): void {
    const { x } = this;
    for (let i = a; i < b; i++) {
      this.seconds[i] = this.real[i] = this.#wanted.least[i]!;
      x[3 * i] = x[3 * i + 1] = x[3 * i + 2] = 0;
    }
  }

  /** Greatest x from which the segment can still end at rest, at every end of a stretch. */
  #backward(a: number, b: number): void {
    const { length, ramp, round, corner } = this.#route;
    const { x } = this;
    x[3 * b] = 0;
    x[3 * b - 1] = 0;
    this.#load(b - 1, this.#v);
    let cap = this.#cruise(b - 1) ** 2;
    for (let i = b - 1; i > a; i--) {
      const d = round[i]!;
      const turn = corner[i]!;
      const straight = length[i]! - d - (i + 1 < b ? round[i + 1]! : 0);
      const stop = x[3 * i + 2]! + 2 * ramp[i]! * Math.max(0, straight);
      x[3 * i + 1] = Math.min(cap, turn, stop);
      const before = this.#cruise(i - 1) ** 2;
      const both = Math.min(cap, before, turn);
      this.#load(i - 1, this.#u);
      if (d > 0) {
        x[3 * i] = this.#half(i, true).mostBefore(both, x[3 * i + 1]!);
        x[3 * i - 1] = this.#half(i, false).mostBefore(Math.min(before, turn), x[3 * i]!);
      } else x[3 * i] = x[3 * i - 1] = Math.min(both, x[3 * i + 1]!);
      [this.#u, this.#v] = [this.#v, this.#u];
      cap = before;
    }
    x[3 * a] = x[3 * a + 1] = 0;
  }

  /** As fast as that and the joints allow, from rest; finds the times of the blocks. */
  #forward(a: number, b: number): void {
    const { length, ramp, round } = this.#route;
    const { x } = this;
    this.#load(a, this.#u);
    for (let i = a; i < b; i++) {
      const d = i > a ? round[i]! : 0;
      const next = i + 1 < b ? round[i + 1]! : 0;
      const straight = Math.max(0, length[i]! - d - next);
      x[3 * i + 2] = Math.min(x[3 * i + 2]!, x[3 * i + 1]! + 2 * ramp[i]! * straight);
      if (i + 1 < b) {
        this.#load(i + 1, this.#v);
        if (next > 0) {
          x[3 * i + 3] = this.#half(i + 1, false).mostAfter(x[3 * i + 2]!, x[3 * i + 3]!);
          x[3 * i + 4] = this.#half(i + 1, true).mostAfter(x[3 * i + 3]!, x[3 * i + 4]!);
        } else {
          x[3 * i + 3] = x[3 * i + 2]!;
          x[3 * i + 4] = Math.min(x[3 * i + 4]!, x[3 * i + 3]!);
        }
        [this.#u, this.#v] = [this.#v, this.#u];
      }
      this.#time(i, d, straight, next);
    }
  }

  #time(i: number, d: number, straight: number, next: number): void {
    const { ramp, length } = this.#route;
    const [v0, v1, v2, v3] = this.#speeds(i);
    const cruise = this.#cruise(i);
    const t = trapezoid(straight, v1, v2, cruise, ramp[i]!);
    const peak = Math.max(v0, t.peak, v3);
    this.seconds[i] = length[i]! / peak;
    this.real[i] = evenly(d, v0, v1) + t.seconds + evenly(next, v2, v3);
  }

  /** At the ends of the three stretches of block i, mm/s. */
  #speeds(i: number): Four {
    return [0, 1, 2, 3].map((k) => Math.sqrt(this.x[3 * i + k]!)) as Four;
  }

  #cruise(b: number): number {
    return cruiseOf(this.#route, this.#wanted, b);
  }

  #load(b: number, rate: Float64Array): void {
    ratesInto(this.#route.machine, this.#route.polyline, b, rate);
  }

  /** Bands of half of the corner at the start of block b: its part in block b, or in block b - 1. */
  #half(b: number, after: boolean): Interval {
    const { machine, round } = this.#route;
    const d = round[b]!;
    const interval = this.#interval;
    interval.clear();
    for (let j = 0; j < this.#u.length; j++) {
      const u = this.#u[j]!;
      const v = this.#v[j]!;
      const middle = (u + v) / 2;
      const k = (v - u) / (2 * d);
      const { acceleration } = machine.joints[j]!;
      if (after) interval.add(j, middle, v, k, d, acceleration);
      else interval.add(j, u, middle, k, d, acceleration);
    }
    return interval;
  }

  follow(visit: (stretch: TrajectoryPiece) => void): void {
    const { segment, length } = this.#route;
    const course = new Trajectory(this.#route, visit);
    for (let r = 0; r + 1 < segment.length; r++) {
      const a = segment[r]!;
      const b = segment[r + 1]!;
      course.begin(a, b);
      for (let i = a; i < b; i++) {
        if (length[a]! > 0) this.#followBlock(a, b, i, course);
        else course.stand(i, this.real[i]!);
      }
    }
  }

  #followBlock(a: number, b: number, i: number, course: Trajectory): void {
    const { length, ramp, round } = this.#route;
    const d = i > a ? round[i]! : 0;
    const next = i + 1 < b ? round[i + 1]! : 0;
    const [v0, v1, v2, v3] = this.#speeds(i);
    const most = ramp[i]!;
    const t = trapezoid(Math.max(0, length[i]! - d - next), v1, v2, this.#cruise(i), most);
    course.along(i, i + 1, [
      even(evenly(d, v0, v1), v0, v1),
      even((t.peak - v1) / most, v1, t.peak),
      even(t.cruise, t.peak, t.peak),
      even((t.peak - v2) / most, t.peak, v2),
      even(evenly(next, v2, v3), v2, v3),
    ]);
  }

  share(): PaceShare {
    return sharesOf(this.#route, this.#wanted, this.real, (a, b, shares) =>
      this.#shareSegment(a, b, shares),
    );
  }

  #shareSegment(a: number, b: number, shares: Shares): void {
    const { length, ramp, rampJoint, round } = this.#route;
    const { x } = this;
    this.#load(a, this.#u);
    for (let i = a; i < b; i++) {
      const cruise = this.#cruise(i);
      const d = i > a ? round[i]! : 0;
      const next = i + 1 < b ? round[i + 1]! : 0;
      const straight = Math.max(0, length[i]! - d - next);
      const [v1, v2] = [Math.sqrt(x[3 * i + 1]!), Math.sqrt(x[3 * i + 2]!)];
      const t = trapezoid(straight, v1, v2, cruise, ramp[i]!);
      shares.joint(rampJoint[i]!, t.seconds - t.cruise);
      if (t.peak >= cruise * AT_LIMIT) shares.cruise(i, cruise, t.cruise);
      if (i + 1 === b) break;
      this.#load(i + 1, this.#v);
      if (next > 0) {
        const after = Math.min(cruise, this.#cruise(i + 1));
        this.#shareHalf(i + 1, 3 * i + 2, false, after, shares);
        this.#shareHalf(i + 1, 3 * i + 3, true, after, shares);
      }
      [this.#u, this.#v] = [this.#v, this.#u];
    }
  }

  /** Half a corner counts for the joint at its acceleration, else for what holds the speed. */
  #shareHalf(corner: number, at: number, after: boolean, cruise: number, shares: Shares): void {
    const { x } = this;
    const seconds = evenly(this.#route.round[corner]!, Math.sqrt(x[at]!), Math.sqrt(x[at + 1]!));
    const { joint, share } = this.#half(corner, after).hardest(x[at]!, x[at + 1]!);
    if (share >= AT_LIMIT) shares.joint(joint, seconds);
    else if (Math.max(x[at]!, x[at + 1]!) >= (cruise * AT_LIMIT) ** 2) {
      const slower = this.#cruise(corner - 1) <= cruise ? corner - 1 : corner;
      shares.cruise(slower, cruise, seconds);
    }
  }
}

type Four = [number, number, number, number];

/** Constant acceleration from one speed to another in a given time. */
const even = (seconds: number, v0: number, v1: number): JerkSegment => ({
  seconds,
  speed: v0,
  acceleration: seconds > 0 ? (v1 - v0) / seconds : 0,
  jerk: 0,
});

/** Time over a length at constant acceleration between two speeds, s. */
const evenly = (length: number, v0: number, v1: number): number =>
  length > 0 ? (2 * length) / (v0 + v1) : 0;
