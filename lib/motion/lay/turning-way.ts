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
 * Rejected: conservative advancement block by block, 136 s for the table and the obstacles of a lying ring alone.
 */
import { type Frame, applyPoint, compose, inverse } from '../../base/frame.js';
import { length, sub } from '../../base/vector.js';
import type { ClearancePair } from '../../clearance/convex/conservative-advancement.js';
import { type BoundingBall, ballOf, mostMoved } from '../../clearance/machine-bodies.js';
import type { NearestPair } from '../../clearance/nearest-on-path.js';
import type { Setting } from '../../clearance/scene.js';
import { carriedBy } from '../../machine/joint-chain.js';
import type { JointWay } from './blocks.js';
import { between } from './follow-direction.js';

/** Distances are found to within this, mm; what is given is the least that it can be. */
const FOUND_TO = 0.02;
/** While stretches are long, distances are only measured to this share. */
const ROUGH_SHARE = 0.3;

/** A distance with its block, counted from the first of the way. */
export interface TurningNear extends Pick<NearestPair, 'gap' | 'at'> {
  readonly block: number;
}

/** What one joint carries as seen from what another one carries, at the end of each block, against all at zero. */
interface Moves {
  readonly frames: readonly Frame[];
  readonly inverses: readonly Frame[];
}

/** Blocks a .. b (exclusive) of a way; what several pairs have in common is computed once. Pose i ends block i - 1. */
export class TurningWay {
  readonly #setting: Setting;
  readonly #poses: readonly Float64Array[];
  readonly #moves = new Map<string, Moves>();

  constructor(setting: Setting, way: JointWay, a: number, b: number) {
    this.#setting = setting;
    const n = way.jointCount;
    this.#poses = Array.from({ length: b - a + 1 }, (_, i) =>
      a + i === 0 ? way.from : way.joints.subarray((a + i - 1) * n, (a + i) * n),
    );
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
    const { search, still } = this.#setting;
    const moved = this.#movedBy(pair);
    const movedAt = (t: number): number => {
      const k = Math.floor(t);
      return t === k ? moved[k]! : moved[k]! + (t - k) * (moved[k + 1]! - moved[k]!);
    };
    const blockOf = (t: number): number => Math.max(0, Math.ceil(t) - 1);
    let best = within + FOUND_TO;
    let found: TurningNear | undefined;
    const look = (from: number, to: number): void => {
      const whole = to - from > 1;
      const middle = whole ? Math.round((from + to) / 2) : (from + to) / 2;
      const at = movedAt(middle);
      const bound = Math.max(at - movedAt(from), movedAt(to) - at);
      const count = until ? until(blockOf(to)) : pair.until;
      const near = search.least({
        body: pair.body.things,
        path: still,
        things: pair.things.things,
        frame: this.#frame(pair, middle),
        ...(count !== undefined && { until: count }),
        within: best - FOUND_TO + bound,
        accuracy: bound > FOUND_TO ? ROUGH_SHARE : 0,
      });
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

  /** Body's axes from the frame of the things. */
  #frame({ body, things }: ClearancePair, t: number): Frame {
    const move = this.#move(body.carrier, things.carrier, t);
    return compose(inverse(body.fixed), compose(move, things.fixed));
  }

  #move(from: number, to: number, t: number): Frame {
    const { machine } = this.#setting;
    const k = Math.floor(t);
    const low = this.#poses[k]!;
    const joints = t === k ? low : between(low, this.#poses[k + 1]!, t - k);
    return compose(inverse(carriedBy(machine, joints, from)), carriedBy(machine, joints, to));
  }

  #movesOf({ body, things }: ClearancePair): Moves {
    const key = `${body.carrier} ${things.carrier}`;
    let known = this.#moves.get(key);
    if (!known) {
      const frames = this.#poses.map((_, i) => this.#move(body.carrier, things.carrier, i));
      this.#moves.set(key, (known = { frames, inverses: frames.map(inverse) }));
    }
    return known;
  }

  /**
   * How far the things have moved against the body by each pose, at most, mm. In a block that lasts 1 s their speed is
   * no more than the way from end to end and half the greatest acceleration, which is w^2 r for a rotary joint that
   * turns by w at a lever r, and 2 w v more where another one shifts it by v.
   */
  #movedBy(pair: ClearancePair): Float64Array {
    const { machine } = this.#setting;
    const { frames, inverses } = this.#movesOf(pair);
    const [things, body] = [ballOf(pair.things), ballOf(pair.body)];
    const out = new Float64Array(frames.length);
    for (let i = 1; i < frames.length; i++) {
      const [a, b] = [this.#poses[i - 1]!, this.#poses[i]!];
      let [turned, shifted] = [0, 0];
      machine.joints.forEach((joint, j) => {
        const by = Math.abs(b[j]! - a[j]!);
        if (joint.kind === 'rotary') turned += by;
        else shifted += by;
      });
      const chord = Math.min(
        shiftOf(frames[i - 1]!, frames[i]!, things),
        shiftOf(inverses[i - 1]!, inverses[i]!, body),
      );
      const swept =
        turned > 0
          ? mostMoved(machine, pair.body, a, b) + mostMoved(machine, pair.things, a, b)
          : 0;
      out[i] = out[i - 1]! + chord + (turned * (swept + 2 * shifted)) / 2;
    }
    return out;
  }
}

/** Farthest that any point of a ball lies from where it was, mm. */
function shiftOf(a: Frame, b: Frame, { centre, radius }: BoundingBall): number {
  let turned = 0;
  for (const k of [0, 1, 2, 4, 5, 6, 8, 9, 10]) turned += (a[k]! - b[k]!) ** 2;
  // The Frobenius norm of the difference of two rotations is 2 sqrt(2) sin(angle / 2).
  return length(sub(applyPoint(a, centre), applyPoint(b, centre))) + radius * Math.sqrt(turned / 2);
}
