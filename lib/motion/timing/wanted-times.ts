/** What a job asks of its blocks, and what a pace answers. */
import type { Stretch } from './trajectory.js';
import type { PaceShare } from '../motion.js';
import type { Route } from './path-limits.js';

/** Whose wish a speed is. Stored in `Ask.source`. */
export const Source = { asked: 0, flow: 1, layerTime: 2 } as const;
export type Source = (typeof Source)[keyof typeof Source];

export interface Ask {
  /** Least time of each block, s; 0 where only the joints set the pace. */
  readonly least: Float64Array;
  /** A `Source` a block. */
  readonly source: Uint8Array;
}

/** A way of setting the pace. */
export interface Pacing {
  /** Time of each block at its feed, the greatest speed that it reaches, s. */
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
