/**
 * The blocks of a motion while it is planned: they are pushed one at a time in program order, each with
 * what limits its speed, and handed out as flat arrays. Times are set afterwards (timing/block-feeds.ts),
 * when a whole layer and its corners are known.
 */
import { float64List, uint32List, uint8List } from '../../base/ragged.js';
import type { MoveKind } from '../motion.js';

/** No `PathKind`: the block lays nothing. */
export const NO_PATH = 255;

/** What the blocks pushed next have in common. */
export interface Tag {
  readonly kind: MoveKind;
  readonly region: number;
  readonly layer: number;
  readonly pathKind: number;
  /** Tip speed asked for, mm/s; for a filament block the filament speed. */
  readonly speed: number;
}

/** A path of the joints: block b ends at `joints[b * jointCount ..]`, block -1 is `from`; mm and rad. */
export interface JointPolyline {
  readonly jointCount: number;
  readonly from: Float64Array;
  readonly joints: Float64Array;
}

export interface MotionBlocks extends JointPolyline {
  readonly kind: Uint8Array;
  readonly filament: Float64Array;
  readonly length: Float64Array;
  readonly region: Uint32Array;
  readonly layer: Uint32Array;
  readonly pathKind: Uint8Array;
  /** Speed asked for, mm/s of tip (of filament where only filament moves). */
  readonly speed: Float64Array;
  /** Section of what is laid, mm2; 0 where nothing is. */
  readonly section: Float64Array;
}

export class BlockList {
  readonly jointCount: number;
  readonly from: Float64Array;
  /** Joint values where the last block ends. */
  readonly now: Float64Array;
  readonly #joints = float64List(4096);
  readonly #kind = uint8List(1024);
  readonly #filament = float64List(1024);
  readonly #length = float64List(1024);
  readonly #region = uint32List(1024);
  readonly #layer = uint32List(1024);
  readonly #pathKind = uint8List(1024);
  readonly #speed = float64List(1024);
  readonly #section = float64List(1024);

  constructor(from: Float64Array) {
    this.jointCount = from.length;
    this.from = from.slice();
    this.now = from.slice();
  }

  get count(): number {
    return this.#kind.length;
  }

  /**
   * @param length of the tip's path over the part, mm
   * @param section of the bead, mm2
   * @param filament metered, mm
   */
  push(
    joints: ArrayLike<number>,
    length: number,
    section: number,
    filament: number,
    tag: Tag,
  ): void {
    for (let j = 0; j < this.jointCount; j++) {
      const value = joints[j]!;
      this.now[j] = value;
      this.#joints.push(value);
    }
    this.#kind.push(tag.kind);
    this.#filament.push(filament);
    this.#length.push(length);
    this.#region.push(tag.region);
    this.#layer.push(tag.layer);
    this.#pathKind.push(tag.pathKind);
    this.#speed.push(tag.speed);
    this.#section.push(section);
  }

  take(): MotionBlocks {
    return {
      jointCount: this.jointCount,
      from: this.from,
      joints: this.#joints.take(),
      kind: this.#kind.take(),
      filament: this.#filament.take(),
      length: this.#length.take(),
      region: this.#region.take(),
      layer: this.#layer.take(),
      pathKind: this.#pathKind.take(),
      speed: this.#speed.take(),
      section: this.#section.take(),
    };
  }
}
