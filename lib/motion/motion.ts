/**
 * The motion record: every block of the program as joint values at its end, with its time and the
 * filament it meters. Nothing here knows how a program is spelled.
 */

/** What a block does. Numbers are stored in `Motion.kind`. */
export const MoveKind = {
  /** Lays material. */
  deposit: 0,
  /** Inside a region without material. */
  link: 1,
  /** Between regions, and before the first and after the last. */
  transfer: 2,
  /** Only filament moves: drawn back or primed. */
  filament: 3,
} as const;
export type MoveKind = (typeof MoveKind)[keyof typeof MoveKind];

/** What limits the speed: shares of the time, 0 to 1. */
export interface PaceShare {
  /** Speed or acceleration of each joint. */
  readonly joints: Float64Array;
  /** What the nozzle melts. */
  readonly flow: number;
  /** The speed that the job asks for. */
  readonly asked: number;
  /** The least time of a layer. */
  readonly layerTime: number;
  /** Filament moves alone. */
  readonly filament: number;
}

/** The least times that were asked for, limits of the joints aside. */
export interface LeastTimes {
  /** Blocks `start[i] .. start[i + 1]` were merged into one. */
  readonly start: Uint32Array;
  /** Least time of each of those, s: by the job's speeds, what the nozzle melts and the layer time. */
  readonly least: Float64Array;
}

/**
 * Block b ends at joints `joints[b * jointCount ..]`; block -1 is `from`. Values are as the controller
 * is commanded: where the program compensates play, a joint that comes from above stands higher by it.
 */
export interface Motion {
  readonly jointCount: number;
  /** Joint values before the first block, order of Machine.joints, mm and rad. */
  readonly from: Float64Array;
  /** Joint values at the end of each block, mm and rad. */
  readonly joints: Float64Array;
  /** A `MoveKind` per block. */
  readonly kind: Uint8Array;
  /** Filament metered during the block, mm; negative when drawn back. */
  readonly filament: Float64Array;
  /** Time of the block at its feed, s. */
  readonly seconds: Float64Array;
  /** Time that the block takes with acceleration counted, s; they sum to `totalSeconds`. */
  readonly lasts: Float64Array;
  /** Length of the tip's path over the part, mm. */
  readonly length: Float64Array;
  readonly region: Uint32Array;
  readonly layer: Uint32Array;
  /** A `PathKind` per block for deposits; 255 otherwise. */
  readonly pathKind: Uint8Array;
  /** Time of the whole job with acceleration counted, s (estimated from the joint limits). */
  readonly totalSeconds: number;
  readonly paceShare: PaceShare;
  readonly asked: LeastTimes;
}

/**
 * Filament that a job takes from the spool, mm: the greatest sum of what is metered. What is drawn back
 * has been taken before, so the sum at any later place would be less.
 */
export function filamentTaken({ filament }: Pick<Motion, 'filament'>): number {
  let sum = 0;
  let most = 0;
  for (const mm of filament) {
    sum += mm;
    if (sum > most) most = sum;
  }
  return most;
}
