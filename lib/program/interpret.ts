/**
 * Executes blocks of RS-274/NGC one after another, in the standard's order of execution within a block:
 * feed mode, F, dwell, plane, units, coordinate system, distance mode, G10 G28 G30 G92, motion, stop. A
 * block that is refused moves nothing.
 */
import { type BlockReader, indexOf, letterOf } from './block.js';
import { nameOfG } from './codes.js';
import { MoveInterpreter } from './move.js';
import type { ProgramReadOptions } from './options.js';
import type { Recorder } from './recorder.js';
import { Codes } from './sort.js';

const F = indexOf('F');
const L = indexOf('L');
const P = indexOf('P');
const S = indexOf('S');
const T = indexOf('T');
const bits = (letters: string): number =>
  [...letters].reduce((all, l) => all | (1 << indexOf(l)), 0);
const ALWAYS = bits('FST');
const ARC_WORDS = bits('IJKR');

export class Interpreter {
  unitsStated = false;
  readonly #options: ProgramReadOptions;
  readonly #reader: BlockReader;
  readonly #codes = new Codes();
  readonly #mover: MoveInterpreter;
  readonly #recorder: Recorder;
  readonly #axisBits: number;
  readonly #filamentBit: number;
  #motion = -1;
  #motionBefore = -1;
  #inUnits = false;

  constructor(options: ProgramReadOptions, reader: BlockReader, recorder: Recorder) {
    this.#options = options;
    this.#reader = reader;
    this.#recorder = recorder;
    this.#mover = new MoveInterpreter(options, reader, recorder);
    this.#axisBits = bits(options.axes.map((a) => a.letter).join(''));
    this.#filamentBit = options.filament ? bits(options.filament.letter) : 0;
  }

  /** The place is no longer known (a line of the machine's own has run). */
  forgetPosition(): void {
    this.#mover.forget();
  }

  /** A block begins: `undo` comes back to here. */
  begin(): void {
    this.#recorder.begin();
    this.#mover.begin();
    this.#motionBefore = this.#motion;
  }

  /** Takes back what a block has done before it was refused. */
  undo(): void {
    this.#recorder.undo();
    this.#mover.undo();
    this.#motion = this.#motionBefore;
  }

  /** Runs the block that was read. @returns 2 or 30 if it ends the program, else 0 */
  run(): number {
    const { block } = this.#reader;
    const codes = this.#codes;
    codes.sort(this.#reader, this.#options.own);
    const moves = this.#movesHere();
    this.#check(moves);
    if (block.g.length) this.#setModes();
    // Words of a code beyond the standard belong to that code.
    if (!codes.own || moves) this.#setFeed();
    if (codes.nonModal === 40) this.#mover.dwell(block.value[P]!);
    if (block.g.length) this.#setFrames();
    if (codes.motion >= 0) this.#motion = codes.motion === 800 ? -1 : codes.motion;
    if (moves) {
      if (!this.#inUnits) this.#firstMove();
      this.#mover.move(this.#motion, codes.nonModal === 530);
    }
    if (codes.own) {
      this.#recorder.own.push({ line: this.#reader.line, text: this.#lineText() });
      if (codes.ownMayMove) this.forgetPosition();
    }
    for (const { index, value } of block.settings) this.#reader.parameters[index] = value;
    return codes.end;
  }

  #firstMove(): void {
    this.unitsStated = this.#mover.unitsStated;
    this.#inUnits = true;
  }

  #lineText(): string {
    const { text, end, lineBegin } = this.#reader;
    return text.slice(lineBegin, end).trim();
  }

  /** Whether the block's axis and filament words are a motion. */
  #movesHere(): boolean {
    const { block } = this.#reader;
    const { motion, nonModal, own } = this.#codes;
    if (own && motion < 0) return false;
    const words = block.seen & (this.#axisBits | this.#filamentBit);
    if (takesAxes(nonModal)) {
      if (words && motion >= 0 && motion !== 800) {
        this.#refuse(
          'axes-claimed-twice',
          `${nameOfG(nonModal)} and ${nameOfG(motion)} both take the axis words`,
        );
      }
      return false;
    }
    if (words !== 0 || !this.#options.bareMotion) return words !== 0;
    // A full circle; the standard itself wants an axis word.
    const arc = motion >= 0 ? motion : this.#motion;
    return (arc === 20 || arc === 30) && (block.seen & ARC_WORDS) !== 0;
  }

  /** What the standard refuses in a block, before anything of it is done. */
  #check(moves: boolean): void {
    const { block } = this.#reader;
    const { motion, nonModal, own } = this.#codes;
    const now = motion >= 0 ? motion : this.#motion;
    const arc = moves && (now === 20 || now === 30);
    if (moves && (now < 0 || now === 800)) {
      const why = motion === 800 ? 'G80 takes no axis words' : 'axis words without a motion mode';
      this.#refuse('no-motion-mode', why, this.#axisBits | this.#filamentBit);
    }
    if (!moves && motion >= 0 && motion !== 800 && !takesAxes(nonModal)) this.#checkBare(motion);
    if (nonModal === 530 && !(moves && (now === 0 || now === 10))) {
      this.#refuse('g53-alone', 'G53 needs a straight move, G0 or G1, in its block');
    }
    if (block.seen & (1 << F) && !own && block.value[F]! < 0) {
      this.#reader.faultAt(F, 'negative-word', `F${block.value[F]} is below 0`);
    }
    for (const index of [S, T]) {
      if (block.has(index) && !own && block.value[index]! < 0) {
        const word = `${letterOf(index)}${block.value[index]}`;
        this.#reader.faultAt(index, 'negative-word', `${word} is below 0`);
      }
    }
    if (!own) this.#checkUnused(arc);
    this.#checkNonModal();
  }

  #checkBare(motion: number): void {
    if (this.#options.bareMotion) return;
    this.#refuse('no-axis-words', `${nameOfG(motion)} without an axis word`);
  }

  #checkUnused(arc: boolean): void {
    const { block } = this.#reader;
    const { nonModal, modal } = this.#codes;
    let known = ALWAYS | this.#axisBits | this.#filamentBit;
    if (arc) known |= ARC_WORDS;
    if (nonModal === 40 || nonModal === 100 || modal[13] === 640) known |= 1 << P;
    if (nonModal === 100) known |= 1 << L;
    const left = block.seen & ~known;
    if (!left) return;
    const index = 31 - Math.clz32(left & -left);
    const word = `${letterOf(index)}${block.value[index]}`;
    this.#reader.faultAt(index, 'unused-word', `nothing in the block uses ${word}`);
  }

  #checkNonModal(): void {
    const { block } = this.#reader;
    const { nonModal } = this.#codes;
    const p = block.value[P]!;
    if (nonModal === 40) {
      if (!block.has(P)) this.#refuse('dwell-time', 'G4 without P');
      if (p < 0) this.#reader.faultAt(P, 'dwell-time', `P${p} s is below 0`);
    } else if (nonModal === 100) {
      if (!block.has(L) || block.value[L] !== 2) this.#refuse('g10', 'G10 needs L2');
      if (!block.has(P) || !Number.isInteger(p) || p < 1 || p > 9) {
        this.#reader.faultAt(P, 'g10', 'G10 L2 needs P1 to P9');
      }
    } else if (nonModal === 920 && !(block.seen & (this.#axisBits | this.#filamentBit))) {
      this.#refuse('no-axis-words', 'G92 without an axis word');
    }
  }

  #setModes(): void {
    const mode = this.#codes.modal[5]!;
    if (mode >= 0) this.#mover.setFeedMode(mode === 930);
  }

  #setFeed(): void {
    const { block } = this.#reader;
    this.#mover.setFeed(block.seen & (1 << F) ? block.value[F]! : undefined);
  }

  #setFrames(): void {
    const { modal, nonModal } = this.#codes;
    const mover = this.#mover;
    if (modal[2]! >= 0) mover.setPlane(modal[2] as 170 | 180 | 190);
    if (modal[6]! >= 0) mover.setUnit(modal[6] === 200);
    if (modal[12]! >= 0) mover.selectSystem(systemOf(modal[12]!));
    if (modal[3]! >= 0) mover.setAbsolute(modal[3] === 900);
    if (nonModal >= 0) mover.nonModal(nonModal);
  }

  #refuse(what: string, message: string, at = 0): never {
    const index = at & this.#reader.block.seen;
    return this.#reader.faultAt(index ? 31 - Math.clz32(index & -index) : -1, what, message);
  }
}

/** G10, G28, G30 and G92 take the axis words of their block. */
const takesAxes = (code: number): boolean =>
  code === 100 || code === 280 || code === 300 || code === 920;

/** G54 .. G59, G59.1 .. G59.3 are systems 1 to 9. */
const systemOf = (code: number): number => (code <= 590 ? (code - 530) / 10 : code - 590 + 6);
