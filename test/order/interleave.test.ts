/**
 * Regions in turns, with a head that is known: it may print a layer while its neighbour stands no more than a
 * number of layers higher. How far each turn goes then follows by counting.
 */
import { describe, expect, it } from 'vitest';
import type { HindranceSearch, Stage } from '../../lib/order/head-in-the-way.js';
import { inTurns } from '../../lib/order/interleave.js';

/**
 * @param room layers by which a neighbour may stand higher than the layer that is being printed
 * @param counts layers of each region; there is nothing to print over the last one
 */
const headWith = (room: number, counts: ReadonlyMap<number, number>): HindranceSearch =>
  ({
    hindrance(i: number, _j: number, { layers, until }: Stage) {
      const [from, to] = layers!;
      const lowest = from < Math.min(to, counts.get(i)!) ? from : Infinity;
      return until! - lowest > room ? {} : undefined;
    },
  }) as unknown as HindranceSearch;

const turns = (room: number, a: number, b: number) => {
  const counts = new Map([
    [4, a],
    [7, b],
  ]);
  return inTurns(headWith(room, counts), { region: 4, layers: a }, { region: 7, layers: b });
};

describe.each([
  [3, 20, 20],
  [1, 9, 9],
  [7, 40, 33],
  [5, 12, 60],
])('a head with room for %d layers, regions of %d and %d', (room, a, b) => {
  const runs = turns(room, a, b)!;

  it('prints each layer once, upwards, one region after the other', () => {
    for (const [region, layers] of [
      [4, a],
      [7, b],
    ] as const) {
      let next = 0;
      for (const run of runs.filter((r) => r.region === region)) {
        expect(run.firstLayer).toBe(next);
        expect(run.lastLayer).toBeGreaterThanOrEqual(run.firstLayer);
        next = run.lastLayer + 1;
      }
      expect(next).toBe(layers);
    }
    runs.slice(1).forEach((run, i) => expect(run.region).not.toBe(runs[i]!.region));
  });

  it('goes as far in each turn as the head has room for, so it changes as rarely as can be', () => {
    // The first goes up to the room, each later turn to the room over where the other stands, unless that
    // one is done.
    const want = [];
    const top = [0, 0];
    const all = [a, b];
    for (let turn = 0; top[0]! < a || top[1]! < b; turn = 1 - turn) {
      const [from, other] = [top[turn]!, top[1 - turn]!];
      const far = other === all[1 - turn] ? all[turn]! : Math.min(all[turn]!, other + room);
      if (far > from) {
        want.push({ region: turn ? 7 : 4, firstLayer: from, lastLayer: far - 1 });
      }
      top[turn] = far;
    }
    expect(runs).toEqual(want);
  });
});

it('regions that are no taller than the room come whole', () => {
  expect(turns(10, 10, 8)).toEqual([
    { region: 4, firstLayer: 0, lastLayer: 9 },
    { region: 7, firstLayer: 0, lastLayer: 7 },
  ]);
});

it('where the head has no room at all both are stuck', () => {
  expect(turns(0, 5, 5)).toBeUndefined();
});
