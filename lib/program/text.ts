/**
 * Text in a program beside its motion: comments of our own, and the machine file's lines with their named
 * places filled in. The result is always one legal line: printable, no longer than the interpreter reads,
 * comments closed and not nested.
 */
import { Fault } from '../base/fault.js';

/** An RS-274/NGC interpreter reads lines of up to 256 characters. */
export const LONGEST_LINE = 256;
/** What our own lines keep to, so that they can be read on a terminal. */
const OWN_LINE = 120;

/** Text as it may stand inside a comment: brackets for parentheses, "?" for what is not printable. */
export function plain(text: string): string {
  return text
    .replaceAll('(', '[')
    .replaceAll(')', ']')
    .replace(/[\t\r\n]+/g, ' ')
    .replace(/[^\x20-\x7e]/g, '?');
}

/** One comment line or several, broken between words. */
export function comment(text: string): string[] {
  const lines: string[] = [];
  let line = '';
  for (const word of plain(text).split(' ').flatMap(pieces)) {
    if (line && line.length + 1 + word.length > OWN_LINE - 2) {
      lines.push(`(${line})`);
      line = '';
    }
    line += line ? ` ${word}` : word;
  }
  lines.push(`(${line})`);
  return lines;
}

/** A word that is longer than a line is cut. */
function pieces(word: string): string[] {
  if (word.length <= OWN_LINE - 2) return [word];
  return word.match(new RegExp(`.{1,${OWN_LINE - 2}}`, 'g'))!;
}

/**
 * A line of the machine file with {name} filled in.
 * @param where the key of the line, for Faults
 * @throws Fault `program/unknown-place`, `program/long-line`, `program/line-break`
 */
export function fill(
  line: string,
  values: Readonly<Record<string, string | number>>,
  where: string,
): string {
  const text = line.replace(/\{([^{}]*)\}/g, (_, name: string) => {
    const value = Object.hasOwn(values, name) ? values[name] : undefined;
    if (value === undefined) {
      const known = Object.keys(values);
      throw new Fault(
        'program/unknown-place',
        `the line "${line}" asks for {${name}}; known here: ${known.map((k) => `{${k}}`).join(' ') || 'none'}`,
        { key: where },
      );
    }
    return typeof value === 'number' ? decimal(value) : plain(value);
  });
  if (/[\r\n]/.test(text)) {
    throw new Fault('program/line-break', `the text "${line}" must be a single line`, {
      key: where,
    });
  }
  if (text.length > LONGEST_LINE) {
    throw new Fault(
      'program/long-line',
      `the line "${text.slice(0, 40)}..." has ${text.length} characters, the limit is ${LONGEST_LINE}`,
      { key: where },
    );
  }
  return text;
}

/** Up to three decimals, never an exponent. */
const decimal = (value: number): string => String(Number(value.toFixed(3)));

/** True if the line holds the words M2 or M30 outside comments. */
export function endsProgram(line: string): boolean {
  const words = line
    .replace(/\([^)]*\)/g, ' ')
    .replace(/;.*/, '')
    .replace(/\s+/g, '');
  return /M0*(2|30)(?![0-9.])/i.test(words);
}

/** Seconds as people say them: "1 h 5 min", "12 s". */
export function duration(seconds: number): string {
  if (seconds < 60) return `${seconds.toFixed(0)} s`;
  const minutes = Math.round(seconds / 60);
  if (minutes < 60) return `${minutes} min`;
  return `${Math.floor(minutes / 60)} h ${minutes % 60} min`;
}
