/** What blocks of a trace do, and which build directions count as one. */
import { DEG } from '../base/vector.js';

/** What a block does. Numbers are stored in `Trace.kind`. */
export const TraceKind = {
  /** Lays material over the part. */
  deposit: 0,
  /** Moves without material while the head keeps its direction in the part frame. */
  link: 1,
  /** Belongs to travel on which the direction changes, or before or after all material. */
  transfer: 2,
  /** The tip stands still over the part: a dwell, or filament alone. */
  wait: 3,
} as const;
export type TraceKind = (typeof TraceKind)[keyof typeof TraceKind];

/** Build directions nearer to each other than this are one: cosine. */
export const SAME_BUILD_DIRECTION = Math.cos(0.05 * DEG);
