/**
 * Counts of requests in windows of time, by a monotonic clock: with the machine's own clock a client would
 * be shut out until the clock is again where it was before somebody set it back. (The framework's rate
 * limit takes such a store; the one that it brings reads the machine's clock.)
 */
interface Count {
  current: number;
  readonly ends: number;
}

type Heard = (error: Error | null, count: { current: number; ttl: number }) => void;

/** Clients whose counts are held; with more, those that came first are forgotten. */
const MOST = 5000;

export class Windows {
  readonly #counts = new Map<string, Count>();

  incr(key: string, heard: Heard, windowMs: number): void {
    const now = performance.now();
    let count = this.#counts.get(key);
    if (!count || count.ends <= now) {
      count = { current: 0, ends: now + windowMs };
      this.#counts.delete(key);
      this.#counts.set(key, count);
      if (this.#counts.size > MOST) this.#counts.delete(this.#counts.keys().next().value!);
    }
    count.current++;
    heard(null, { current: count.current, ttl: Math.ceil(count.ends - now) });
  }

  child(): Windows {
    return new Windows();
  }
}
