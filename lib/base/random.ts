/**
 * Seeded random numbers. The generator is mulberry32 (Tommy Ettinger, public domain): 32 bits of
 * state, the same sequence for the same seed on every machine. Not for secrets.
 */
export type Random = () => number;

/** Even numbers in [0, 1). */
export function seeded(seed: number): Random {
  let state = seed >>> 0;
  return () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let t = state;
    t = Math.imul(t ^ (t >>> 15), t | 1);
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  };
}
