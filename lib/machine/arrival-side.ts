/** From which side a joint has come to its value: from below until it reverses. */
export class ArrivalSide {
  #isFromBelow = true;
  /** Farthest value since the joint last reversed, mm or rad; NaN before the first one that is known. */
  #farthest: number;

  constructor(from: number) {
    this.#farthest = from;
  }

  get isFromBelow(): boolean {
    return this.#isFromBelow;
  }

  /** Goes on to a value. @param slack a way back that is no longer is none, mm or rad */
  go(value: number, slack: number): void {
    const back = this.#isFromBelow ? this.#farthest - value : value - this.#farthest;
    if (back > 0 && back <= slack) return;
    this.#farthest = value;
    if (back > 0) this.#isFromBelow = !this.#isFromBelow;
  }

  /** A load has chosen the side at a value. */
  choose(isFromBelow: boolean, value: number): void {
    this.#isFromBelow = isFromBelow;
    this.#farthest = value;
  }
}
