/** Places against carried strips, by the distance of each place from each strip, one by one. */
import { expect, it } from 'vitest';
import { seeded } from '../../lib/base/random.js';
import { CarriedStrips } from '../../lib/verify/carried-strips.js';

/** Rounding that may lie between beads side by side, mm; the project's own rule. */
const SLIT = 0.01;

type Strip = readonly [number, number, number, number, number];

/** Distance of a place from a segment, by the angles at its ends (plane geometry). */
function far([a0, b0, a1, b1]: Strip, a: number, b: number): number {
  const [from, to] = [Math.hypot(a - a0, b - b0), Math.hypot(a - a1, b - b1)];
  const base = Math.hypot(a1 - a0, b1 - b0);
  if (base === 0 || from ** 2 >= to ** 2 + base ** 2) return to;
  if (to ** 2 >= from ** 2 + base ** 2) return from;
  return Math.abs((a1 - a0) * (b - b0) - (b1 - b0) * (a - a0)) / base;
}

it.each([1, 2, 3])(
  'a place lies against a strip if one is near, added before or later, seed %d',
  (seed) => {
    const random = seeded(seed);
    const strips: Strip[] = [];
    const carried = new CarriedStrips();
    let held = 0;
    for (let round = 0; round < 5; round++) {
      for (let n = 0; n < 6; n++) {
        const [a, b] = [30 * (random() - 0.5), 30 * (random() - 0.5)];
        const by = n === 0 ? [0, 0] : [8 * (random() - 0.5), 8 * (random() - 0.5)];
        const strip: Strip = [a, b, a + by[0]!, b + by[1]!, 0.1 + 0.5 * random()];
        strips.push(strip);
        carried.add(...strip);
      }
      for (let n = 0; n < 600; n++) {
        // Half of them close to the edge of a strip: beside it, or beyond an end.
        let [a, b] = [34 * (random() - 0.5), 34 * (random() - 0.5)];
        if (n % 2) {
          const [a0, b0, a1, b1, half] = strips[n % strips.length]!;
          const [k, turn] = [random(), 2 * Math.PI * random()];
          const out = half + SLIT + 0.04 * (random() - 0.5);
          [a, b] = [
            a0 + k * (a1 - a0) + out * Math.cos(turn),
            b0 + k * (b1 - b0) + out * Math.sin(turn),
          ];
        }
        const room = Math.min(...strips.map((s) => far(s, a, b) - s[4]));
        if (Math.abs(room - SLIT) < 1e-9) continue;
        expect(carried.holds(a, b)).toBe(room < SLIT);
        if (room < SLIT) held++;
      }
    }
    expect(held).toBeGreaterThan(300);
  },
);
