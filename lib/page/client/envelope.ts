/**
 * Least and greatest position and speed of a joint in equal intervals of time: a curve of a million
 * blocks on a few hundred pixels, with no peak lost.
 */
import type { PageModel } from './model.js';

export interface Envelope {
  /** Middle of each stretch, s. */
  readonly time: Float64Array;
  /** [least, most] of position and of speed, mm or rad (a second). */
  readonly position: readonly [Float64Array, Float64Array];
  readonly speed: readonly [Float64Array, Float64Array];
}

export function envelopeOf(
  model: PageModel,
  j: number,
  from: number,
  to: number,
  columns: number,
): Envelope {
  const rows = (): Float64Array => new Float64Array(columns);
  const time = rows();
  const position = [rows(), rows()] as const;
  const speed = [rows(), rows()] as const;
  const { end } = model;
  const at = (b: number, t: number): number => {
    const seconds = model.secondsOf(b);
    const share = seconds > 0 ? 1 - Math.max(0, Math.min(1, (end[b]! - t) / seconds)) : 1;
    const before = model.joint(b - 1, j);
    return before + (model.joint(b, j) - before) * share;
  };
  let b = model.blockAt(from);
  for (let k = 0; k < columns; k++) {
    const start = from + ((to - from) * k) / columns;
    const stop = from + ((to - from) * (k + 1)) / columns;
    time[k] = (start + stop) / 2;
    let low = at(b, start);
    let high = low;
    let slow = Infinity;
    let fast = -Infinity;
    for (;;) {
      const seconds = model.secondsOf(b);
      const value = at(b, Math.min(stop, end[b]!));
      low = Math.min(low, value);
      high = Math.max(high, value);
      if (seconds > 0) {
        const v = speedOf(model, b, j, seconds);
        slow = Math.min(slow, v);
        fast = Math.max(fast, v);
      }
      if (end[b]! >= stop || b + 1 >= model.count) break;
      b++;
    }
    position[0][k] = low;
    position[1][k] = high;
    speed[0][k] = Number.isFinite(slow) ? slow : 0;
    speed[1][k] = Number.isFinite(fast) ? fast : 0;
  }
  return { time, position, speed };
}

/** Speed in a block, what the rounding of the text explains left out, as the check does. */
export function speedOf(model: PageModel, b: number, j: number, seconds: number): number {
  const step = model.joint(b, j) - model.joint(b - 1, j);
  const rest = Math.max(0, Math.abs(step) - model.head.machine.joints[j]!.decimal);
  return (Math.sign(step) * rest) / seconds;
}
