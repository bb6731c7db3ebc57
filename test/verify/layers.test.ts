/**
 * Heights of beads from the levels of the tip: stacks whose heights are known because they are drawn so, and
 * the weighted quantile against its definition (each value repeated as often as it weighs).
 */
import { describe, expect, it } from 'vitest';
import { seeded } from '../../lib/base/random.js';
import type { Vec3 } from '../../lib/base/vector.js';
import { type Heights, heightsOf, median, quantile } from '../../lib/verify/layers.js';
import { type Block, traceOfBlocks, zigzag } from './traces.js';

const BORE = 0.4;

interface Level {
  readonly z: number;
  readonly section?: number;
  readonly size?: number;
  readonly run?: number;
}

const stacked = (levels: readonly Level[]): { blocks: Block[]; heights: Heights } => {
  const blocks = levels.flatMap(({ z, section = 0.08, size = 10, run = 0 }) =>
    zigzag(2, size, 0.4, z, section, run),
  );
  return { blocks, heights: heightsOf(traceOfBlocks([0, 0, 9], blocks), BORE) };
};
/** Height of the first bead of each level; a level has two links and two beads. */
const heightsIn = (levels: readonly Level[]): number[] => {
  const { heights } = stacked(levels);
  return levels.map((_, k) => heights.height[4 * k + 2]!);
};

const close = (got: readonly number[], want: readonly number[]): void => {
  expect(got).toHaveLength(want.length);
  want.forEach((v, i) => expect(got[i]).toBeCloseTo(v, 9));
};

describe('levels on the table', () => {
  it('are layers as high as the steps between them, the first as high as it stands', () => {
    const levels = [{ z: 0.25 }, { z: 0.45 }, { z: 0.65 }, { z: 0.87 }, { z: 1.07 }];
    close(heightsIn(levels), [0.25, 0.2, 0.2, 0.22, 0.2]);
    const { heights, blocks } = stacked(levels);
    expect(heights.usual).toBeCloseTo(0.2, 9);
    // 0.08 mm2 at 0.2 mm.
    expect(heights.width).toBeCloseTo(0.4, 9);
    expect(heights.layerStart).toEqual([2, 6, 10, 14, 18]);
    expect(heights.height[1]).toBe(0);
    expect(heights.height[3]).toBe(0);
    expect(heights.height[4]).toBeCloseTo(0.25, 9);
    expect(heights.height).toHaveLength(blocks.length + 1);
    const [first, second] = heights.layers;
    expect(first).toMatchObject({ first: 2, last: 4, onTable: true, run: 0, length: 20 });
    expect(first!.volume).toBeCloseTo(1.6, 9);
    expect(first!.step).toBeNaN();
    expect(second).toMatchObject({ first: 6, last: 8, onTable: false });
    expect(second!.step).toBeCloseTo(0.2, 9);
    expect(second!.level).toBeCloseTo(0.45, 9);
  });

  it('that differ by less than 0.02 mm are one', () => {
    expect(stacked([{ z: 0.2 }, { z: 0.219 }]).heights.layers).toHaveLength(1);
    expect(stacked([{ z: 0.2 }, { z: 0.221 }]).heights.layers).toHaveLength(2);
  });

  it('that sink or rise by more than one and a half bores are no layers of such a height', () => {
    const usual = [{ z: 0.2 }, { z: 0.4 }, { z: 0.6 }];
    close(heightsIn([...usual, { z: 0.4 }]), [0.2, 0.2, 0.2, 0.2]);
    // 1 mm2 fills 0.6 mm; 0.6 is the limit of what is a layer at all.
    close(heightsIn([...usual, { z: 1.19, section: 1 }]), [0.2, 0.2, 0.2, 0.59]);
    close(heightsIn([...usual, { z: 1.21, section: 1 }]), [0.2, 0.2, 0.2, 0.2]);
  });

  it('that rise by more than 1.4 times the usual need material as wide as high', () => {
    const usual = [{ z: 0.2 }, { z: 0.4 }, { z: 0.6 }];
    close(heightsIn([...usual, { z: 0.87 }]), [0.2, 0.2, 0.2, 0.27]);
    close(heightsIn([...usual, { z: 0.89, section: 0.08 }]), [0.2, 0.2, 0.2, 0.2]);
    close(heightsIn([...usual, { z: 0.89, section: 0.0842 }]), [0.2, 0.2, 0.2, 0.29]);
  });
});

describe('runs', () => {
  it('have their own usual height, by length', () => {
    const levels = [
      { z: 0.2 },
      { z: 0.4 },
      { z: 0.6 },
      { z: 5, run: 1 },
      { z: 5.3, run: 1 },
      { z: 5.6, run: 1, size: 30 },
      { z: 6.05, run: 1, section: 0.1 },
    ];
    // 0.45 mm is more than 1.4 times 0.3 mm, and 0.1 mm2 does not fill it.
    close(heightsIn(levels), [0.2, 0.2, 0.2, 0.3, 0.3, 0.3, 0.3]);
    expect(stacked(levels).heights.usual).toBeCloseTo(0.3, 9);
  });

  it('of one level take the usual height of the program', () => {
    const levels = [{ z: 0.2 }, { z: 0.4 }, { z: 5, run: 1 }];
    close(heightsIn(levels), [0.2, 0.2, 0.2]);
  });
});

describe('without any step', () => {
  it('the first level on the table counts', () => {
    close(heightsIn([{ z: 0.25 }]), [0.25]);
    close(heightsIn([{ z: 5 }, { z: 0.25, run: 1 }]), [0.25, 0.25]);
  });
  it('or half a bore, above the table and under it', () => {
    close(heightsIn([{ z: 7 }]), [0.2]);
    close(heightsIn([{ z: -1 }]), [0.2]);
    close(heightsIn([{ z: 0.01 }]), [0.2]);
  });
  it('or nothing where nothing is laid', () => {
    const { usual, width, layers } = heightsOf(traceOfBlocks([0, 0, 1], [{ to: [1, 0, 1] }]), BORE);
    expect([usual, width]).toEqual([NaN, NaN]);
    expect(layers).toEqual([]);
  });
});

it('levels count along the head, and a tilted one is not on the table', () => {
  const d: Vec3 = [0.6, 0, 0.8];
  const across: Vec3 = [0, 1, 0];
  const blocks = [0, 1, 2].flatMap((k): Block[] => {
    const at = (s: number): Vec3 => [
      d[0] * (0.3 + 0.25 * k),
      s * across[1],
      d[2] * (0.3 + 0.25 * k),
    ];
    return [
      { to: at(0), direction: d },
      { to: at(10), direction: d, volume: 1 },
    ];
  });
  const { layers, height } = heightsOf(traceOfBlocks([0, 0, 5], blocks), BORE);
  expect(layers.map((l) => l.onTable)).toEqual([false, false, false]);
  close([height[2]!, height[4]!, height[6]!], [0.25, 0.25, 0.25]);
});

it.each([1, 2])(
  'a quantile is the value there in a list of each value by its weight, seed %d',
  (seed) => {
    const random = seeded(seed);
    for (let n = 0; n < 200; n++) {
      const weighted = Array.from(
        { length: 1 + Math.floor(7 * random()) },
        (): [number, number] => [Math.floor(10 * random()), 1 + Math.floor(5 * random())],
      );
      const list = weighted.flatMap(([v, w]) => new Array<number>(w).fill(v)).sort((a, b) => a - b);
      for (const share of [0.1, 0.5, 0.9, 1]) {
        const want = list[Math.max(0, Math.ceil(share * list.length - 1e-9) - 1)];
        expect(quantile(weighted, share)).toBe(want);
      }
      expect(median([...weighted, [NaN, 50], [Infinity, 50]])).toBe(quantile(weighted, 0.5));
    }
    expect(median([])).toBeNaN();
  },
);
