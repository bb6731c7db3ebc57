/** Work that is done a few pieces at once, in turns: nobody waits behind all that one other has sent. */
export class Turns {
  /** What waits, by who brought it; whose turn is next stands first. */
  readonly #waiting = new Map<string, (() => Promise<void>)[]>();
  readonly #atOnce: number;
  #busy = 0;

  constructor(atOnce: number) {
    this.#atOnce = atOnce;
  }

  /** Pieces of one that wait for their turn. */
  waiting(who: string): number {
    return this.#waiting.get(who)?.length ?? 0;
  }

  get allWaiting(): number {
    return [...this.#waiting.values()].reduce((sum, queue) => sum + queue.length, 0);
  }

  run<T>(who: string, work: () => Promise<T>): Promise<T> {
    return new Promise((resolve, reject) => {
      const queue = this.#waiting.get(who) ?? [];
      queue.push(() => work().then(resolve, reject));
      this.#waiting.set(who, queue);
      void this.#work();
    });
  }

  async #work(): Promise<void> {
    if (this.#busy >= this.#atOnce) return;
    this.#busy++;
    for (;;) {
      const next = this.#waiting.entries().next();
      if (next.done) break;
      const [who, queue] = next.value;
      const piece = queue.shift()!;
      this.#waiting.delete(who);
      if (queue.length > 0) this.#waiting.set(who, queue);
      await piece();
    }
    this.#busy--;
  }
}
