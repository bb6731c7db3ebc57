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
 * Rejected: conservative advancement block by block, 136 s for the table and the obstacles of a lying ring alone.
 */
import { type Frame, applyDirection, compose, inverse } from '../../base/frame.js';
import type { Vec3 } from '../../base/vector.js';
import type { ClearancePair } from '../../clearance/convex/conservative-advancement.js';
import { type BoundingBall, ballOf, mostMoved } from '../../clearance/machine-bodies.js';
import type { NearestPair } from '../../clearance/nearest-on-path.js';
import type { Setting } from '../../clearance/scene.js';
import { carriedBy } from '../../machine/joint-chain.js';
import type { JointPolyline } from './blocks.js';
import { between } from './follow-direction.js';

/** Distances are found to within this, mm; what is given is the least that it can be. */
const FOUND_TO = 0.02;
/** While stretches are long, distances are only measured to this share. */
const ROUGH_SHARE = 0.3;

/** A distance with its block, counted from the first of the way. */
export interface TurningNear extends Pick<NearestPair, 'gap' | 'at'> {
  readonly block: number;
}

/** A pair with how far the two have come nearer to each other by each pose, at most, mm. */
interface MovedPair {
  readonly pair: ClearancePair;
  readonly moved: Float64Array;
}

/** Blocks a .. b (exclusive) of a way; what several pairs have in common is computed once. Pose i ends block i - 1. */
export class TurningWay {
  readonly #setting: Setting;
  readonly #poses: readonly Float64Array[];
  /** Largest value of each joint either way. */
  readonly #farthest: Float64Array;
  /** By joint: how it has moved what it carries at each pose, against all at zero. */
  readonly #carried = new Map<number, readonly Frame[]>();
  /** By two joints: what the second carries as seen from what the first does, at each pose, packed frames. */
  readonly #moves = new Map<string, Float64Array>();

  constructor(setting: Setting, way: JointPolyline, a: number, b: number) {
    this.#setting = setting;
    const n = way.jointCount;
    this.#poses = Array.from({ length: b - a + 1 }, (_, i) =>
      a + i === 0 ? way.from : way.joints.subarray((a + i - 1) * n, (a + i) * n),
    );
    this.#farthest = new Float64Array(n);
    for (const pose of this.#poses) {
      for (let j = 0; j < n; j++) {
        this.#farthest[j] = Math.max(this.#farthest[j]!, Math.abs(pose[j]!));
      }
    }
  }

  /**
   * Where the pair comes nearest, if that is nearer than `within`.
   * @param until how many of the things are there while a block is made, rising from block to block; left out: those
   *   of the pair, all the time
   */
  nearest(
    pair: ClearancePair,
    within: number,
    until?: (block: number) => number,
  ): TurningNear | undefined {
    const { plane } = this.#setting;
    let risen: MovedPair | undefined;
    if (plane && pair.things === this.#setting.bodies.table) {
      risen = { pair: { ...pair, things: plane }, moved: this.#risen(pair) };
      const over = this.#search(risen, within);
      if (!over || over.gap >= pair.need) return over;
      // There the head may still be beyond the edge of the table.
    }
    return this.#search({ pair, moved: this.#movedBy(pair, shiftIn) }, within, until, risen);
  }

  /** @param first a pair that is never farther apart: where it is not near, nothing is measured */
  #search(
    { pair, moved }: MovedPair,
    within: number,
    until?: (block: number) => number,
    first?: MovedPair,
  ): TurningNear | undefined {
    const blockOf = (t: number): number => Math.max(0, Math.ceil(t) - 1);
    let best = within + FOUND_TO;
    let found: TurningNear | undefined;
    const look = (from: number, to: number): void => {
      const whole = to - from > 1;
      const middle = whole ? Math.round((from + to) / 2) : (from + to) / 2;
      const nearIn = (of: MovedPair, count?: number): NearestPair | undefined =>
        this.#least(of.pair, middle, best - FOUND_TO, mostIn(of.moved, from, middle, to), count);
      if (first && !nearIn(first)) return;
      const bound = mostIn(moved, from, middle, to);
      const count = until ? until(blockOf(to)) : pair.until;
      const near = nearIn({ pair, moved }, count);
      if (!near) return;
      // Of things that are there only later the distance says nothing, but the blocks by themselves will.
      const there = !until || until(blockOf(middle)) === count;
      if (there && near.gap < best) {
        best = near.gap;
        found = { gap: near.gap - FOUND_TO, at: near.at, block: blockOf(middle) };
      }
      if (there && bound <= FOUND_TO) return;
      look(from, middle);
      look(middle, to);
    };
    look(0, this.#poses.length - 1);
    return found;
  }

  /** The least distance at a moment, if in a stretch about it, whose bodies move by `bound`, it may be under `within`. */
  #least(
    pair: ClearancePair,
    t: number,
    within: number,
    bound: number,
    until?: number,
  ): NearestPair | undefined {
    const { search, still } = this.#setting;
    return search.least({
      body: pair.body.things,
      path: still,
      things: pair.things.things,
      frame: this.#frame(pair, t),
      ...(until !== undefined && { until }),
      within: within + bound,
      accuracy: bound > FOUND_TO ? ROUGH_SHARE : 0,
    });
  }

  /** Body's axes from the frame of the things. */
  #frame(pair: ClearancePair, t: number): Frame {
    const { body, things } = pair;
    const move = Number.isInteger(t)
      ? this.#movesOf(pair).subarray(16 * t, 16 * t + 16)
      : this.#move(body.carrier, things.carrier, t);
    return compose(inverse(body.fixed), compose(move, things.fixed));
  }

  #move(from: number, to: number, t: number): Frame {
    const { machine } = this.#setting;
    const k = Math.floor(t);
    const low = this.#poses[k]!;
    const joints = t === k ? low : between(low, this.#poses[k + 1]!, t - k);
    return compose(inverse(carriedBy(machine, joints, from)), carriedBy(machine, joints, to));
  }

  #carriedBy(joint: number): readonly Frame[] {
    let known = this.#carried.get(joint);
    if (!known) {
      const { machine } = this.#setting;
      known = this.#poses.map((pose) => carriedBy(machine, pose, joint));
      this.#carried.set(joint, known);
    }
    return known;
  }

  #movesOf({ body, things }: ClearancePair): Float64Array {
    const key = `${body.carrier} ${things.carrier}`;
    let known = this.#moves.get(key);
    if (!known) {
      const [from, to] = [this.#carriedBy(body.carrier), this.#carriedBy(things.carrier)];
      known = new Float64Array(16 * from.length);
      for (let i = 0; i < from.length; i++) seenFrom(from[i]!, to[i]!, known, 16 * i);
      this.#moves.set(key, known);
    }
    return known;
  }

  /** How far any point moves while a joint goes by 1 (mm or rad), at most, mm. */
  #levers({ body, things }: ClearancePair): Float64Array {
    const { machine } = this.#setting;
    const from = this.#farthest;
    return from.map((_, j) => {
      const to = from.slice();
      to[j]! += 1;
      return mostMoved(machine, body, from, to) + mostMoved(machine, things, from, to);
    });
  }

  /**
   * How far the things have moved against the body by each pose, at most, mm. In a block that lasts 1 s their speed is
   * no more than the way from end to end and half the greatest acceleration, which is w^2 r for a rotary joint that
   * turns by w at a lever r, and 2 w v more where another one shifts it by v.
   */
  #movedBy(pair: ClearancePair, chordOf: ChordOf): Float64Array {
    const { joints } = this.#setting.machine;
    const moves = this.#movesOf(pair);
    const levers = this.#levers(pair);
    const chord = chordOf(pair);
    const out = new Float64Array(this.#poses.length);
    for (let i = 1; i < out.length; i++) {
      const [a, b] = [this.#poses[i - 1]!, this.#poses[i]!];
      let [turned, shifted, swept] = [0, 0, 0];
      for (let j = 0; j < joints.length; j++) {
        const by = Math.abs(b[j]! - a[j]!);
        swept += by * levers[j]!;
        if (joints[j]!.kind === 'rotary') turned += by;
        else shifted += by;
      }
      const bend = (turned * (swept + 2 * shifted)) / 2;
      out[i] = out[i - 1]! + chord(moves, 16 * i) + bend;
    }
    return out;
  }

  /** The same for the height of the body over the table's face alone. */
  #risen(pair: ClearancePair): Float64Array {
    return this.#movedBy(pair, ({ body, things }) => {
      const ball = ballOf(body);
      const up = applyDirection(things.fixed, [0, 0, 1]);
      return (frames, at) => riseOf(frames, at, ball, up);
    });
  }
}

/** How far it is by `moved` from the middle of a stretch to its ends, at most; moments are poses and shares between. */
function mostIn(moved: Float64Array, from: number, middle: number, to: number): number {
  const movedAt = (t: number): number => {
    const k = Math.floor(t);
    return t === k ? moved[k]! : moved[k]! + (t - k) * (moved[k + 1]! - moved[k]!);
  };
  return Math.max(movedAt(middle) - movedAt(from), movedAt(to) - movedAt(middle));
}

/** How far the two of a pair move against each other from the frame before one of a packed list to it, mm. */
type ChordOf = (pair: ClearancePair) => (frames: Float64Array, at: number) => number;

const shiftIn: ChordOf = (pair) => {
  const [things, body] = [ballOf(pair.things), ballOf(pair.body)];
  return (frames, at) =>
    Math.min(shiftOf(frames, at, things, false), shiftOf(frames, at, body, true));
};

/** The inverse of a frame after another, into a packed list. */
function seenFrom(from: Frame, to: Frame, out: Float64Array, at: number): void {
  for (let r = 0; r < 3; r++) {
    for (let c = 0; c < 4; c++) {
      let sum = 0;
      for (let k = 0; k < 3; k++) {
        sum += from[4 * r + k]! * (c < 3 ? to[4 * c + k]! : to[12 + k]! - from[12 + k]!);
      }
      out[at + 4 * c + r] = sum;
    }
  }
  out[at + 15] = 1;
}

/** Farthest that any point of the body lies from where it was one frame before, along an axis of the things, mm. */
function riseOf(
  frames: Float64Array,
  at: number,
  { centre, radius }: BoundingBall,
  up: Vec3,
): number {
  let [shifted, turned] = [0, 0];
  for (let k = 0; k < 3; k++) {
    // The axis as the body sees it, now and before.
    let [now, before] = [0, 0];
    for (let c = 0; c < 3; c++) {
      now += frames[at + 4 * c + k]! * up[c]!;
      before += frames[at - 16 + 4 * c + k]! * up[c]!;
    }
    turned += (now - before) ** 2;
    shifted += now * (centre[k]! - frames[at + 12 + k]!);
    shifted -= before * (centre[k]! - frames[at - 4 + k]!);
  }
  return Math.abs(shifted) + radius * Math.sqrt(turned);
}

/**
 * Farthest that any point of a ball lies from where it was one frame before, mm.
 * @param back whether the inverse frames move it
 */
function shiftOf(
  frames: Float64Array,
  at: number,
  { centre: [x, y, z], radius }: BoundingBall,
  back: boolean,
): number {
  let [turned, shifted] = [0, 0];
  for (let c = 0; c < 3; c++) {
    let place = 0;
    for (const [sign, f] of [
      [1, at],
      [-1, at - 16],
    ] as const) {
      if (back) {
        const [a, b, d] = [frames[f + 4 * c]!, frames[f + 4 * c + 1]!, frames[f + 4 * c + 2]!];
        place +=
          sign *
          (a * (x - frames[f + 12]!) + b * (y - frames[f + 13]!) + d * (z - frames[f + 14]!));
      } else {
        place +=
          sign *
          (frames[f + c]! * x +
            frames[f + 4 + c]! * y +
            frames[f + 8 + c]! * z +
            frames[f + 12 + c]!);
      }
    }
    shifted += place * place;
    for (let k = 0; k < 3; k++)
      turned += (frames[at + 4 * c + k]! - frames[at - 16 + 4 * c + k]!) ** 2;
  }
  // The Frobenius norm of the difference of two rotations is 2 sqrt(2) sin(angle / 2).
  return Math.sqrt(shifted) + radius * Math.sqrt(turned / 2);
}
