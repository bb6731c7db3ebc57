/** What a job asks of its blocks, and the interface of a time parameterization. */
import type { TrajectoryPiece } from './trajectory.js';
import type { PaceShare } from '../motion.js';
import type { Route } from './path-limits.js';

/** What asks for a speed. Stored in `WantedTimes.source`. */
export const FeedSource = { asked: 0, flow: 1, layerTime: 2 } as const;
export type FeedSource = (typeof FeedSource)[keyof typeof FeedSource];

export interface WantedTimes {
  /** Least time of each block, s; 0 where only the joints limit the speed. */
  readonly least: Float64Array;
  /** A `FeedSource` per block. */
  readonly source: Uint8Array;
}

/** A time parameterization of a route. */
export interface TimeParameterization {
  /** Time of each block at its feed, the greatest speed that it reaches, s. */
  readonly seconds: Float64Array;
  /** Time of each block with acceleration counted, s. */
  readonly real: Float64Array;
  /** Computes the times of segments from .. to (exclusive) of the route, by what is wanted now. */
  run(from: number, to: number): void;
  /** Shares of the whole time; once all segments have their times. */
  share(): PaceShare;
  /**
   * The motion over time; once all segments have their times.
   * @param visit called with every piece in order, which is valid until it returns
   */
  follow(visit: (stretch: TrajectoryPiece) => void): void;
}

/** Greatest speed along block b, mm/s of its length over the joints. */
export function cruiseOf({ length, speed }: Route, wanted: WantedTimes, b: number): number {
  return wanted.least[b]! > 0 ? Math.min(speed[b]!, length[b]! / wanted.least[b]!) : speed[b]!;
}
