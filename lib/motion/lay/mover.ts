/** How runs are turned into blocks: movers, which know the joints, and what a run of curved layers adds to them. */
import type { Vec3 } from '../../base/vector.js';
import type { Tag } from './blocks.js';
import type { HeadTurn } from './head-turn.js';
import type { HeadTurns } from './lean-head.js';

/** Moves the tip to layer-space points; stays where it is if the next is nearer than `SHORTEST_STEP`. */
export interface Mover {
  /**
   * Blocks to a point of the paths' frame; `section` mm2 and `perLength` mm of filament for each mm of tip path.
   * @param turn values of the rotary joints there, where they change along the path
   */
  to(
    x: number,
    y: number,
    z: number,
    section: number,
    perLength: number,
    tag: Tag,
    turn?: HeadTurn,
  ): void;
  /** Joint values for such a point, without moving. */
  jointsAt(p: Vec3, turn?: HeadTurn): Float64Array;
}

/** A place of the tip with the rotary joints. */
export interface Turned {
  readonly tip: Vec3;
  readonly turn: HeadTurn;
}

/** The end of a path, with the direction of growth there. */
export interface LinkEnd extends Turned {
  readonly up: Vec3;
}

/** Joint values along a straight line of the tip from one place and turn to another. */
export type Led = (from: Turned, to: Turned) => readonly Float64Array[];

/** Moves while the head turns. */
export interface TurningMover extends Mover {
  /** Goes by joint values, at the last of which the rotary joints stand at `turn`. */
  by(knots: readonly Float64Array[], turn: HeadTurn, tag: Tag): void;
  /** Joint values along the straight line from one place to another. */
  readonly led: Led;
}

/** What a run of curved layers has beside its paths. */
export interface SheetRun {
  /** How the head stands at each point of the paths. */
  readonly turns: HeadTurns;
  readonly mover: TurningMover;
  /** Joint values from the end of a path to the start of the path with this number, over what is there. */
  readonly link: (path: number, from: LinkEnd, to: LinkEnd) => readonly Float64Array[];
  /**
   * Whether the link inside a sheet to a path must leave it, where the joints turn evenly on its way: the head would swing
   * away from the growth, or lacks room.
   */
  readonly mustLift: (path: number, way: readonly Turned[], from: LinkEnd, to: LinkEnd) => boolean;
  /** Is called before the first block on the way to each path. */
  readonly begin: (path: number) => void;
}
