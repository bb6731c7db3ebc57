/**
 * The motion over time: a route with the speeds along it as pieces in which every joint is a polynomial of
 * the length and the length one of time. The path is the polyline of the blocks with its corners rounded:
 * by a parabola over `route.round` on either side, or, where jerk is limited, by a curvature blend
 * (curvature-blends.ts) or a shape in time (corner-passing.ts). Chords of a curve are rounded by the parabola too, which gives chords of
 * equal length the constant curvature with which their time parameterization counts. With p = dq/ds, k =
 * dp/ds: q' = p s', q'' = p s'' + k s'^2 (chain rule).
 */
import { type PassedCorner, walkCorner } from './corner-passing.js';
import { type Route, ratesInto } from './path-limits.js';
import { type JerkSegment, lengthAfter, restAfter, speedAfter, timeOver } from './jerk-segment.js';

/** Times shorter than this are rounding, s. */
const SHORTEST_TIME = 1e-9;

/** Per joint at the start: q, dq/ds, d2q/ds2, d3q/ds3; the last one stays. The arrays are reused. */
export interface TrajectoryPiece extends JerkSegment {
  readonly block: number;
  readonly place: Float64Array;
  readonly rate: Float64Array;
  readonly bend: Float64Array;
  readonly twist: Float64Array;
}

/** Joint values, speeds and accelerations at time t of a piece, mm and rad. */
export function stateAt(
  stretch: TrajectoryPiece,
  t: number,
  q: Float64Array,
  v: Float64Array,
  a: Float64Array,
): void {
  const { place, rate, bend, twist } = stretch;
  const s = lengthAfter(stretch, t);
  const s1 = speedAfter(stretch, t);
  const s2 = stretch.acceleration + t * stretch.jerk;
  for (let j = 0; j < place.length; j++) {
    const k = bend[j]! + s * twist[j]!;
    const p = rate[j]! + s * (bend[j]! + (s * twist[j]!) / 2);
    q[j] = place[j]! + s * (rate[j]! + s * (bend[j]! / 2 + (s * twist[j]!) / 6));
    v[j] = p * s1;
    a[j] = p * s2 + k * s1 * s1;
  }
}

/** Sides of a block: the corner at its start, what is straight, the corner at its end. */
const [Start, Middle, End] = [0, 1, 2] as const;
type BlockSide = 0 | 1 | 2;

interface BlockPart {
  readonly block: number;
  readonly side: BlockSide;
  /** Where it begins in its block, and its length, mm. */
  readonly x: number;
  readonly far: number;
}

/** Corners that are passed by a blend or a shape, by the block that begins there. */
export interface SharpCorners {
  /** Half length of the blend, mm; 0 where the corner is a parabola, or there is none. */
  readonly blend: Float64Array;
  /** What the corner takes of the block before it and of the one behind it, mm. */
  readonly before: Float64Array;
  readonly behind: Float64Array;
}

type MutablePiece = { -readonly [K in keyof TrajectoryPiece]: TrajectoryPiece[K] };

export class Trajectory {
  readonly #route: Route;
  readonly #visit: (stretch: TrajectoryPiece) => void;
  readonly #sharp: SharpCorners | undefined;
  readonly #stretch: MutablePiece;
  /** Rates of the block before, this one and the one after. */
  readonly #rates: [Float64Array, Float64Array, Float64Array];
  #loaded = NaN;
  #first = 0;
  #last = 0;

  /**
   * @param visit called with every piece in order of time, which is valid until it returns
   * @param sharp what corners that are no parabola take of their blocks
   */
  constructor(route: Route, visit: (stretch: TrajectoryPiece) => void, sharp?: SharpCorners) {
    const values = (): Float64Array => new Float64Array(route.polyline.jointCount);
    this.#route = route;
    this.#visit = visit;
    this.#sharp = sharp;
    this.#rates = [values(), values(), values()];
    this.#stretch = {
      block: 0,
      seconds: 0,
      speed: 0,
      acceleration: 0,
      jerk: 0,
      place: values(),
      rate: values(),
      bend: values(),
      twist: values(),
    };
  }

  /** The blocks a .. b that follow run from rest to rest. */
  begin(a: number, b: number): void {
    this.#first = a;
    this.#last = b;
    this.#loaded = NaN;
  }

  #roundAt(corner: number): number {
    if (corner <= this.#first || corner >= this.#last) return 0;
    return this.#blendAt(corner) || this.#route.round[corner]!;
  }

  #blendAt(corner: number): number {
    return this.#sharp?.blend[corner] ?? 0;
  }

  /** Length at the start of block i that belongs to no run along it. */
  #startOf(i: number): number {
    return this.#blendAt(i) > 0 && i > this.#first ? this.#sharp!.behind[i]! : this.#roundAt(i);
  }

  /** Length at its end. */
  #endOf(i: number): number {
    const c = i + 1;
    return this.#blendAt(c) > 0 && c < this.#last ? this.#sharp!.before[c]! : this.#roundAt(c);
  }

  /** Block i stands still for some time. */
  stand(i: number, seconds: number): void {
    if (!(seconds > SHORTEST_TIME)) return;
    const { place, rate, bend, twist } = this.#stretch;
    for (let j = 0; j < place.length; j++) place[j] = this.#knot(i, j);
    for (const list of [rate, bend, twist]) list.fill(0);
    this.#put(i, { seconds, speed: 0, acceleration: 0, jerk: 0 });
  }

  /** Through the corner at the start of block c, over its blend, at one speed. */
  blend(c: number, speed: number): void {
    const half = this.#blendAt(c);
    const run = { seconds: half / speed, speed, acceleration: 0, jerk: 0 };
    this.#go(c - 1, this.#route.length[c - 1]! - half, run, End);
    this.#go(c, 0, run, Start);
  }

  /**
   * Through the corner at the start of block c by a shape, in which the joints are polynomials of time: it
   * takes the place of the length, and runs at an even speed.
   * @param speed path speed at both ends, mm/s, at most that of the corner
   */
  corner(c: number, { shape, scale, stretch, speed: most }: PassedCorner, speed: number): void {
    const { place, rate, bend, twist } = this.#stretch;
    const pace = speed / most / stretch;
    const run = { seconds: shape.step / pace, speed: pace, acceleration: 0, jerk: 0 };
    walkCorner(shape, (i, { left, done, speeds: [f, g], ramps: [f1, g1] }) => {
      const block = 2 * i < shape.first.length ? c - 1 : c;
      this.#load(block);
      const [u, w] =
        block < c ? [this.#rates[1], this.#rates[2]] : [this.#rates[0], this.#rates[1]];
      for (let j = 0; j < place.length; j++) {
        const [p, q] = [scale * u[j]!, scale * w[j]!];
        place[j] = this.#knot(c, j) - p * left + q * done;
        rate[j] = p * f + q * g;
        bend[j] = p * f1 + q * g1;
        twist[j] = p * shape.first[i]! + q * shape.second[i]!;
      }
      this.#put(block, run);
    });
  }

  /** Over the blocks from .. to without the blends at their ends: runs and parts of blocks cut each other. */
  along(from: number, to: number, runs: readonly JerkSegment[]): void {
    const parts = this.#parts(from, to);
    let n = 0;
    let { x, far } = parts[0]!;
    for (let rest of runs) {
      for (;;) {
        const { block, side } = parts[n]!;
        const stretch = lengthAfter(rest, rest.seconds);
        const cut = stretch > far && n + 1 < parts.length;
        const seconds = cut ? timeOver(rest, far) : rest.seconds;
        this.#go(block, x, { ...rest, seconds }, side);
        if (!cut) {
          x += stretch;
          far -= stretch;
          break;
        }
        rest = restAfter(rest, seconds);
        ({ x, far } = parts[++n]!);
      }
    }
  }

  #parts(from: number, to: number): BlockPart[] {
    const out: BlockPart[] = [];
    for (let i = from; i < to; i++) {
      const far = this.#route.length[i]!;
      const [start, end] = [this.#startOf(i), this.#endOf(i)];
      if (!(this.#blendAt(i) > 0)) out.push({ block: i, side: Start, x: 0, far: start });
      out.push({ block: i, side: Middle, x: start, far: far - start - end });
      if (!(this.#blendAt(i + 1) > 0)) out.push({ block: i, side: End, x: far - end, far: end });
    }
    return out.filter((part) => part.far > 0);
  }

  #go(i: number, x: number, run: JerkSegment, side: BlockSide): void {
    if (!(run.seconds > SHORTEST_TIME)) return;
    this.#load(i);
    if (side === Start) this.#round(i, this.#roundAt(i), x);
    else if (side === End) this.#round(i + 1, this.#roundAt(i + 1), x - this.#route.length[i]!);
    else this.#straight(i, x);
    this.#put(i, run);
  }

  #put(i: number, { seconds, speed, acceleration, jerk }: JerkSegment): void {
    const s = this.#stretch;
    s.block = i;
    s.seconds = seconds;
    s.speed = speed;
    s.acceleration = acceleration;
    s.jerk = jerk;
    this.#visit(s);
  }

  #straight(i: number, x: number): void {
    const { place, rate, bend, twist } = this.#stretch;
    const here = this.#rates[1];
    for (let j = 0; j < place.length; j++) {
      place[j] = this.#knot(i, j) + here[j]! * x;
      rate[j] = here[j]!;
      bend[j] = twist[j] = 0;
    }
  }

  /** From length x before (less than 0) or after the corner at the start of block c. */
  #round(c: number, half: number, x: number): void {
    const { place, rate, bend, twist } = this.#stretch;
    const at = c > this.#loaded ? 1 : 0;
    const [u, v] = [this.#rates[at]!, this.#rates[at + 1]!];
    const blend = this.#blendAt(c) > 0;
    // By the length z since the rounding began, and for the falling side of a blend up to its end.
    const falls = blend && at === 0;
    const z = falls ? half - x : half + x;
    for (let j = 0; j < place.length; j++) {
      const jump = v[j]! - u[j]!;
      const knot = this.#knot(c, j);
      if (!blend) {
        const k = jump / (2 * half);
        place[j] = knot - u[j]! * half + z * (u[j]! + (k * z) / 2);
        rate[j] = u[j]! + k * z;
        bend[j] = k;
        twist[j] = 0;
        continue;
      }
      const c3 = jump / (half * half);
      const bow = (c3 * z ** 3) / 6;
      const gain = (c3 * z * z) / 2;
      place[j] = knot + x * (falls ? v[j]! : u[j]!) + bow;
      rate[j] = falls ? v[j]! - gain : u[j]! + gain;
      bend[j] = c3 * z;
      twist[j] = falls ? -c3 : c3;
    }
  }

  #knot(b: number, j: number): number {
    const { from, joints, jointCount: n } = this.#route.polyline;
    return b ? joints[(b - 1) * n + j]! : from[j]!;
  }

  #load(i: number): void {
    if (this.#loaded === i) return;
    const { machine, polyline } = this.#route;
    const rates = this.#rates;
    if (this.#loaded === i - 1) {
      rates.push(rates.shift()!);
    } else {
      if (i > this.#first) ratesInto(machine, polyline, i - 1, rates[0]);
      ratesInto(machine, polyline, i, rates[1]);
    }
    if (i + 1 < this.#last) ratesInto(machine, polyline, i + 1, rates[2]);
    this.#loaded = i;
  }
}
