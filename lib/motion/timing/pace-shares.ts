/**
 * What limits the speed of a job: seconds by joint, flow, asked speed and layer time, as shares of the
 * whole time.
 */
import type { PaceShare } from '../motion.js';
import { type WantedTimes, FeedSource } from './wanted-times.js';
import { NO_JOINT, type Route } from './path-limits.js';

export class Shares {
  filament = 0;
  readonly #route: Route;
  readonly #wanted: WantedTimes;
  readonly #joints: Float64Array;
  readonly #sources = new Float64Array(3);

  constructor(route: Route, wanted: WantedTimes) {
    this.#route = route;
    this.#wanted = wanted;
    this.#joints = new Float64Array(route.way.jointCount);
  }

  joint(j: number, seconds: number): void {
    if (j !== NO_JOINT) this.#joints[j]! += seconds;
  }

  /** Seconds at the greatest speed of block b: a joint's, or the one that was asked for. */
  cruise(b: number, speed: number, seconds: number): void {
    const { speed: limit, speedJoint } = this.#route;
    if (speed >= limit[b]!) this.joint(speedJoint[b]!, seconds);
    else this.#sources[this.#wanted.source[b]!]! += seconds;
  }

  of(real: Float64Array): PaceShare {
    let total = 0;
    for (const t of real) total += t;
    const share = (t: number): number => (total > 0 ? t / total : 0);
    return {
      joints: this.#joints.map(share),
      flow: share(this.#sources[FeedSource.flow]!),
      asked: share(this.#sources[FeedSource.asked]!),
      layerTime: share(this.#sources[FeedSource.layerTime]!),
      filament: share(this.filament),
    };
  }
}
