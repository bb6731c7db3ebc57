/**
 * The pace along a route: what each block is asked for comes in, speeds, times and what sets the pace
 * go out. Time-optimal under every joint's speed and acceleration, by reachability analysis: from
 * each stop backwards the greatest speeds from which the stop can still be kept, then forwards as
 * fast as those and the joints allow. Each block is three stretches: half of the corner before it,
 * the straight between, half of the corner after it. The path acceleration is even in the halves, so
 * limits hold at every point of them (interval.ts); the straight is run in the best way, by ramps and
 * what lies between. Both passes are linear in the number of blocks.
 */
import { Interval } from './interval.js';
import type { PaceShare } from './motion.js';
import { trapezoid } from './profile.js';
import { type Route, ratesInto } from './route.js';

/** What may set the pace beside a joint's limit. Stored in `Ask.source`. */
export const Source = { asked: 0, flow: 1, layerTime: 2 } as const;
export type Source = (typeof Source)[keyof typeof Source];

/** What a job asks of its blocks. */
export interface Ask {
  /** Greatest tip speed of each block, mm/s; of the filament where only filament moves. */
  readonly speed: Float64Array;
  /** A `Source` a block: whose wish that is. */
  readonly source: Uint8Array;
  /**
   * Tip speed under which the feed of a block need not go, mm/s. Between close corners a block may
   * reach very little for moments that no nozzle notices; its feed then stays here, if the joints
   * allow it, and the controller slows down in the corners by itself.
   */
  readonly floor: Float64Array;
}

export interface Pace {
  /** Squares of the speed at the four ends of the three stretches, mm2/s2; block b has 3 b .. 3 b + 3. */
  readonly x: Float64Array;
  /** Time of each block at its feed, s: no joint is asked for more than its speed. */
  readonly seconds: Float64Array;
  /** Time of each block with speeding up and slowing down, s. */
  readonly real: Float64Array;
}

/** Share of a limit from which on it counts as what sets the pace. */
const AT_LIMIT = 0.95;

export class Pacer {
  readonly #route: Route;
  readonly #ask: Ask;
  readonly #interval: Interval;
  #u: Float64Array;
  #v: Float64Array;
  readonly pace: Pace;

  /** @param ask may be changed between calls of `run` */
  constructor(route: Route, ask: Ask) {
    const n = route.length.length;
    const joints = route.blocks.jointCount;
    this.#route = route;
    this.#ask = ask;
    this.#interval = new Interval(joints);
    this.#u = new Float64Array(joints);
    this.#v = new Float64Array(joints);
    this.pace = {
      x: new Float64Array(3 * n + 1),
      seconds: new Float64Array(n),
      real: new Float64Array(n),
    };
  }

  /** Sets the pace of rides from .. to (exclusive). */
  run(from: number, to: number): void {
    const { ride, length } = this.#route;
    for (let r = from; r < to; r++) {
      const a = ride[r]!;
      const b = ride[r + 1]!;
      if (length[a]! > 0) {
        this.#backward(a, b);
        this.#forward(a, b);
      } else this.#stand(a, b);
    }
  }

  /** Greatest speed along block b, mm/s of its length over the joints. */
  cruise(b: number): number {
    const { blocks, length, speed } = this.#route;
    const tip = blocks.length[b]!;
    // A tip that stands still over the part sets no pace; the joints alone do.
    const asked = tip > 0 ? (this.#ask.speed[b]! * length[b]!) / tip : Infinity;
    return Math.min(speed[b]!, asked);
  }

  #stand(a: number, b: number): void {
    const { blocks } = this.#route;
    const { seconds, real, x } = this.pace;
    for (let i = a; i < b; i++) {
      const speed = this.#ask.speed[i]!;
      seconds[i] = real[i] = speed > 0 ? Math.abs(blocks.filament[i]!) / speed : 0;
      x[3 * i] = x[3 * i + 1] = x[3 * i + 2] = 0;
    }
  }

  /** Greatest x from which the ride can still end at rest, at every end of a stretch. */
  #backward(a: number, b: number): void {
    const { length, ramp, round, corner } = this.#route;
    const { x } = this.pace;
    x[3 * b] = 0;
    x[3 * b - 1] = 0;
    this.#load(b - 1, this.#v);
    let cap = this.cruise(b - 1) ** 2;
    for (let i = b - 1; i > a; i--) {
      const d = round[i]!;
      const turn = corner[i]!;
      const straight = length[i]! - d - (i + 1 < b ? round[i + 1]! : 0);
      const stop = x[3 * i + 2]! + 2 * ramp[i]! * Math.max(0, straight);
      x[3 * i + 1] = Math.min(cap, turn, stop);
      const before = this.cruise(i - 1) ** 2;
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

  /** As fast as that and the joints allow, from rest; times on the way. */
  #forward(a: number, b: number): void {
    const { length, ramp, round } = this.#route;
    const { x } = this.pace;
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
    const { blocks, length, ramp } = this.#route;
    const { x, seconds, real } = this.pace;
    const [v0, v1, v2, v3] = [0, 1, 2, 3].map((k) => Math.sqrt(x[3 * i + k]!)) as Four;
    const cruise = this.cruise(i);
    const t = trapezoid(straight, v1, v2, cruise, ramp[i]!);
    const peak = Math.max(v0, t.peak, v3);
    const tip = blocks.length[i]!;
    const floor = tip > 0 ? (this.#ask.floor[i]! * length[i]!) / tip : 0;
    seconds[i] = length[i]! / Math.max(peak, Math.min(cruise, floor));
    real[i] = evenly(d, v0, v1) + t.seconds + evenly(next, v2, v3);
  }

  #load(b: number, rate: Float64Array): void {
    ratesInto(this.#route.machine, this.#route.blocks, b, rate);
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

  /** Shares of the whole time; call it once all rides have their pace. */
  share(): PaceShare {
    const { ride, length } = this.#route;
    const tally = new Tally(this.#u.length);
    for (let r = 0; r + 1 < ride.length; r++) {
      const a = ride[r]!;
      const b = ride[r + 1]!;
      if (!(length[a]! > 0)) for (let i = a; i < b; i++) tally.filament += this.pace.real[i]!;
      else this.#shareRide(a, b, tally);
    }
    return tally.shares(this.pace.real);
  }

  #shareRide(a: number, b: number, tally: Tally): void {
    const { length, ramp, rampJoint, speed, speedJoint, round } = this.#route;
    const { x } = this.pace;
    this.#load(a, this.#u);
    for (let i = a; i < b; i++) {
      const cruise = this.cruise(i);
      const fast = cruise >= speed[i]! ? speedJoint[i]! : -1;
      const source = this.#ask.source[i]!;
      const d = i > a ? round[i]! : 0;
      const next = i + 1 < b ? round[i + 1]! : 0;
      const straight = Math.max(0, length[i]! - d - next);
      const [v1, v2] = [Math.sqrt(x[3 * i + 1]!), Math.sqrt(x[3 * i + 2]!)];
      const t = trapezoid(straight, v1, v2, cruise, ramp[i]!);
      tally.joint(rampJoint[i]!, t.seconds - t.cruise);
      if (t.peak >= cruise * AT_LIMIT) tally.cruise(fast, source, t.cruise);
      if (i + 1 === b) break;
      this.#load(i + 1, this.#v);
      if (next > 0) {
        const after = Math.min(cruise, this.cruise(i + 1));
        this.#shareHalf(i + 1, 3 * i + 2, false, after, fast, source, tally);
        this.#shareHalf(i + 1, 3 * i + 3, true, after, fast, source, tally);
      }
      [this.#u, this.#v] = [this.#v, this.#u];
    }
  }

  /** Half a corner counts for the joint at its acceleration, else for what holds the speed. */
  #shareHalf(
    corner: number,
    at: number,
    after: boolean,
    cruise: number,
    fast: number,
    source: number,
    tally: Tally,
  ): void {
    const { x } = this.pace;
    const seconds = evenly(this.#route.round[corner]!, Math.sqrt(x[at]!), Math.sqrt(x[at + 1]!));
    const { joint, share } = this.#half(corner, after).hardest(x[at]!, x[at + 1]!);
    if (share >= AT_LIMIT) tally.joint(joint, seconds);
    else if (Math.max(x[at]!, x[at + 1]!) >= (cruise * AT_LIMIT) ** 2)
      tally.cruise(fast, source, seconds);
  }
}

type Four = [number, number, number, number];

/** Time over a length at even acceleration between two speeds, s. */
const evenly = (length: number, v0: number, v1: number): number =>
  length > 0 ? (2 * length) / (v0 + v1) : 0;

/** Seconds by what set the pace in them. */
class Tally {
  filament = 0;
  readonly #joints: Float64Array;
  readonly #sources = new Float64Array(3);

  constructor(joints: number) {
    this.#joints = new Float64Array(joints);
  }

  joint(j: number, seconds: number): void {
    this.#joints[j]! += seconds;
  }

  cruise(joint: number, source: number, seconds: number): void {
    if (joint >= 0) this.#joints[joint]! += seconds;
    else this.#sources[source]! += seconds;
  }

  shares(real: Float64Array): PaceShare {
    let total = 0;
    for (const t of real) total += t;
    const of = (t: number): number => (total > 0 ? t / total : 0);
    return {
      joints: this.#joints.map(of),
      flow: of(this.#sources[Source.flow]!),
      asked: of(this.#sources[Source.asked]!),
      layerTime: of(this.#sources[Source.layerTime]!),
      filament: of(this.filament),
    };
  }
}
