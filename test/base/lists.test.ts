import { describe, expect, test } from 'vitest';
import { noPolygons, area, loopArea } from '../../lib/polygon/polygons.js';
import { polygonsFrom } from '../support/polygons.js';
import { float64List, uint32List, uint8List } from '../../lib/base/ragged.js';
import { seeded } from '../../lib/base/random.js';
import { step } from '../../lib/base/watch.js';

describe('growing lists', () => {
  test('keep what an array keeps, whatever the order of calls, seed 5', () => {
    const random = seeded(5);
    const list = float64List(1);
    const plain: number[] = [];
    for (let i = 0; i < 2000; i++) {
      const [a, b, c] = [random(), random(), random()];
      const kind = Math.floor(4 * random());
      if (kind === 0) list.push(a);
      else if (kind === 1) list.push2(a, b);
      else if (kind === 2) list.push3(a, b, c);
      else list.append(Float64Array.from({ length: Math.floor(40 * c) }, (_, k) => a + k));
      if (kind < 3) plain.push(...[a, b, c].slice(0, kind + 1));
      else plain.push(...Array.from({ length: Math.floor(40 * c) }, (_, k) => a + k));
    }
    expect(list.length).toBe(plain.length);
    expect([...list.take()]).toEqual(plain);
    expect(list.at(1234)).toBe(plain[1234]);
  });

  test('hand out a copy of exact length that later pushes leave alone', () => {
    const list = uint32List(0);
    list.push3(1, 2, 3);
    const taken = list.take();
    list.push(4);
    list.append([5]);
    expect([...taken]).toEqual([1, 2, 3]);
    expect([...list.take()]).toEqual([1, 2, 3, 4, 5]);
    expect(taken.buffer.byteLength).toBe(12);
  });

  test('an append larger than twice the room fits', () => {
    const list = uint32List(2);
    list.push(7);
    list.append(new Uint32Array(1000).fill(3));
    expect(list.length).toBe(1001);
    expect(list.at(0)).toBe(7);
    expect(list.at(1000)).toBe(3);
  });

  test('each holds numbers of its own type', () => {
    const bytes = uint8List();
    bytes.push(200);
    expect(bytes.take()).toBeInstanceOf(Uint8Array);
    expect(float64List().take()).toBeInstanceOf(Float64Array);
    expect(uint32List().take()).toEqual(new Uint32Array(0));
  });
});

describe('polygons', () => {
  test('area of a square with a hole, and of each loop with its sign', () => {
    const p = polygonsFrom([
      [
        [0, 0],
        [10, 0],
        [10, 10],
        [0, 10],
      ],
      [
        [2, 2],
        [2, 8],
        [8, 8],
        [8, 2],
      ],
    ]);
    expect(loopArea(p, 0)).toBe(100);
    expect(loopArea(p, 1)).toBe(-36);
    expect(area(p)).toBe(64);
  });

  // Closed forms: winding number times area, summed over the plane (shoelace).
  test('bow tie 0, square walked twice 200, regular hexagon of side 10: 150 sqrt 3', () => {
    expect(area(polygonsFrom([[[0, 0], [4, 4], [4, 0], [0, 4]]]))).toBe(0); // prettier-ignore
    const square = [[0, 0], [10, 0], [10, 10], [0, 10]] as const; // prettier-ignore
    expect(area(polygonsFrom([[...square, ...square]]))).toBe(200);
    const hexagon = Array.from({ length: 6 }, (_, k): [number, number] => [
      10 * Math.cos((k * Math.PI) / 3),
      10 * Math.sin((k * Math.PI) / 3),
    ]);
    expect(area(polygonsFrom([hexagon]))).toBeCloseTo(150 * Math.sqrt(3), 11);
  });

  test('a small loop far from the origin keeps its digits', () => {
    const far = 1e8;
    const p = polygonsFrom([[[far, far], [far + 0.5, far], [far + 0.5, far + 0.25], [far, far + 0.25]]]); // prettier-ignore
    expect(area(p)).toBe(0.125);
  });

  test('nothing, a point and a line have no area', () => {
    expect(area(noPolygons)).toBe(0);
    expect(area(polygonsFrom([[[1, 1]], [[0, 0], [5, 5]], []]))).toBe(0); // prettier-ignore
    expect([...polygonsFrom([[[1, 1]], []]).start]).toEqual([0, 1, 1]);
  });
});

describe('seeded random numbers', () => {
  // Published values of mulberry32, the same in many public test suites.
  test('seed 12345 gives the published sequence', () => {
    const random = seeded(12345);
    expect([random(), random(), random(), random(), random()]).toEqual([
      0.9797282677609473, 0.3067522644996643, 0.484205421525985, 0.817934412509203,
      0.5094283693470061,
    ]);
    // 1144304738 and 1416247 of 2^32.
    const zero = seeded(0);
    expect([zero(), zero()]).toEqual([1144304738 / 2 ** 32, 1416247 / 2 ** 32]);
  });

  test('are even: chi-square of 100 bins below its 0.1% point for 99 degrees of freedom, 148.2', () => {
    const random = seeded(2024);
    const bins = new Float64Array(100);
    for (let i = 0; i < 100_000; i++) bins[Math.floor(100 * random())]!++;
    const chi = bins.reduce((sum, n) => sum + (n - 1000) ** 2 / 1000, 0);
    expect(chi).toBeLessThan(148.2);
    expect(chi).toBeGreaterThan(60);
  });
});

describe('watched work', () => {
  test('tells its progress and stops with the reason of the signal', () => {
    const told: string[] = [];
    const stop = new AbortController();
    const watch = {
      signal: stop.signal,
      progress: (p: { stage: string; done: number; total: number }) =>
        told.push(`${p.stage} ${p.done}/${p.total}`),
    };
    step(watch, 'cut', 1, 3);
    stop.abort(new Error('no longer wanted'));
    expect(() => step(watch, 'cut', 2, 3)).toThrow('no longer wanted');
    expect(told).toEqual(['cut 1/3']);
    expect(() => step(undefined, 'cut', 1, 1)).not.toThrow();
  });
});
