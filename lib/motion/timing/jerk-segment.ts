/**
 * One segment of a speed profile: a constant jerk for some time, from a speed and an acceleration. Any
 * consistent unit of length does; the callers use mm and s. Formulas are those of uniformly accelerated
 * motion.
 */

/** Speed at the start, its two derivatives, and the duration, s. */
export interface JerkSegment {
  readonly seconds: number;
  readonly speed: number;
  readonly acceleration: number;
  readonly jerk: number;
}

/** Length covered after time t. */
export const lengthAfter = ({ speed, acceleration, jerk }: JerkSegment, t: number): number =>
  t * (speed + t * (acceleration / 2 + (t * jerk) / 6));

/** Speed after time t. */
export const speedAfter = ({ speed, acceleration, jerk }: JerkSegment, t: number): number =>
  speed + t * (acceleration + (t * jerk) / 2);

/** What is left of a run after time t. */
export const restAfter = (run: JerkSegment, t: number): JerkSegment => ({
  seconds: run.seconds - t,
  speed: speedAfter(run, t),
  acceleration: run.acceleration + t * run.jerk,
  jerk: run.jerk,
});

/** Halvings in which a time is found. */
const TIME_HALVINGS = 50;

/** Time in which a run covers a length no longer than its own. */
export function timeOver(run: JerkSegment, length: number): number {
  if (run.acceleration === 0 && run.jerk === 0) return length / run.speed;
  let [low, high] = [0, run.seconds];
  for (let i = 0; i < TIME_HALVINGS; i++) {
    const t = (low + high) / 2;
    if (lengthAfter(run, t) < length) low = t;
    else high = t;
  }
  return (low + high) / 2;
}
