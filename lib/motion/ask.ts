/** What a job asks of its blocks, and what a pace answers. */
import type { PaceShare } from './motion.js';
import type { Route } from './route.js';

/** Whose wish a speed is. Stored in `Ask.source`. */
export const Source = { asked: 0, flow: 1, layerTime: 2 } as const;
export type Source = (typeof Source)[keyof typeof Source];

export interface Ask {
  /** Greatest tip speed of each block, mm/s; of the filament where only filament moves. */
  readonly speed: Float64Array;
  /** A `Source` a block. */
  readonly source: Uint8Array;
  /**
   * Tip speed under which the feed of a block need not go, mm/s. Between close corners a block may
   * reach very little for moments that no nozzle notices; its feed then stays here, if the joints
   * allow it, and the controller slows down in the corners by itself.
   */
  readonly floor: Float64Array;
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
}

/** Greatest speed along block b, mm/s of its length over the joints. */
export function cruiseOf({ blocks, length, speed }: Route, ask: Ask, b: number): number {
  const tip = blocks.length[b]!;
  // A tip that stands still over the part sets no pace; the joints alone do.
  const asked = tip > 0 ? (ask.speed[b]! * length[b]!) / tip : Infinity;
  return Math.min(speed[b]!, asked);
}

/** Time of block b at a feed that reaches `peak`, s; not slower than its floor, if it may cruise so. */
export function feedSeconds(
  { blocks, length }: Route,
  ask: Ask,
  b: number,
  peak: number,
  cruise: number,
): number {
  const tip = blocks.length[b]!;
  const floor = tip > 0 ? (ask.floor[b]! * length[b]!) / tip : 0;
  return length[b]! / Math.max(peak, Math.min(cruise, floor));
}

/** Time of a block in which no joint moves, s. */
export function standSeconds({ blocks }: Route, ask: Ask, b: number): number {
  const speed = ask.speed[b]!;
  return speed > 0 ? Math.abs(blocks.filament[b]!) / speed : 0;
}
