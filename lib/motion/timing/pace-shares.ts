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
    this.#joints = new Float64Array(route.polyline.jointCount);
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

/**
 * The shares of a whole route.
 * @param real seconds of each block
 * @param segment counts the blocks a .. b of a segment; where it does not move, filament alone takes the time
 */
export function sharesOf(
  route: Route,
  wanted: WantedTimes,
  real: Float64Array,
  segment: (a: number, b: number, shares: Shares) => void,
): PaceShare {
  const shares = new Shares(route, wanted);
  for (let r = 0; r + 1 < route.segment.length; r++) {
    const [a, b] = [route.segment[r]!, route.segment[r + 1]!];
    if (route.length[a]! > 0) segment(a, b, shares);
    else for (let i = a; i < b; i++) shares.filament += real[i]!;
  }
  return shares.of(real);
}
