/**
 * The motion that a pace stands for, put together again from the joint values of the blocks, the
 * rounding of the corners and the speeds at the ends of the stretches alone: places in time. What it
 * says of speed and acceleration comes from differences of places, not from the formulas of the pace.
 */
import type { Machine } from '../../lib/machine/machine.js';
import { BlockList, type MotionBlocks, NO_PATH } from '../../lib/motion/lay/blocks.js';
import { MoveKind } from '../../lib/motion/motion.js';
import { type WantedTimes, FeedSource, cruiseOf } from '../../lib/motion/timing/wanted-times.js';
import { TimeOptimal } from '../../lib/motion/timing/time-optimal.js';
import { type Route, routeOf } from '../../lib/motion/timing/path-limits.js';

export interface Step {
  readonly to: readonly number[];
  /** Tip length, mm; taken over the joints if left out. */
  readonly length?: number;
  readonly speed: number;
}

export interface Traced {
  readonly machine: Machine;
  readonly route: Route;
  readonly wanted: WantedTimes;
  readonly times: TimeOptimal;
  readonly total: number;
}

export function trace(machine: Machine, steps: readonly Step[], deviation = 0.05): Traced {
  const n = machine.joints.length;
  const blocks = new BlockList(new Float64Array(n));
  for (const { to, length, speed } of steps) {
    const far = Math.hypot(...to.map((v, j) => v - blocks.now[j]!));
    const tag = { kind: MoveKind.link, region: 0, layer: 0, pathKind: NO_PATH, speed };
    blocks.push(to, length ?? far, 0, 0, tag);
  }
  return traceBlocks(machine, blocks.take(), deviation);
}

export function traceBlocks(machine: Machine, blocks: MotionBlocks, deviation: number): Traced {
  const route = routeOf(machine, blocks, deviation);
  const wanted: WantedTimes = {
    least: blocks.length.map((far, b) => far / blocks.speed[b]!),
    source: new Uint8Array(blocks.kind.length).fill(FeedSource.asked),
  };
  const times = new TimeOptimal(route, wanted);
  times.run(0, route.segment.length - 1);
  const total = times.real.reduce((a, b) => a + b, 0);
  return { machine, route, wanted, times, total };
}

/** A time with even path acceleration: path places and speeds at both ends. */
interface Piece {
  readonly s0: number;
  readonly s1: number;
  readonly v0: number;
  readonly v1: number;
  readonly seconds: number;
  readonly block: number;
}

export function piecesOf({ route, wanted, times }: Traced): Piece[] {
  const out: Piece[] = [];
  const { length, round, ramp, segment } = route;
  const ends = new Set(segment);
  let s = 0;
  const put = (far: number, v0: number, v1: number, block: number): void => {
    if (far > 1e-12)
      out.push({ s0: s, s1: s + far, v0, v1, seconds: (2 * far) / (v0 + v1), block });
    s += far;
  };
  for (let b = 0; b < length.length; b++) {
    const [v0, v1, v2, v3] = [0, 1, 2, 3].map((k) => Math.sqrt(times.x[3 * b + k]!)) as [
      number,
      number,
      number,
      number,
    ];
    const d = ends.has(b) ? 0 : round[b]!;
    const next = ends.has(b + 1) ? 0 : round[b + 1]!;
    const far = length[b]! - d - next;
    put(d, v0, v1, b);
    // Ramp, cruise, ramp: v1^2 + 2 a s = peak^2 = v2^2 + 2 a s'.
    const a = ramp[b]!;
    const peak = Math.min(
      cruiseOf(route, wanted, b),
      Math.sqrt(a * Math.max(0, far) + (v1 * v1 + v2 * v2) / 2),
    );
    const [up, down] = [v1, v2].map((v) => Math.max(0, peak * peak - v * v) / (2 * a)) as [
      number,
      number,
    ];
    put(up, v1, peak, b);
    put(far - up - down, peak, peak, b);
    put(down, peak, v2, b);
    put(next, v2, v3, b);
  }
  return out;
}

/** Joint values at path place s: the polyline, and in the corners the parabola that rounds them. */
export function placeAt({ route }: Traced): (s: number, out: Float64Array) => void {
  const { length, round, polyline, segment } = route;
  const n = polyline.jointCount;
  const ends = new Set(segment);
  const start = new Float64Array(length.length + 1);
  length.forEach((far, b) => (start[b + 1] = start[b]! + far));
  const knot = (b: number, j: number): number =>
    b === 0 ? polyline.from[j]! : polyline.joints[(b - 1) * n + j]!;
  const rate = (b: number, j: number): number => (knot(b + 1, j) - knot(b, j)) / length[b]!;
  return (s, out) => {
    let b = 0;
    let high = length.length - 1;
    while (b < high) {
      const m = (b + high + 1) >> 1;
      if (start[m]! <= s) b = m;
      else high = m - 1;
    }
    for (let j = 0; j < n; j++) out[j] = knot(b, j) + rate(b, j) * (s - start[b]!);
    for (const c of [b, b + 1]) {
      if (c === 0 || c >= length.length || ends.has(c)) continue;
      const d = round[c]!;
      const off = s - start[c]!;
      if (Math.abs(off) >= d) continue;
      // q(-d) + u (s + d) + jump (s + d)^2 / 4d, less the polyline.
      for (let j = 0; j < n; j++) {
        const jump = rate(c, j) - rate(c - 1, j);
        const bow = (jump * (off + d) ** 2) / (4 * d);
        out[j]! += bow - (off > 0 ? jump * off : 0);
      }
    }
  };
}

export interface Sample {
  readonly t: number;
  readonly seconds: number;
  readonly block: number;
  readonly q: Float64Array;
  /** Joint speeds and accelerations by differences of places. */
  readonly speed: Float64Array;
  readonly acceleration: Float64Array;
}

/** `count` instants inside of every piece; differences never reach over the end of a piece. */
export function samples(traced: Traced, count: number): Sample[] {
  const place = placeAt(traced);
  const n = traced.route.polyline.jointCount;
  const out: Sample[] = [];
  let t0 = 0;
  for (const p of piecesOf(traced)) {
    const a = (p.v1 - p.v0) / p.seconds;
    const at = (t: number): Float64Array => {
      const q = new Float64Array(n);
      place(p.s0 + p.v0 * t + (a * t * t) / 2, q);
      return q;
    };
    const h = p.seconds / (2 * count + 2);
    for (let i = 0; i < count; i++) {
      const t = p.seconds * ((i + 0.5) / count);
      const [before, q, after] = [at(t - h), at(t), at(t + h)];
      out.push({
        t: t0 + t,
        seconds: p.seconds / count,
        block: p.block,
        q,
        speed: after.map((v, j) => (v - before[j]!) / (2 * h)),
        acceleration: after.map((v, j) => (v - 2 * q[j]! + before[j]!) / (h * h)),
      });
    }
    t0 += p.seconds;
  }
  return out;
}
