/**
 * A limit on the tasks that run at once in all child processes together: the oldest request is granted
 * first.
 */
export class Share {
  readonly #most: number;
  readonly #waiting: { readonly who: object; readonly grant: () => void }[] = [];
  readonly #held = new Map<object, number>();
  #busy = 0;

  constructor(most: number) {
    this.#most = most;
  }

  want(who: object, grant: () => void): void {
    this.#waiting.push({ who, grant });
    this.#serve();
  }

  giveBack(who: object): void {
    const held = this.#held.get(who) ?? 0;
    if (held === 0) return;
    this.#held.set(who, held - 1);
    this.#busy--;
    this.#serve();
  }

  /** Whoever ended holds nothing and wants nothing. */
  gone(who: object): void {
    for (let i = this.#waiting.length - 1; i >= 0; i--)
      if (this.#waiting[i]!.who === who) this.#waiting.splice(i, 1);
    this.#busy -= this.#held.get(who) ?? 0;
    this.#held.delete(who);
    this.#serve();
  }

  #serve(): void {
    while (this.#busy < this.#most && this.#waiting.length > 0) {
      const { who, grant } = this.#waiting.shift()!;
      this.#busy++;
      this.#held.set(who, (this.#held.get(who) ?? 0) + 1);
      grant();
    }
  }
}
