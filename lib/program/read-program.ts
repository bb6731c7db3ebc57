/**
 * The reader: from the text of an RS-274/NGC program every block that moves, meters or waits, as joint
 * values, time and filament. It knows the standard and what the options add, nothing of the writer. What
 * the standard refuses is a Fault with line, column and the value found.
 */
import { Fault } from '../base/fault.js';
import { type Watch, step } from '../base/watch.js';
import { BlockReader } from './block.js';
import { Interpreter } from './interpret.js';
import { PARAMETERS } from './offsets.js';
import type { ProgramReadOptions } from './options.js';
import { type Program, Recorder } from './recorder.js';
import { LONGEST_LINE } from './text.js';

export { BlockFlag, type Program } from './recorder.js';
export { type ProgramReadOptions, readOptions, standardOptions } from './options.js';

/** Letters of RS-274/NGC that are not axes. */
const LETTERS = 'DFGHIJKLMNPQRST';
/** Lines between two reports of progress. */
const WATCH_STEP = 100_000;

/**
 * @param text the program, whole or in pieces that end where lines end
 * @throws Fault `program/...` for the first line that does not read, unless `onFault` takes it
 */
export function readProgram(
  text: string | readonly string[],
  options: ProgramReadOptions,
  watch?: Watch,
): Program {
  const pieces = typeof text === 'string' ? [text] : text;
  const reading = new Reading(options);
  const total = pieces.reduce((sum, p) => sum + p.length, 0);
  let done = 0;
  for (const piece of pieces) {
    reading.piece(piece, (at) => step(watch, 'read program', done + at, total));
    done += piece.length;
    if (reading.ended) break;
  }
  return reading.take();
}

class Reading {
  ended: 'M2' | 'M30' | '%' | '' = '';
  readonly #options: ProgramReadOptions;
  readonly #reader: BlockReader;
  readonly #interpreter: Interpreter;
  readonly #recorder: Recorder;
  #line = 0;
  #percent = false;
  #begun = false;

  constructor(options: ProgramReadOptions) {
    const axes = options.axes.map((a) => a.letter).join('');
    const metering = options.filament?.letter ?? '';
    const from = Float64Array.from(options.axes, () => 0);
    this.#options = options;
    this.#reader = new BlockReader(
      LETTERS + axes + metering,
      options.filament?.letter,
      new Float64Array(PARAMETERS),
    );
    this.#recorder = new Recorder(
      options.axes.map((a) => a.kind),
      options.start ?? from,
    );
    this.#interpreter = new Interpreter(options, this.#reader, this.#recorder);
  }

  piece(text: string, look: (at: number) => void): void {
    let from = 0;
    while (from < text.length && !this.ended) {
      const found = text.indexOf('\n', from);
      const next = found < 0 ? text.length : found + 1;
      let to = found < 0 ? text.length : found;
      if (to > from && text.charCodeAt(to - 1) === 13) to--;
      this.#line++;
      if (this.#line % WATCH_STEP === 0) look(from);
      this.#read(text, from, to);
      from = next;
    }
  }

  take(): Program {
    if (!this.ended) {
      this.#report(
        new Fault(
          'program/no-end',
          `line ${this.#line}: the program ends without M2, M30 or a closing %`,
          { line: this.#line },
        ),
      );
    }
    return this.#recorder.take({
      end: this.ended || 'none',
      lines: this.#line,
      unitsStated: this.#interpreter.unitsStated,
    });
  }

  #read(text: string, from: number, to: number): void {
    if (this.#isPercent(text, from, to)) return;
    try {
      this.#interpreter.begin();
      this.#reader.read(text, from, to, this.#line);
      if (this.#reader.block.deleted && (this.#options.blockDelete ?? true)) return;
      const end = this.#interpreter.run();
      if (end) this.ended = end === 2 ? 'M2' : 'M30';
    } catch (error) {
      if (!(error instanceof Fault)) throw error;
      this.#interpreter.undo();
      // A line that is too long to be read is not compared either.
      const own = to - from <= LONGEST_LINE && this.#isOwn(text.slice(from, to));
      if (!own) this.#report(error);
    }
  }

  /** The first line may be "%"; then a second one ends the program. */
  #isPercent(text: string, from: number, to: number): boolean {
    let at = from;
    while (at < to && (text.charCodeAt(at) === 32 || text.charCodeAt(at) === 9)) at++;
    if (at === to) return false;
    const first = !this.#begun;
    this.#begun = true;
    if (text.charCodeAt(at) !== 37 || text.slice(at, to).trim() !== '%') return false;
    if (first) this.#percent = true;
    else if (this.#percent) this.ended = '%';
    else return false;
    return true;
  }

  /** A line that is not RS-274 but stands like this in the machine file. */
  #isOwn(line: string): boolean {
    if (!this.#options.own?.lines.some((pattern) => pattern.test(line))) return false;
    this.#recorder.own.push({ line: this.#line, text: line.trim() });
    // A G code of its own making may have moved the machine.
    if (/^\s*G/i.test(line)) this.#interpreter.forgetPosition();
    return true;
  }

  #report(fault: Fault): void {
    if (!this.#options.onFault) throw fault;
    this.#options.onFault(fault);
  }
}
