/**
 * Beads of other directions about a place, against every bead asked by itself. Beads are marked at most 4 mm
 * apart, for the cell of 4 mm in which a mark lies and those next to it (the project's own rule). So what is
 * sqrt(16 - 4) mm away is found for certain, and nothing that is 8 mm or more away along some axis.
 */
import { describe, expect, it } from 'vitest';
import { seeded } from '../../lib/base/random.js';
import { NearDirections, bitOf } from '../../lib/verify/near-directions.js';
import { type Trace, TraceKind } from '../../lib/verify/trace.js';

const CELL = 4;

/** Blocks of about 20 mm, one run for each direction in turn; every fourth lays nothing. */
function wandering(seed: number, blocks: number, directions: number) {
  const random = seeded(seed);
  const tip = new Float64Array(3 * blocks);
  const at = [0, 0, 0];
  const kind = new Uint8Array(blocks);
  const run = new Uint32Array(blocks);
  const length = new Float64Array(blocks);
  for (let b = 0; b < blocks; b++) {
    const by = at.map(() => 40 * (random() - 0.5));
    at.forEach((_, c) => (at[c]! += by[c]!));
    tip.set(at, 3 * b);
    length[b] = Math.hypot(...by);
    kind[b] = b === 0 || b % 4 === 0 ? TraceKind.link : TraceKind.deposit;
    run[b] = Math.floor((b * directions) / blocks);
  }
  return { kind, tip, run, length } as unknown as Trace;
}

describe.each([1, 2, 3])('a wandering tip, seed %d', (seed) => {
  const directions = 5;
  const trace = wandering(seed, 400, directions);
  const near = new NearDirections(
    trace,
    Uint16Array.from({ length: directions }, (_, i) => i),
  );

  /** For each direction whether some place of its beads lies as near as a measure says. */
  function those(p: readonly number[], within: (off: readonly number[]) => boolean): Set<number> {
    const found = new Set<number>();
    for (let b = 1; b < trace.kind.length; b++) {
      if (trace.kind[b] !== TraceKind.deposit) continue;
      for (let n = 0; n <= 60; n++) {
        const off = p.map((v, c) => {
          const [from, to] = [trace.tip[3 * b - 3 + c]!, trace.tip[3 * b + c]!];
          return Math.abs(from + (n / 60) * (to - from) - v);
        });
        if (within(off)) {
          found.add(trace.run[b]!);
          break;
        }
      }
    }
    return found;
  }

  it('has no neighbours of another direction but those that are near', () => {
    const random = seeded(seed + 9);
    let met = 0;
    for (let n = 0; n < 100; n++) {
      const b = 1 + Math.floor(399 * random());
      const k = random();
      const p = [0, 1, 2].map((c) => {
        const [from, to] = [trace.tip[3 * b - 3 + c]!, trace.tip[3 * b + c]!];
        return from + k * (to - from) + 8 * (random() - 0.5);
      });
      const own = n % directions;
      const bits = near.othersAt(p[0]!, p[1]!, p[2]!, own);
      expect(bits & bitOf(own)).toBe(0);
      const must = those(p, (off) => Math.hypot(...off) < Math.sqrt(12));
      const may = those(p, (off) => Math.max(...off) < 2 * CELL);
      for (let d = 0; d < directions; d++) {
        if (d === own) continue;
        const is = (bits & bitOf(d)) !== 0;
        if (must.has(d)) expect(is).toBe(true);
        if (!may.has(d)) expect(is).toBe(false);
        if (is) met++;
      }
    }
    expect(met).toBeGreaterThan(20);
  });
});

it('in a single direction there are no others', () => {
  const near = new NearDirections(wandering(1, 20, 1), Uint16Array.of(0));
  expect(near.othersAt(0, 0, 0, 0)).toBe(0);
  expect(near.othersAt(0, 0, 0, 1)).toBe(0);
});

it('directions beyond the thirtieth share a bit, so any of them may be another', () => {
  const count = 34;
  const trace = wandering(2, 200, count);
  const near = new NearDirections(
    trace,
    Uint16Array.from({ length: count }, (_, i) => i),
  );
  const last = 3 * 199;
  const [x, y, z] = [0, 1, 2].map((c) => trace.tip[last + c]!) as [number, number, number];
  expect(bitOf(33)).toBe(bitOf(30));
  expect(bitOf(29)).not.toBe(bitOf(30));
  expect(near.othersAt(x, y, z, 32) & bitOf(33)).not.toBe(0);
});
