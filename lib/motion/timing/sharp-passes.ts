/**
 * How each sharp corner of a route is passed: evenly over its curvature blend (curvature-blends.ts), or, if
 * the blocks ask for more speed and are long enough, by the quickest shape (corner-shapes.ts).
 */
import type { Bends } from './curvature-blends.js';
import type { PassedCorner } from './corner-passing.js';
import { type CornerLeg, CornerShapes } from './corner-shapes.js';
import { type Route, ratesInto } from './path-limits.js';
import type { SharpCorners } from './trajectory.js';

/** Share of its speed below which a corner is not reached as it was chosen, and gets a smaller shape. */
const MISSED = 0.97;

/** What the two blocks of a corner must lose beside full speed for a shape to be sought, s. */
const LOST_ENOUGH = 0.01;

export class SharpPasses implements SharpCorners {
  /** Greatest speed through the corner at the start of each block, mm/s; Infinity where there is none. */
  readonly speed: Float64Array;
  /** The joint that has most to do there. */
  readonly joint: Uint8Array;
  readonly blend: Float64Array;
  readonly before: Float64Array;
  readonly behind: Float64Array;
  readonly shape: (PassedCorner | undefined)[];
  readonly #route: Route;
  readonly #bends: Bends;
  readonly #shapes: CornerShapes;
  readonly #u: Float64Array;
  readonly #w: Float64Array;

  constructor(route: Route, bends: Bends) {
    const { jointCount } = route.polyline;
    this.#route = route;
    this.#bends = bends;
    this.#shapes = new CornerShapes(route);
    this.#u = new Float64Array(jointCount);
    this.#w = new Float64Array(jointCount);
    this.speed = bends.blendSpeed.slice();
    this.joint = bends.blendJoint.slice();
    this.blend = bends.blend;
    this.before = bends.blend.slice();
    this.behind = bends.blend.slice();
    this.shape = new Array<PassedCorner | undefined>(bends.blend.length).fill(undefined);
  }

  /** All corners between the blocks a .. b by their blends; false if there are none. */
  evenly(a: number, b: number): boolean {
    let some = false;
    for (let i = a + 1; i < b; i++) {
      if (!(this.blend[i]! > 0)) continue;
      this.#put(i, undefined);
      some = true;
    }
    return some;
  }

  /**
   * Shapes for the corners between the blocks a .. b, where they promise to be quicker.
   * @param cap the greatest speed of each block, mm/s
   * @param even times of those blocks with all corners passed evenly, s
   * @returns false if there are none
   */
  choose(a: number, b: number, cap: Float64Array, even: Float64Array): boolean {
    let some = false;
    for (let i = a + 1; i < b; i++) {
      if (!(this.blend[i]! > 0)) continue;
      const { length } = this.#route;
      const least = length[i - 1]! / cap[i - 1]! + length[i]! / cap[i]!;
      if (even[i - 1 - a]! + even[i - a]! - least < LOST_ENOUGH) continue;
      this.#set(i, Math.min(cap[i - 1]!, cap[i]!), cap);
      some ||= this.shape[i] !== undefined;
    }
    return some;
  }

  /**
   * Corners whose two blocks take longer with the shapes than evenly are passed evenly again.
   * @returns false if there are none
   */
  dropped(a: number, b: number, even: Float64Array, real: Float64Array): boolean {
    let some = false;
    for (let i = a + 1; i < b; i++) {
      if (!this.shape[i]) continue;
      if (real[i - 1]! + real[i]! <= even[i - 1 - a]! + even[i - a]!) continue;
      this.#put(i, undefined);
      some = true;
    }
    return some;
  }

  /**
   * Smaller shapes for corners that are not reached at their speed.
   * @param speed reached at the start of each block, mm/s
   * @param cap the greatest speed of each block, mm/s
   * @param last if those are passed evenly instead, which needs no more rounds
   * @returns false if there are none
   */
  again(a: number, b: number, speed: Float64Array, cap: Float64Array, last: boolean): boolean {
    let some = false;
    for (let i = a + 1; i < b; i++) {
      const shape = this.shape[i];
      if (!shape || speed[i]! >= MISSED * shape.speed) continue;
      this.#set(i, last ? 0 : speed[i]!, cap);
      some = true;
    }
    return some;
  }

  /** Time through the corner at the start of block i at that speed, s. */
  seconds(i: number, speed: number): number {
    const shape = this.shape[i];
    return shape ? (shape.seconds * shape.speed) / speed : (2 * this.blend[i]!) / speed;
  }

  #set(i: number, most: number, cap: Float64Array): void {
    const { machine, polyline } = this.#route;
    const { blend, blendSpeed } = this.#bends;
    let shape: PassedCorner | undefined;
    if (most > blendSpeed[i]!) {
      ratesInto(machine, polyline, i - 1, this.#u);
      ratesInto(machine, polyline, i, this.#w);
      const legs = [this.#leg(i - 1, cap), this.#leg(i, cap)] as const;
      const even = { speed: blendSpeed[i]!, half: blend[i]! };
      shape = this.#shapes.pick(i, this.#u, this.#w, most, legs, even);
    }
    this.#put(i, shape);
  }

  #put(i: number, shape: PassedCorner | undefined): void {
    const { blend, blendSpeed, blendJoint } = this.#bends;
    this.shape[i] = shape;
    this.speed[i] = shape?.speed ?? blendSpeed[i]!;
    this.joint[i] = shape?.joint ?? blendJoint[i]!;
    this.before[i] = shape?.before ?? blend[i]!;
    this.behind[i] = shape?.behind ?? blend[i]!;
  }

  #leg(i: number, cap: Float64Array): CornerLeg {
    const { length, ramp } = this.#route;
    return { length: length[i]! / 2, cap: cap[i]!, ramp: ramp[i]!, jerk: this.#bends.jerk[i]! };
  }
}
