/**
 * The planned time at which each block of the checked text ends, acceleration included, so that page,
 * summary and service give one time for a job. The trace by itself knows only the stated feeds, which a
 * machine reaches in part of a block: the hose manifold takes 11,101 s, and 10,029 s by its feeds. What
 * the machine file's own start and end lines take is in neither.
 */
import type { Motion } from '../motion/motion.js';
import type { Trace } from '../verify/trace.js';

/**
 * @param lineOf line of the text that each block of the motion ends with, rising
 * @returns time at the end of each block of the trace, s
 */
export function plannedTimes(
  { line }: Pick<Trace, 'line'>,
  { lasts }: Pick<Motion, 'lasts'>,
  lineOf: Uint32Array,
): Float64Array {
  const out = new Float64Array(line.length);
  let time = 0;
  let next = 0;
  for (let b = 0; b < out.length; b++) {
    while (next < lineOf.length && lineOf[next]! <= line[b]!) time += lasts[next++]!;
    out[b] = time;
  }
  return out;
}
