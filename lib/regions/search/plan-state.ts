/**
 * The records of the search: its setting, finished and unfinished plans, and which of two plans is the
 * better one.
 */
import { type Vec3, angle } from '../../base/vector.js';
import type { HangingCost, TableRules } from './remaining-body.js';
import type { HoldRules } from './base-strength.js';
import type { SearchLimits } from './machine-limits.js';
import type { CutMove } from './cut-move.js';
import type { TaggedMesh } from '../../mesh/cut/section.js';

export interface CutPiece {
  readonly tagged: TaggedMesh;
  readonly move: CutMove;
  readonly contact: number;
  /** What hangs in it, as the search counts, mm2. */
  readonly cost: number;
  /** mm2; breaks ties between plans, more is better. */
  readonly ease: number;
}

/** Pieces in the order in which they were taken off, last printed first, and what is left. */
export interface Plan {
  readonly rest: TaggedMesh;
  readonly upright: HangingCost;
  readonly pieces: readonly CutPiece[];
  /** What hangs in pieces and rest together, as the search counts, mm2. */
  readonly cost: number;
}

/** An unfinished plan, and how much is still to be done. */
export interface SearchState extends Plan {
  /** Weighed area that hangs, mm2. */
  readonly remainingCost: number;
}

export interface SearchSetting extends TableRules {
  readonly limits: SearchLimits;
  readonly directions: readonly Vec3[];
  /** Normals of planes that are tried beside the directions themselves. */
  readonly normals: readonly Vec3[];
  /** How far a plane's normal may lean against the direction, rad. */
  readonly lean: number;
  /** What may hang in a piece, mm2; 0 is strict. */
  readonly tolerance: number;
  /** Least contact of a piece, mm2. */
  readonly contact: number;
  /** Least that a cut must gain, mm2. */
  readonly worth: number;
  /** Largest number of regions. */
  readonly most: number;
  /** How many unfinished plans are swept. */
  readonly effort: number;
  /** How many cuts are made on each. */
  readonly children: number;
  /** The direction that the user prefers. */
  readonly prefer?: Vec3 | undefined;
  /** Corners of faces that no cut may go through, packed xyz. */
  readonly faces: readonly Float64Array[];
  readonly hold: HoldRules;
}

/** A cost below this is none, mm2. */
export const LEAST_COST = 1e-3;

/** What one rad from the table normal, or from the user's preferred direction, costs in contact, mm2. */
const TURN_COST = 100;
const PREFER_COST = 1000;

export const easeOf = (contact: number, d: Vec3, prefer: Vec3 | undefined): number =>
  contact - (prefer ? PREFER_COST * angle(d, prefer) : TURN_COST * tiltOf(d));

export const tiltOf = (d: Vec3): number => Math.acos(Math.max(-1, Math.min(1, d[2])));

/** Less cost first; at equal cost fewer pieces, then more contact and less tilt. */
export function better(a: Plan, b: Plan): number {
  if (Math.abs(a.cost - b.cost) > LEAST_COST) return a.cost - b.cost;
  if (a.pieces.length !== b.pieces.length) return a.pieces.length - b.pieces.length;
  return ease(b) - ease(a);
}

const ease = ({ pieces }: Plan): number => pieces.reduce((sum, p) => sum + p.ease, 0);

/** Least height over the table of what is built along d, mm. */
export const floorOf = (
  d: Vec3,
  { limits, foot }: Pick<SearchSetting, 'limits' | 'foot'>,
): number => Math.max(limits.leastTipHeight(tiltOf(d)), foot + 1e-6);
