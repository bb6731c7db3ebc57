/**
 * One line of RS-274/NGC as a block: the value of each letter, the codes and the parameter settings. A
 * block holds at most one word per letter (G and M aside), each with its column; what cannot be read is a
 * Fault `program/...` with line, column and the text found there.
 *
 * Blanks mean nothing outside comments, not even inside a number ("0. 12 34" is 0.1234), letters may be
 * lower case, and a number has no exponent.
 */
import { BOUNDS } from '../base/bounds.js';
import { Fault } from '../base/fault.js';
import { type Cursor, readReal } from './expression.js';
import { LONGEST_LINE } from './text.js';

const A = 65;
const G = 6;
const M = 12;
const N = 13;

export const indexOf = (letter: string): number => letter.charCodeAt(0) - A;
export const letterOf = (index: number): string => String.fromCharCode(A + index);

export class ProgramBlock {
  /** Bit i is set if letter i (A is 0) stands in the block; G and M not counted. */
  seen = 0;
  readonly value = new Float64Array(26);
  readonly column = new Int32Array(26);
  /** G codes in tenths and M codes, in the order in which they stand. */
  readonly g: number[] = [];
  readonly m: number[] = [];
  readonly gColumn: number[] = [];
  readonly mColumn: number[] = [];
  /** Parameter settings, which take effect after the whole block is read. */
  readonly settings: { index: number; value: number }[] = [];
  /** True if the block starts with "/". */
  deleted = false;

  has(index: number): boolean {
    return (this.seen & (1 << index)) !== 0;
  }

  clear(): void {
    this.seen = 0;
    if (this.g.length) this.g.length = this.gColumn.length = 0;
    if (this.m.length) this.m.length = this.mColumn.length = 0;
    if (this.settings.length) this.settings.length = 0;
    this.deleted = false;
  }
}

/** Reads blocks; `letters` are the letters that may stand in one, as bits. */
export class BlockReader implements Cursor {
  readonly block = new ProgramBlock();
  readonly parameters: Float64Array;
  text = '';
  at = 0;
  end = 0;
  line = 0;
  readonly exponentIfInteger: boolean;
  /** Where the line begins in the text. */
  lineBegin = 0;
  readonly #letters: number;

  constructor(letters: string, filament: string | undefined, parameters: Float64Array) {
    this.#letters = [...letters].reduce((bits, l) => bits | (1 << indexOf(l)), 0);
    this.parameters = parameters;
    this.exponentIfInteger = filament === 'E';
  }

  fault(what: string, message: string, at = this.at): never {
    const place = { line: this.line, column: at - this.lineBegin + 1 };
    throw new Fault(
      `program/${what}`,
      `line ${place.line}, column ${place.column}: ${message}`,
      place,
    );
  }

  /** A Fault at the word of a letter, or at the start of the line if it is not there. */
  faultAt(index: number, what: string, message: string): never {
    const column = index >= 0 && this.block.has(index) ? this.block.column[index]! : 0;
    return this.faultIn(column, what, message);
  }

  /** A Fault at a column of the line, from zero. */
  faultIn(column: number, what: string, message: string): never {
    return this.fault(what, message, this.lineBegin + column);
  }

  /** Reads text[from, to) into `block`. */
  read(text: string, from: number, to: number, line: number): void {
    this.text = text;
    this.lineBegin = from;
    this.at = from;
    this.end = to;
    this.line = line;
    this.block.clear();
    if (to - from > LONGEST_LINE) {
      this.fault('long-line', `${to - from} characters, the limit is ${LONGEST_LINE}`, from);
    }
    this.#leader();
    while (this.at < to) this.#item(text.charCodeAt(this.at));
  }

  /** What may stand only at the start: a slash, then a line number. */
  #leader(): void {
    this.skip();
    if (this.text[this.at] === '/' && this.at < this.end) {
      this.block.deleted = true;
      this.at++;
      this.skip();
    }
    if (this.at >= this.end || (this.text.charCodeAt(this.at) & 0xdf) !== A + N) return;
    const start = this.at++;
    this.skip();
    const digits = this.at;
    while (this.at < this.end && isDigit(this.text.charCodeAt(this.at))) this.at++;
    if (this.at === digits) this.fault('bad-number', 'N needs a whole number', start);
  }

  #item(c: number): void {
    if (c === 32 || c === 9) this.at++;
    else if ((c >= 65 && c <= 90) || (c >= 97 && c <= 122)) this.#word((c & 0xdf) - A);
    else if (c === 40) this.#comment();
    else if (c === 59) this.at = this.end;
    else if (c === 35) this.#setting();
    else this.fault('bad-character', `"${this.text[this.at]}" has no meaning here`);
  }

  #word(index: number): void {
    const { block } = this;
    const start = this.at++;
    if (index === N) this.fault('late-line-number', 'N must open the block', start);
    if (((this.#letters >> index) & 1) === 0) this.#unknown(index, start);
    this.skip();
    const value = this.#number();
    if (index === G) {
      const tenths = Math.round(value * 10);
      if (Math.abs(value * 10 - tenths) > 1e-3 || tenths < 0) {
        this.fault('unknown-code', `G${value} is no code`, start);
      }
      block.g.push(tenths);
      block.gColumn.push(start - this.lineBegin);
    } else if (index === M) {
      if (!Number.isInteger(value) || value < 0) {
        this.fault('unknown-code', `M${value} is no code`, start);
      }
      block.m.push(value);
      block.mColumn.push(start - this.lineBegin);
    } else {
      if (block.has(index)) {
        this.fault('repeated-word', `a second ${letterOf(index)} in one block`, start);
      }
      block.seen |= 1 << index;
      block.value[index] = value;
      block.column[index] = start - this.lineBegin;
    }
  }

  #unknown(index: number, start: number): never {
    const letter = letterOf(index);
    const before = this.text.charCodeAt(start - 1);
    if (letter === 'E' && start > this.lineBegin && (isDigit(before) || before === 46)) {
      this.fault(
        'exponent',
        `"${this.text.slice(start, start + 4).trim()}" after a number: RS-274 numbers have no exponent`,
        start,
      );
    }
    return this.fault('unknown-letter', `the letter ${letter} has no meaning here`, start);
  }

  #comment(): void {
    const start = this.at;
    for (let i = start + 1; i < this.end; i++) {
      const c = this.text.charCodeAt(i);
      if (c === 40) this.fault('comment-nested', 'a comment inside a comment', i);
      if (c === 41) {
        this.at = i + 1;
        return;
      }
    }
    this.fault('comment-open', 'a comment that is not closed', start);
  }

  /** `#3=15`; the value is that before the block for every use in the block. */
  #setting(): void {
    const start = this.at++;
    this.skip();
    const index = readReal(this);
    if (!Number.isInteger(index) || index < 1 || index >= this.parameters.length) {
      this.fault(
        'bad-parameter',
        `#${index} is not among 1 to ${this.parameters.length - 1}`,
        start,
      );
    }
    this.skip();
    if (this.at >= this.end || this.text[this.at] !== '=') {
      this.fault('bad-parameter', `"=" must follow #${index}`);
    }
    this.at++;
    this.skip();
    this.block.settings.push({ index, value: this.#number() });
  }

  /** A value that may enter arithmetic: beyond the limit, sums lose their millimetres. */
  #number(): number {
    const start = this.at;
    const value = readReal(this);
    if (Math.abs(value) <= BOUNDS.number) return value;
    return this.fault('too-large', `the number ${value}; the limit is ${BOUNDS.number}`, start);
  }

  skip(): void {
    while (this.at < this.end) {
      const c = this.text.charCodeAt(this.at);
      if (c !== 32 && c !== 9) return;
      this.at++;
    }
  }
}

export const isDigit = (c: number): boolean => c >= 48 && c <= 57;
