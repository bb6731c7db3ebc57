/**
 * The record of a program that was read: every block that moves, meters or waits, as joint values at
 * its end with its time and filament. Nothing here knows how a program is spelled.
 */
import { type List, float64List, uint32List, uint8List } from '../base/ragged.js';
import { DEG } from '../base/vector.js';

/** What is known of a block; bits of `Program.flags`. */
export const BlockFlag = {
  /** G0: no feed, the controller decides. */
  rapid: 1,
  /** G4. */
  dwell: 2,
  /** G93. */
  inverseTime: 4,
  /** The inverse-time rate was below the least rate, so the block takes less time than asked. */
  raised: 8,
  /** A straight piece of an arc. */
  arc: 16,
  /** Begins at a place that is not known; time stands only where G93 states it. */
  fromUnknown: 32,
} as const;

/** An inverse-time move that takes less time than asked because of the least rate, s. */
export interface Raised {
  readonly block: number;
  readonly askedSeconds: number;
  readonly lastsSeconds: number;
}

/** A program as the joints run it, block by block. */
export interface Program {
  readonly jointCount: number;
  /** Joint values before the first block, mm and rad; NaN where not known. */
  readonly from: Float64Array;
  /** Block b ends at `joints[b * jointCount ..]`, mm and rad; NaN where not known. */
  readonly joints: Float64Array;
  readonly seconds: Float64Array;
  /** Filament metered during the block, mm. */
  readonly filament: Float64Array;
  /** Line of each block, from one. */
  readonly line: Uint32Array;
  /** Bits of `BlockFlag`. */
  readonly flags: Uint8Array;
  /** Moves whose inverse time is not kept, by their first block (an arc has several). */
  readonly raised: readonly Raised[];
  /** Lines that are the machine's own. */
  readonly own: readonly { readonly line: number; readonly text: string }[];
  readonly end: 'M2' | 'M30' | '%' | 'none';
  /** Lines up to the end of the program. */
  readonly lines: number;
  /** Whether G20 or G21 stood before the first move. */
  readonly unitsStated: boolean;
}

export class Recorder {
  readonly raised: Raised[] = [];
  readonly own: { line: number; text: string }[] = [];
  readonly #from: Float64Array;
  readonly #scale: readonly number[];
  readonly #joints: List<Float64Array> = float64List(4096);
  readonly #seconds: List<Float64Array> = float64List(4096);
  readonly #filament: List<Float64Array> = float64List(4096);
  readonly #line: List<Uint32Array> = uint32List(4096);
  readonly #flags: List<Uint8Array> = uint8List(4096);
  #marked = 0;
  #markedRaised = 0;
  #markedOwn = 0;

  /** @param from mm and rad */
  constructor(kinds: readonly ('linear' | 'rotary')[], from: ArrayLike<number>) {
    this.#scale = kinds.map((kind) => (kind === 'rotary' ? DEG : 1));
    this.#from = Float64Array.from(kinds, (_, i) => from[i]!);
  }

  get blocks(): number {
    return this.#seconds.length;
  }

  /** @param position at the end of the block, mm and deg */
  add(
    position: Float64Array,
    seconds: number,
    filament: number,
    line: number,
    flags: number,
  ): void {
    for (let i = 0; i < position.length; i++) this.#joints.push(position[i]! * this.#scale[i]!);
    this.#seconds.push(seconds);
    this.#filament.push(filament);
    this.#line.push(line);
    this.#flags.push(flags);
  }

  /** A block begins: `undo` comes back to here. */
  begin(): void {
    this.#marked = this.blocks;
    this.#markedRaised = this.raised.length;
    this.#markedOwn = this.own.length;
  }

  /** Forgets what the block has added. */
  undo(): void {
    const blocks = this.#marked;
    this.#joints.cut(blocks * this.#from.length);
    for (const list of [this.#seconds, this.#filament, this.#line, this.#flags]) list.cut(blocks);
    this.raised.length = this.#markedRaised;
    this.own.length = this.#markedOwn;
  }

  take(rest: Pick<Program, 'end' | 'lines' | 'unitsStated'>): Program {
    return {
      jointCount: this.#from.length,
      from: this.#from,
      joints: this.#joints.take(),
      seconds: this.#seconds.take(),
      filament: this.#filament.take(),
      line: this.#line.take(),
      flags: this.#flags.take(),
      raised: this.raised,
      own: this.own,
      ...rest,
    };
  }
}
