/**
 * How bodies stand against each other along a way, each pose found once however many pairs ask: what their joints carry,
 * and their own axes.
 */
import { type Frame, compose, inverse } from '../../base/frame.js';
import type { ClearancePair } from '../../clearance/convex/conservative-advancement.js';
import { carriedBy } from '../../machine/joint-chain.js';
import type { Machine } from '../../machine/machine.js';
import { between } from './follow-direction.js';

export class WayFrames {
  readonly #machine: Machine;
  readonly #poses: readonly Float64Array[];
  /** By joint: how it has moved what it carries at each pose, against all at zero. */
  readonly #carried = new Map<number, readonly Frame[]>();
  /** By two joints. */
  readonly #moves = new Map<string, Float64Array>();
  /** The same in the middle of blocks, as far as they were asked for. */
  readonly #halves = new Map<string, Float64Array>();
  /** By what carries the two and how. */
  readonly #frames = new Map<string, BodyFrames>();

  constructor(machine: Machine, poses: readonly Float64Array[]) {
    this.#machine = machine;
    this.#poses = poses;
  }

  of({ body, things }: ClearancePair): BodyFrames {
    const key = [body.carrier, things.carrier, ...body.fixed, ...things.fixed].join(' ');
    let known = this.#frames.get(key);
    if (!known) {
      known = new BodyFrames(this.#poses.length, body.fixed, things.fixed, (t) =>
        this.#move(body.carrier, things.carrier, t),
      );
      this.#frames.set(key, known);
    }
    return known;
  }

  /** What joint `things` carries as seen from what joint `body` does, at each pose, packed frames. */
  moves(body: number, things: number): Float64Array {
    const key = `${body} ${things}`;
    let known = this.#moves.get(key);
    if (!known) {
      const [from, to] = [this.#carriedBy(body), this.#carriedBy(things)];
      known = new Float64Array(16 * from.length);
      for (let i = 0; i < from.length; i++) seenFrom(from[i]!, to[i]!, known, 16 * i);
      this.#moves.set(key, known);
    }
    return known;
  }

  #move(from: number, to: number, t: number): Frame {
    const k = Math.floor(t);
    if (t === k) return this.moves(from, to).subarray(16 * k, 16 * k + 16);
    if (t !== k + 0.5) return this.#between(from, to, t);
    const key = `${from} ${to}`;
    let known = this.#halves.get(key);
    if (!known) this.#halves.set(key, (known = new Float64Array(16 * this.#poses.length)));
    const half = known.subarray(16 * k, 16 * k + 16);
    if (half[15] === 0) half.set(this.#between(from, to, t));
    return half;
  }

  #between(from: number, to: number, t: number): Frame {
    const k = Math.floor(t);
    const joints = between(this.#poses[k]!, this.#poses[k + 1]!, t - k);
    const seen = inverse(carriedBy(this.#machine, joints, from));
    return compose(seen, carriedBy(this.#machine, joints, to));
  }

  #carriedBy(joint: number): readonly Frame[] {
    let known = this.#carried.get(joint);
    if (!known) {
      known = this.#poses.map((pose) => carriedBy(this.#machine, pose, joint));
      this.#carried.set(joint, known);
    }
    return known;
  }
}

/** A body's axes from the frame of things, at poses and in the middle of blocks each found once. */
export class BodyFrames {
  readonly #inverse: Frame;
  readonly #fixed: Frame;
  readonly #move: (t: number) => Frame;
  /** At every half a block, packed. */
  readonly #known: Float64Array;

  constructor(poses: number, body: Frame, things: Frame, move: (t: number) => Frame) {
    this.#inverse = inverse(body);
    this.#fixed = things;
    this.#move = move;
    this.#known = new Float64Array(16 * (2 * poses - 1));
  }

  at(t: number): Frame {
    const place = 32 * t;
    if (!Number.isInteger(2 * t)) return this.#made(t);
    const frame = this.#known.subarray(place, place + 16);
    if (frame[15] === 0) frame.set(this.#made(t));
    return frame;
  }

  #made(t: number): Frame {
    return compose(this.#inverse, compose(this.#move(t), this.#fixed));
  }
}

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
