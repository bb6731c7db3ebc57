/**
 * Balls in a grid of cubes under coarser and coarser ones (each twice as wide), to which more can be
 * added at any time: what lies near a solid is found by going down only into cubes that can hold it.
 */
import type { Matrix, Vec } from './chain.js';
import type { Solid } from './solids.js';

interface Level {
  readonly size: number;
  readonly nx: number;
  readonly ny: number;
  readonly nz: number;
  /** Highest place of a ball in each cube along the axis; -Infinity where there is none. */
  readonly top: Float32Array;
}

export interface Near {
  /** mm, negative where they cross. */
  readonly gap: number;
  /** Middle of the ball. */
  readonly at: Vec;
}

export class Cloud {
  readonly #least: Vec;
  readonly #levels: Level[] = [];
  /** Last ball of each finest cube, -1 if there is none; and the one before each ball. */
  readonly #last: Int32Array;
  #before = new Int32Array(1024);
  #balls = new Float32Array(4096);
  #count = 0;
  /** The ball that was nearest to each solid when it was last asked about. */
  readonly #nearest = new Map<Solid, number>();
  #axis: Vec = [0, 0, 1];
  #radius = 0;

  constructor(least: Vec, most: Vec, size: number) {
    this.#least = least;
    let [nx, ny, nz] = [0, 1, 2].map((c) => Math.floor((most[c]! - least[c]!) / size) + 1) as [
      number,
      number,
      number,
    ];
    this.#last = new Int32Array(nx * ny * nz).fill(-1);
    for (let s = size; ; s *= 2) {
      this.#levels.push({
        size: s,
        nx,
        ny,
        nz,
        top: new Float32Array(nx * ny * nz).fill(-Infinity),
      });
      if (nx * ny * nz === 1) break;
      [nx, ny, nz] = [(nx + 1) >> 1, (ny + 1) >> 1, (nz + 1) >> 1];
    }
  }

  /** The skin of a solid. */
  static of({ skin }: Solid): Cloud {
    const ranges = [0, 1, 2].map((c) => rangeOf(skin, c));
    const [least, most] = [0, 1].map((k) => ranges.map((r) => r[k]!) as unknown as Vec);
    const cloud = new Cloud(least!, most!, 4);
    for (let i = 0; i < skin.length; i += 3) cloud.add(skin[i]!, skin[i + 1]!, skin[i + 2]!, 0);
    return cloud;
  }

  get count(): number {
    return this.#count;
  }

  add(x: number, y: number, z: number, radius: number): void {
    const n = this.#count++;
    if (n === this.#before.length) this.#grow();
    this.#balls.set([x, y, z, radius], 4 * n);
    this.#radius = Math.max(this.#radius, radius);
    const { size, nx, ny } = this.#levels[0]!;
    const [a, b, c] = [x, y, z].map((v, k) => Math.floor((v - this.#least[k]!) / size)) as [
      number,
      number,
      number,
    ];
    const cell = (c * ny + b) * nx + a;
    this.#before[n] = this.#last[cell]!;
    this.#last[cell] = n;
    this.#raise(x, y, z, radius);
  }

  #raise(x: number, y: number, z: number, radius: number): void {
    const top = x * this.#axis[0] + y * this.#axis[1] + z * this.#axis[2] + radius;
    let a = Math.floor((x - this.#least[0]) / this.#levels[0]!.size);
    let b = Math.floor((y - this.#least[1]) / this.#levels[0]!.size);
    let c = Math.floor((z - this.#least[2]) / this.#levels[0]!.size);
    for (const level of this.#levels) {
      const cell = (c * level.ny + b) * level.nx + a;
      if (top > level.top[cell]!) level.top[cell] = top;
      [a, b, c] = [a >> 1, b >> 1, c >> 1];
    }
  }

  #grow(): void {
    const before = new Int32Array(2 * this.#before.length);
    before.set(this.#before);
    this.#before = before;
    const balls = new Float32Array(2 * this.#balls.length);
    balls.set(this.#balls);
    this.#balls = balls;
  }

  /** From now on `nearest` may be told that a solid lies over a plane square to this axis. */
  turnTo(axis: Vec): void {
    if (axis.every((x, c) => Math.abs(x - this.#axis[c]!) < 1e-9)) return;
    this.#axis = axis;
    for (const { top } of this.#levels) top.fill(-Infinity);
    for (let i = 0; i < 4 * this.#count; i += 4) {
      this.#raise(
        ...(this.#balls.subarray(i, i + 4) as unknown as [number, number, number, number]),
      );
    }
  }

  /**
   * The ball that is nearest to the solid, if it is nearer than `within`.
   * @param m places of the solid's frame from places of the cloud's
   * @param over nothing of the solid lies lower than this along the axis; -Infinity if not known
   */
  nearest(solid: Solid, m: Matrix, within: number, over = -Infinity): Near | undefined {
    let gap = within;
    let at = -1;
    const levels = this.#levels;
    const [lx, ly, lz] = this.#least;
    const balls = this.#balls;
    const from =
      (measure: Solid['distance']) =>
      (x: number, y: number, z: number): number =>
        measure(
          m[0]! * x + m[1]! * y + m[2]! * z + m[3]!,
          m[4]! * x + m[5]! * y + m[6]! * z + m[7]!,
          m[8]! * x + m[9]! * y + m[10]! * z + m[11]!,
        );
    const far = from(solid.distance);
    const atLeast = from(solid.atLeast ?? solid.distance);
    const down = (l: number, a: number, b: number, c: number): void => {
      const { size, nx, ny, top } = levels[l]!;
      const cell = (c * ny + b) * nx + a;
      // Tops are rounded to float32.
      if (top[cell] === -Infinity || over - top[cell]! - 1e-4 >= gap) return;
      const half = size / 2;
      const centre = atLeast(lx + a * size + half, ly + b * size + half, lz + c * size + half);
      if (centre - half * ROOT3 - this.#radius >= gap) return;
      if (l > 0) {
        const below = levels[l - 1]!;
        const [ta, tb, tc] = [
          Math.min(below.nx, 2 * a + 2),
          Math.min(below.ny, 2 * b + 2),
          Math.min(below.nz, 2 * c + 2),
        ];
        for (let k = 2 * c; k < tc; k++) {
          for (let j = 2 * b; j < tb; j++) for (let i = 2 * a; i < ta; i++) down(l - 1, i, j, k);
        }
        return;
      }
      for (let n = this.#last[cell]!; n >= 0; n = this.#before[n]!) {
        const i = 4 * n;
        if (atLeast(balls[i]!, balls[i + 1]!, balls[i + 2]!) - balls[i + 3]! >= gap) continue;
        const d = far(balls[i]!, balls[i + 1]!, balls[i + 2]!) - balls[i + 3]!;
        if (d >= gap) continue;
        gap = d;
        at = i;
      }
    };
    // Steps are small: what was nearest leaves little to look for.
    const last = this.#nearest.get(solid);
    if (last !== undefined) {
      gap = Math.min(gap, far(balls[last]!, balls[last + 1]!, balls[last + 2]!) - balls[last + 3]!);
      if (gap < within) at = last;
    }
    down(levels.length - 1, 0, 0, 0);
    if (at >= 0) this.#nearest.set(solid, at);
    return at < 0 ? undefined : { gap, at: [balls[at]!, balls[at + 1]!, balls[at + 2]!] };
  }
}

/** Least and greatest of one coordinate of packed points. */
export function rangeOf(points: Float64Array, c: number): [number, number] {
  let [low, high] = [Infinity, -Infinity];
  for (let i = c; i < points.length; i += 3) {
    low = Math.min(low, points[i]!);
    high = Math.max(high, points[i]!);
  }
  return [low, high];
}

const ROOT3 = Math.sqrt(3);
