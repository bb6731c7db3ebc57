/** A seed for input `i` of a run, so that any one can be made again alone. */
export const seedOf = (seed: number, i: number): number =>
  (Math.imul(seed + 1, 0x9e3779b1) ^ Math.imul(i + 1, 0x85ebca6b)) >>> 0;
