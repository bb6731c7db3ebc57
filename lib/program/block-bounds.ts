/**
 * What a block may ask for, held against `BOUNDS` before anything is made of it: positions, turns, time,
 * filament, pieces of arcs. Otherwise a line of a few characters could ask for endless work.
 */
import { BOUNDS } from '../base/bounds.js';
import { type BlockReader, indexOf, letterOf } from './block.js';
import type { Axis, ProgramReadOptions } from './options.js';

const DEGREES = 360;

export class BlockBounds {
  readonly #reader: BlockReader;
  readonly #axes: readonly Axis[];
  readonly #reach: number;
  readonly #index: readonly number[];
  /** So far in the program: pieces of all arcs, and steps of a degree of all turns. */
  #arcPieces = 0;
  #turnSteps = 0;

  constructor(reader: BlockReader, { axes, reach = Infinity }: ProgramReadOptions) {
    this.#reader = reader;
    this.#reach = reach;
    this.#axes = axes;
    this.#index = axes.map((a) => indexOf(a.letter));
  }

  /** @param to machine positions, mm and deg; NaN where not known. @throws Fault `program/too-far` */
  places(to: Float64Array): void {
    for (let i = 0; i < to.length; i++) {
      const linear = this.#axes[i]!.kind === 'linear';
      const size = Math.abs(to[i]!);
      const limit = linear ? this.#reach : BOUNDS.turns * DEGREES;
      if (!(size > limit)) continue;
      const unit = linear ? 'mm' : 'deg';
      this.#refuse(
        i,
        'too-far',
        `would go to ${shown(to[i]!)} ${unit}; the limit is ${limit} ${unit}`,
      );
    }
  }

  /** @throws Fault `program/many-turns` */
  turns(from: Float64Array, to: Float64Array): void {
    let most = 0;
    for (let i = 0; i < to.length; i++) {
      if (this.#axes[i]!.kind === 'linear') continue;
      const by = Math.abs(to[i]! - from[i]!);
      if (!(by > most)) continue;
      most = by;
      if (by <= BOUNDS.blockTurns * DEGREES) continue;
      const turns = shown(by / DEGREES);
      this.#refuse(
        i,
        'many-turns',
        `turns ${turns} times in a block; the limit is ${BOUNDS.blockTurns}`,
      );
    }
    this.#turnSteps += Math.floor(most);
    if (this.#turnSteps <= BOUNDS.turnSteps) return;
    const limit = BOUNDS.turnSteps / DEGREES;
    this.#reader.faultAt(
      -1,
      'many-turns',
      `the program turns more than ${Math.floor(limit)} times in all`,
    );
  }

  /** @throws Fault `program/too-long` */
  time(seconds: number): void {
    if (seconds <= BOUNDS.blockSeconds) return;
    this.#reader.faultAt(
      -1,
      'too-long',
      `the block lasts ${shown(seconds)} s; the limit is ${BOUNDS.blockSeconds} s`,
    );
  }

  /** @param by mm. @param letter index of the filament's. @throws Fault `program/too-far` */
  filament(by: number, letter: number): void {
    if (Math.abs(by) <= BOUNDS.reachMm) return;
    const message = `${letterOf(letter)} meters ${shown(by)} mm in a block; the limit is ${BOUNDS.reachMm} mm`;
    this.#reader.faultAt(letter, 'too-far', message);
  }

  /** @throws Fault `program/too-far`, `program/many-pieces` */
  arc(radius: number, pieces: number): void {
    if (!(radius <= this.#reach)) {
      this.#reader.faultAt(
        -1,
        'too-far',
        `an arc of ${shown(radius)} mm radius; the limit is ${this.#reach} mm`,
      );
    }
    this.#arcPieces += pieces;
    if (this.#arcPieces <= BOUNDS.arcPieces) return;
    this.#reader.faultAt(
      -1,
      'many-pieces',
      `the arcs up to here make ${this.#arcPieces} straight pieces; the limit is ${BOUNDS.arcPieces}`,
    );
  }

  #refuse(axis: number, what: string, message: string): never {
    const index = this.#index[axis]!;
    return this.#reader.faultAt(index, what, `${letterOf(index)} ${message}`);
  }
}

const shown = (value: number): string => String(Number(value.toPrecision(10)));
