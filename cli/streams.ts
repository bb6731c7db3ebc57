/**
 * What is written to the output and error streams. Every text passes through here, because names of files,
 * parts and machines that somebody else chose stand in it: whatever is hidden in them is shown as an
 * escape.
 */
import type { Fault, FaultData } from '../lib/index.js';
import { jsonText, printable } from '../lib/base/printable.js';

/** Longest line that a person would read, characters. */
const LONGEST_LINE = 8000;

const shown = (lines: readonly string[]): string =>
  lines.map((line) => `${printable(line, LONGEST_LINE)}\n`).join('');

/** Lines for people. */
export function printLines(lines: readonly string[]): void {
  process.stdout.write(shown(lines));
}

/** A value for programs, and for people who look at what programs read. */
export function printJson(value: unknown): void {
  process.stdout.write(`${jsonText(value)}\n`);
}

/** Lines that say what went wrong or how far the work is. */
export function sayLines(lines: readonly string[]): void {
  process.stderr.write(shown(lines));
}

/** One line for each problem: code, what is wrong, and where: file, line, column. */
export const faultLines = (fault: Fault): string[] =>
  (fault.problems.length > 0 ? fault.problems : [fault]).map(problemLine);

function problemLine({ code, message, at }: FaultData): string {
  const where = [at?.line, at?.column].filter((n) => n !== undefined).map((n) => `:${n}`);
  const file = at?.file;
  // Not twice where the message is about the file itself.
  const named = file === undefined || (where.length === 0 && message.includes(file));
  return `${code}: ${message}${named ? '' : ` (${file}${where.join('')})`}`;
}
