/**
 * How a program is to be read: which axes it moves, which letter meters filament, and which lines and codes
 * beyond the standard belong to the machine. `readOptions` takes all of it from a machine.
 */
import { BOUNDS } from '../base/bounds.js';
import { DEG } from '../base/vector.js';
import type { Fault } from '../base/fault.js';
import type { Machine } from '../machine/machine.js';
import { groupOfG, groupOfM } from './codes.js';
import { tipLength } from './tip.js';

export interface Axis {
  readonly letter: string;
  readonly kind: 'linear' | 'rotary';
  /** Speed of a rapid move, mm/s or deg/s. */
  readonly speed: number;
}

/** Lines and codes beyond the standard that may stand in the program. */
export interface OwnText {
  /** Codes such as "M104"; the other words of their block are theirs. */
  readonly codes: ReadonlySet<string>;
  /** Whole lines; they count only where a line does not read as RS-274. */
  readonly lines: readonly LinePattern[];
}

/** Whether a line is one of the machine file's, whatever stands at its named places. */
export interface LinePattern {
  test(line: string): boolean;
}

/** What a program does not say about the machine that it is for. */
export interface ProgramReadOptions {
  /** In the order of the joint values that come out. */
  readonly axes: readonly Axis[];
  /** Where the machine stands before the first block, mm and rad; NaN for not known. Zeros if left out. */
  readonly start?: ArrayLike<number>;
  /** Letter that meters filament, and whether its words are a running sum; none if left out. */
  readonly filament?: { readonly letter: string; readonly mode: 'absolute' | 'relative' };
  readonly own?: OwnText;
  /** Farthest place of a linear axis and greatest radius of an arc, mm; without bound if left out. */
  readonly reach?: number;
  /** Greatest distance between an arc and the straight pieces that stand for it, mm. */
  readonly arcError?: number;
  /** Whether blocks that begin with "/" are passed over (the switch of the controller); yes if left out. */
  readonly blockDelete?: boolean;
  /**
   * Length that a G94 feed measures in a block in which a rotary axis turns, if it is that of the
   * tip over the part: joint values in mm and rad.
   */
  readonly tip?: (from: ArrayLike<number>, to: ArrayLike<number>) => number;
  /**
   * Whether a motion code may stand without axis words, to set the mode or for a full circle; no if left out.
   */
  readonly bareMotion?: boolean;
  /** Takes the Fault of each bad line, which is then passed over; without it the first is thrown. */
  readonly onFault?: (fault: Fault) => void;
}

/**
 * Reading for a machine: its axes and filament letter, its own lines and codes; the place before
 * the first block is not known.
 */
export function readOptions(machine: Machine): ProgramReadOptions {
  const { joints, dialect } = machine;
  const byTip = dialect.rotaryFeed === 'G94' && dialect.rotaryFeedMeaning === 'tip';
  return {
    axes: joints.map(({ letter, kind, speed }) => ({
      letter,
      kind,
      speed: kind === 'rotary' ? speed / DEG : speed,
    })),
    start: joints.map(() => NaN),
    filament: dialect.filament,
    own: ownText(machine),
    bareMotion: true,
    reach: BOUNDS.reachMm,
    ...(byTip ? { tip: (from, to) => tipLength(machine, from, to) } : {}),
  };
}

/** The standard alone: axes by letter, at zero, no filament word, no line beyond the standard. */
export function standardOptions(letters = 'XYZABC'): ProgramReadOptions {
  return {
    axes: [...letters].map((letter) => ({
      letter,
      kind: 'ABC'.includes(letter) ? 'rotary' : 'linear',
      speed: Infinity,
    })),
  };
}

function ownText(machine: Machine): OwnText {
  const { start, end, fan, nozzleTemperature, tableTemperature } = machine.dialect;
  const templates = [...start, ...end, fan?.on, fan?.off, nozzleTemperature, tableTemperature];
  const lines = templates.filter((t): t is string => t !== undefined);
  return { codes: new Set(lines.flatMap(codesIn)), lines: linePatterns(lines) };
}

/** Codes of a line that the standard does not know. */
function codesIn(line: string): string[] {
  const words = line
    .replace(/\([^)]*\)/g, ' ')
    .replace(/;.*/, '')
    .toUpperCase();
  return [...words.matchAll(/([GM])\s*(\d+(?:\.\d+)?)/g)].flatMap(([, letter, digits]) => {
    const number = Number(digits);
    const known = letter === 'G' ? groupOfG(Math.round(number * 10)) : groupOfM(number);
    return known === undefined ? [letter! + number] : [];
  });
}

/** Patterns of lines of the machine file, with anything at their named places. */
export const linePatterns = (lines: readonly string[]): LinePattern[] => lines.flatMap(patternOf);

/** A line with its named places open; none for a line of little but places, which would match anything. */
function patternOf(line: string): LinePattern[] {
  const parts = line.trim().split(/\{[^{}]*\}/);
  if (parts.join('').replace(/\s/g, '').length < 2) return [];
  return [{ test: (text) => holdsInOrder(text.trim(), parts) }];
}

/**
 * Whether a text is the parts in their order with something between each two. The first place of each
 * is as good as any, so one pass does; a regular expression tries all of them and takes (length of the
 * line) ** (number of places) steps on a line that was made for it.
 */
function holdsInOrder(text: string, parts: readonly string[]): boolean {
  const [first, last] = [parts[0]!, parts.at(-1)!];
  if (parts.length === 1) return text === first;
  if (!text.startsWith(first) || !text.endsWith(last)) return false;
  let at = first.length;
  for (const part of parts.slice(1, -1)) {
    const found = text.indexOf(part, at + 1);
    if (found < 0) return false;
    at = found + part.length;
  }
  return at < text.length - last.length;
}
