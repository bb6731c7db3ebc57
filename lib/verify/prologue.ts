/**
 * Where the machine file's start text ends in a program, so that filament it feeds (a wiped line
 * beside the part) is not taken for the part's material.
 */

import type { LinePattern } from '../program/options.js';

/** Lines other than comments that may stand between and before those of the start text. */
const LINES_BETWEEN = 8;

/**
 * @param starts patterns of the start text's lines
 * @returns the last line (from one) that is one of the start text's, 0 if there is none
 */
export function prologueEnd(
  text: string | readonly string[],
  starts: readonly LinePattern[],
): number {
  const first = typeof text === 'string' ? text : (text[0] ?? '');
  let line = 0;
  let last = 0;
  let others = 0;
  for (let from = 0; from < first.length && others <= LINES_BETWEEN; line++) {
    const found = first.indexOf('\n', from);
    const to = found < 0 ? first.length : found;
    const content = first.slice(from, to).trim();
    from = to + 1;
    if (starts.some((pattern) => pattern.test(content))) last = line + 1;
    else if (content && !/^\([^()]*\)$/.test(content)) others++;
  }
  return last;
}
