/**
 * What the plan knows of each block of the checked text: the time at which it ends, acceleration included, so that page,
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
  trace: Pick<Trace, 'line'>,
  { lasts }: Pick<Motion, 'lasts'>,
  lineOf: Uint32Array,
): Float64Array {
  const out = new Float64Array(trace.line.length);
  let time = 0;
  let done = 0;
  planBlocks(trace, lineOf, (b, next) => {
    while (done < next) time += lasts[done++]!;
    out[b] = time;
  });
  return out;
}

/** Layer of the plan, counted from zero, to which each block of the trace belongs or leads. */
export function plannedLayers(
  trace: Pick<Trace, 'line'>,
  { layer }: Pick<Motion, 'layer'>,
  lineOf: Uint32Array,
): Uint32Array {
  const out = new Uint32Array(trace.line.length);
  planBlocks(trace, lineOf, (b, next) => {
    out[b] = layer[Math.max(0, next - 1)] ?? 0;
  });
  return out;
}

/** Each block of the trace with the number of blocks of the motion that have ended with its line. */
function planBlocks(
  { line }: Pick<Trace, 'line'>,
  lineOf: Uint32Array,
  each: (b: number, next: number) => void,
): void {
  let next = 0;
  for (let b = 0; b < line.length; b++) {
    while (next < lineOf.length && lineOf[next]! <= line[b]!) next++;
    each(b, next);
  }
}
