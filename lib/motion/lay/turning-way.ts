/**
 * Where bodies come nearest along blocks in which the rotary joints turn. Branch and bound over the blocks in halves,
 * with Lipschitz bounds (as Schwarzer, Saha and Latombe test moves of robots, IEEE T-RO 21(3), 2005, from memory): in
 * the middle of a stretch the distance is measured, and nowhere on it can the two be nearer than that less what one
 * moves against the other on the way there. What may still be too near is halved, blocks too.
 *
 * The move is bounded in the body's own axes, as the shift of the middle of a ball about the things and their turn
 * times its radius, or the same of a ball about the body, whichever is less: where a head follows a turning table,
 * both move by far more in the room than against each other.
 *
 * The table is taken for the half-space under its face first, against which only heights count: a round table that
 * turns under the head brings nothing nearer, but a ball about it would not know (80,000 distances for 9,000).
 *
 * Beads of the run itself are there by the ten thousand, nearly all of them far off. A long stretch passes on to its
 * halves only the boxes of beads that may come near on it, the halves look into those as far as they need, and what is
 * left at a block is measured: 260 boxes a block, where looking from the root each time took 1,140.
 *
 * Pieces of a body are looked at one by one: the top of a head has a long lever and would blur the bounds of its nozzle,
 * which is what comes near.
 *
 * Rejected: conservative advancement block by block, 136 s for the table and the obstacles of a lying ring alone.
 */
import { int32List } from '../../base/ragged.js';
import type { ClearancePair } from '../../clearance/convex/conservative-advancement.js';
import { RigidBody } from '../../clearance/body.js';
import { extent } from '../../clearance/convex/prefix-tree.js';
import type { NearestPair } from '../../clearance/nearest-on-path.js';
import type { Setting } from '../../clearance/scene.js';
import type { JointPolyline } from './blocks.js';
import {
  type ChordOf,
  type Poses,
  type Travel,
  mostIn,
  riseIn,
  shiftIn,
  travelOf,
} from './travel.js';
import { type BodyFrames, WayFrames } from './way-frames.js';

/** Distances are found to within this, mm; what is given is the least that it can be. */
const FOUND_TO = 0.02;
/** A body of more pieces is looked at as a whole. */
const MOST_PIECES = 16;
/** While stretches are long, distances are only measured to this share. */
const ROUGH_SHARE = 0.3;

/** A distance with its block, counted from the first of the way. */
export interface TurningNear extends Pick<NearestPair, 'gap' | 'at'> {
  readonly block: number;
}

/** A pair with its frames, and with how far the two move against each other. */
interface MovedPair {
  readonly pair: ClearancePair;
  readonly frames: BodyFrames;
  readonly moved: Travel;
}

/** Blocks a .. b (exclusive) of a way; what several pairs have in common is computed once. Pose i ends block i - 1. */
export class TurningWay {
  readonly #setting: Setting;
  readonly #poses: Poses;
  readonly #frames: WayFrames;

  constructor(setting: Setting, way: JointPolyline, a: number, b: number) {
    this.#setting = setting;
    const n = way.jointCount;
    const poses = Array.from({ length: b - a + 1 }, (_, i) =>
      a + i === 0 ? way.from : way.joints.subarray((a + i - 1) * n, (a + i) * n),
    );
    const farthest = new Float64Array(n);
    for (const pose of poses) {
      for (let j = 0; j < n; j++) farthest[j] = Math.max(farthest[j]!, Math.abs(pose[j]!));
    }
    this.#poses = { machine: setting.machine, poses, farthest };
    this.#frames = new WayFrames(setting.machine, poses);
  }

  /** Where the pair comes nearest, if that is nearer than `within`. */
  nearest(pair: ClearancePair, within: number): TurningNear | undefined {
    return nearestPiece(pair, within, (piece, least) => this.#nearestOf(piece, least));
  }

  /**
   * The same for things that come one after the other while the way is gone.
   * @param until how many of them are there while a block is made, rising from block to block
   */
  nearestGrowing(
    pair: ClearancePair,
    within: number,
    until: (block: number) => number,
  ): TurningNear | undefined {
    return nearestPiece(pair, within, (piece, least) => this.#growingOf(piece, least, until));
  }

  #nearestOf(pair: ClearancePair, within: number): TurningNear | undefined {
    const { plane } = this.#setting;
    let risen: MovedPair | undefined;
    if (plane && pair.things === this.#setting.bodies.table) {
      risen = this.#moved({ ...pair, things: plane }, riseIn);
      const over = this.#search(risen, within);
      if (!over || over.gap >= pair.need) return over;
      // There the head may still be beyond the edge of the table.
    }
    return this.#search(this.#moved(pair, shiftIn), within, risen);
  }

  #growingOf(
    pair: ClearancePair,
    within: number,
    until: (block: number) => number,
  ): TurningNear | undefined {
    const { search, still } = this.#setting;
    const { moved, frames } = this.#moved(pair, shiftIn);
    const { tree, boxes } = pair.things.things;
    const ask = { body: pair.body.things, path: still, things: pair.things.things };
    let best = within + FOUND_TO;
    let found: TurningNear | undefined;
    // Pairs of level and number, -1 the level of the things themselves; every stretch has its own at the end.
    const nodes = int32List(1024);
    const look = (from: number, to: number, begin: number, end: number): void => {
      const middle = to - from > 1 ? Math.round((from + to) / 2) : (from + to) / 2;
      const bound = mostIn(moved, from, middle, to);
      const count = until(blockOf(to));
      const frame = frames.at(middle);
      const enough = best - FOUND_TO + bound;
      const now = { ...ask, frame, until: count, within: enough };
      let least = Infinity;
      const keep = (level: number, node: number): void => {
        if (tree.first(level, node) >= count) return;
        const own = level < 0 ? boxes : tree.levels[level]!;
        const near = search.boundAt(now, own, 6 * node);
        if (near >= enough) return;
        if (level < 0 || extent(own, 6 * node) <= bound) {
          nodes.push2(level, node);
          // The nearest comes first.
          if (near < least) nodes.swap2(end, nodes.length - 2);
          least = Math.min(least, near);
          return;
        }
        const [a, b] = level === 0 ? tree.things(node) : tree.children(level, node);
        for (let n = a; n < b; n++) keep(level - 1, n);
      };
      for (let k = begin; k < end; k += 2) keep(nodes.at(k), nodes.at(k + 1));
      const top = nodes.length;
      let done = top === end;
      // Long stretches are only divided: what comes near on them is known in a block.
      if (!done && to - from <= 1) {
        const accuracy = bound > FOUND_TO ? ROUGH_SHARE : 0;
        const near = search.leastUnder({ ...now, accuracy }, nodes.from(end));
        if (near && near.gap < best) {
          best = near.gap;
          found = { gap: near.gap - FOUND_TO, at: near.at, block: blockOf(middle) };
        }
        done = !near || bound <= FOUND_TO;
      }
      if (!done) {
        look(from, middle, end, top);
        look(middle, to, end, top);
      }
      nodes.cut(end);
    };
    nodes.push2(tree.top, 0);
    look(0, this.#poses.poses.length - 1, 0, 2);
    return found;
  }

  #moved(pair: ClearancePair, chordOf: ChordOf): MovedPair {
    const moves = this.#frames.moves(pair.body.carrier, pair.things.carrier);
    return {
      pair,
      frames: this.#frames.of(pair),
      moved: travelOf(this.#poses, pair, moves, chordOf),
    };
  }

  /** @param first a pair that is never farther apart: where it is not near, nothing is measured */
  #search(own: MovedPair, within: number, first?: MovedPair): TurningNear | undefined {
    let best = within + FOUND_TO;
    let found: TurningNear | undefined;
    const look = (from: number, to: number): void => {
      const middle = to - from > 1 ? Math.round((from + to) / 2) : (from + to) / 2;
      const nearest = best - FOUND_TO;
      const firstBound = first ? mostIn(first.moved, from, middle, to) : Infinity;
      const under = first && this.#least(first, middle, nearest, firstBound, firstBound);
      if (first && !under) return;
      const bound = mostIn(own.moved, from, middle, to);
      const least = this.#least(own, middle, nearest, bound, Math.min(bound, firstBound));
      if (!least) return;
      if (least.gap < best) {
        best = least.gap;
        found = { gap: least.gap - FOUND_TO, at: least.at, block: blockOf(middle) };
      }
      // Over the face of the table the half-space is as near as the table, and moves less.
      const known = under && firstBound <= FOUND_TO ? under.gap - firstBound : -Infinity;
      if (bound <= FOUND_TO || known >= best - FOUND_TO) return;
      look(from, middle);
      look(middle, to);
    };
    look(0, this.#poses.poses.length - 1);
    return found;
  }

  /**
   * The least distance at a moment, if in a stretch about it, whose bodies move by `bound`, it may be under `within`.
   * @param known how far it can be off over the stretch; where that is much, it is measured roughly
   */
  #least(
    { pair, frames }: MovedPair,
    t: number,
    within: number,
    bound: number,
    known: number,
  ): NearestPair | undefined {
    const { search, still } = this.#setting;
    return search.least({
      body: pair.body.things,
      path: still,
      things: pair.things.things,
      frame: frames.at(t),
      ...(pair.until !== undefined && { until: pair.until }),
      within: within + bound,
      accuracy: known > FOUND_TO ? ROUGH_SHARE : 0,
    });
  }
}

/** The nearest of a body's pieces. What lies far from a head's tip moves far, but seldom comes near. */
function nearestPiece(
  pair: ClearancePair,
  within: number,
  nearestOf: (piece: ClearancePair, within: number) => TurningNear | undefined,
): TurningNear | undefined {
  const { pieces, holds } = pair.body.things;
  if (holds || pieces.length > MOST_PIECES) return nearestOf(pair, within);
  let found: TurningNear | undefined;
  for (const piece of pieces) {
    const body = { ...pair.body, things: new RigidBody([piece]) };
    found = nearestOf({ ...pair, body }, found?.gap ?? within) ?? found;
  }
  return found;
}

/** The block that is made at a moment, or ends there. */
const blockOf = (t: number): number => Math.max(0, Math.ceil(t) - 1);
