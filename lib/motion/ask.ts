/** What a job asks of its blocks, and what a pace answers. */
import type { Stretch } from './course.js';
import type { PaceShare } from './motion.js';
import type { Route } from './route.js';

/** Whose wish a speed is. Stored in `Ask.source`. */
export const Source = { asked: 0, flow: 1, layerTime: 2 } as const;
export type Source = (typeof Source)[keyof typeof Source];

export interface Ask {
  /** Least time of each block, s; 0 where only the joints set the pace. */
  readonly least: Float64Array;
  /** A `Source` a block. */
  readonly source: Uint8Array;
  /**
   * Time that the feed of a block need not exceed, s. Between close corners a block may reach very
   * little for moments that no nozzle notices; its feed then stays here, if the joints allow it, and
   * the controller slows down in the corners by itself. Infinity where there is no such time.
   */
  readonly enough: Float64Array;
}

/** A way of setting the pace. */
export interface Pacing {
  /** Time of each block at its feed, s: no joint is asked for more than its speed. */
  readonly seconds: Float64Array;
  /** Time of each block with speeding up and slowing down, s. */
  readonly real: Float64Array;
  /** Sets the pace of rides from .. to (exclusive) of the route, by what is asked for now. */
  run(from: number, to: number): void;
  /** Shares of the whole time; once all rides have their pace. */
  share(): PaceShare;
  /**
   * The motion over time; once all rides have their pace.
   * @param visit given every stretch in order; what it is given holds until it returns
   */
  follow(visit: (stretch: Stretch) => void): void;
}

/** Greatest speed along block b, mm/s of its length over the joints. */
export function cruiseOf({ length, speed }: Route, ask: Ask, b: number): number {
  return ask.least[b]! > 0 ? Math.min(speed[b]!, length[b]! / ask.least[b]!) : speed[b]!;
}

/** Time of block b at a feed that reaches `peak`, s; no longer than enough, if it may cruise so. */
export function feedSeconds(
  { length }: Route,
  ask: Ask,
  b: number,
  peak: number,
  cruise: number,
): number {
  return length[b]! / Math.max(peak, Math.min(cruise, length[b]! / ask.enough[b]!));
}
