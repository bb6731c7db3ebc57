/**
 * The order with the least turning and travel, against all orders and all ways to reach each direction. On a table
 * that tilts about X and turns about Z a direction at an angle t from Z and azimuth f is upright with A = t and C
 * = 90 - f degrees, or with A = -t and C = -90 - f; C goes the shorter way round.
 */
import { describe, expect, it } from 'vitest';
import { applyPoint } from '../../lib/base/frame.js';
import { seeded } from '../../lib/base/random.js';
import { DEG, type Vec3 } from '../../lib/base/vector.js';
import { flatMap } from '../../lib/layers/layer-map.js';
import { orderRuns } from '../../lib/order/order.js';
import { acJson, machineOf, rotary } from '../machine/machines.js';
import { type BoxJob, boxJob } from '../motion/jobs.js';

const machine = machineOf(acJson());
/** The same with a table that tilts to one side only, so that there is one way to each direction. */
const oneSided = machineOf({
  ...acJson(),
  table: {
    ...acJson().table,
    joints: [rotary('A', [1, 0, 0], [-1, 120]), rotary('C', [0, 0, 1], 'endless')],
  },
});
/** Of the file: degrees or mm a second. */
const [TURN, RUN] = [90, 200];

interface Arm {
  readonly tilt: number;
  readonly azimuth: number;
  readonly at: Vec3;
  readonly job: BoxJob;
}

function armAt(tilt: number, azimuth: number, at: Vec3, on: readonly number[]): Arm {
  const [t, f] = [tilt * DEG, azimuth * DEG];
  const direction: Vec3 = [Math.sin(t) * Math.cos(f), Math.sin(t) * Math.sin(f), Math.cos(t)];
  const low = applyPoint(flatMap(direction).layerFromPart, at);
  const high: Vec3 = [low[0] + 6, low[1] + 6, low[2] + 0.4];
  const job = boxJob([low[0] - 6, low[1] - 6, low[2]], high, direction, on);
  return { tilt, azimuth, at, job };
}

/** Least time of an order: over both ways to each direction, from A = C = 0 over the origin. */
function leastTime(arms: readonly Arm[], order: readonly number[], leastTilt: number): number {
  let ways = [{ a: 0, c: 0, cost: 0 }];
  let from: Vec3 = [0, 0, 0];
  for (const r of order) {
    const { tilt, azimuth, at } = arms[r]!;
    const away = Math.hypot(at[0] - from[0], at[1] - from[1], at[2] - from[2]) / RUN;
    const next = [
      { a: tilt, c: 90 - azimuth },
      { a: -tilt, c: -90 - azimuth },
    ].filter((way) => way.a >= leastTilt);
    ways = next.map(({ a, c }) => {
      const costs = ways.map((w) => {
        const round = Math.abs(((((c - w.c) % 360) + 540) % 360) - 180);
        return w.cost + away + Math.max(Math.abs(a - w.a), round) / TURN;
      });
      return { a, c, cost: Math.min(...costs) };
    });
    from = at;
  }
  return Math.min(...ways.map((w) => w.cost));
}

function* orders(left: readonly number[]): Generator<number[]> {
  if (left.length === 0) yield [];
  for (const r of left) {
    for (const rest of orders(left.filter((x) => x !== r))) yield [r, ...rest];
  }
}

describe.each([
  ['a table that tilts to both sides', machine, -120],
  ['a table that tilts to one side', oneSided, -1],
] as const)('five arms far apart on %s', (_, machine, leastTilt) => {
  it.each([1, 2, 3, 4, 5, 6])('take the least time of all 120 orders (seed %i)', (seed) => {
    const random = seeded(seed);
    const on: number[][] = [];
    const arms = Array.from({ length: 5 }, (_, i) => {
      // Of every other set some stand on others, with later numbers too.
      on[i] = seed % 2 && i > 2 ? [Math.floor(3 * random())] : [];
      const at: Vec3 = [150 * i - 300, 600 * random() - 300, 20 * random()];
      return armAt(20 + 60 * random(), 360 * random(), at, on[i]!);
    });
    const { runs, stuck } = orderRuns(machine, arms.map((a) => a.job.region), arms.map((a) => a.job.paths)); // prettier-ignore
    const order = runs.map((run) => run.region);
    expect(stuck).toEqual([]);
    expect(runs.every((run) => run.firstLayer === 0 && run.lastLayer === 1)).toBe(true);
    const allowed = [...orders([0, 1, 2, 3, 4])].filter((o) =>
      o.every((r, k) => on[r]!.every((b) => o.slice(0, k).includes(b))),
    );
    const least = Math.min(...allowed.map((o) => leastTime(arms, o, leastTilt)));
    expect(allowed).toContainEqual(order);
    expect(leastTime(arms, order, leastTilt)).toBeCloseTo(least, 6);
  });
});

describe('without paths', () => {
  it('of equal times the order as given wins', () => {
    const at: Vec3 = [0, 0, 0];
    for (const turned of [0, 1, 2]) {
      const upright = [0, 1, 2].map((i) => armAt(0, 0, at, i === turned ? [(i + 1) % 3] : []));
      const apart = upright.map(({ job }) => ({ ...job, paths: { ...job.paths, layer: new Uint32Array(0), start: new Uint32Array(1) } })); // prettier-ignore
      const { runs, findings } = orderRuns(machine, apart.map((j) => j.region), apart.map((j) => j.paths)); // prettier-ignore
      expect(runs).toEqual([]);
      // None has paths; they are named in their order, the one that stands on another after it.
      const want = [[1, 0, 2], [0, 2, 1], [0, 1, 2]][turned]!; // prettier-ignore
      expect(findings.map((f) => f.at)).toEqual(want.map((region) => ({ region })));
      findings.forEach((f, k) =>
        expect(f).toMatchObject({
          code: 'order/nothing-to-lay',
          severity: 'warning',
          // 12 x 12 x 0.4 mm.
          message: `region ${want[k]! + 1} of 57.60 mm3 has no paths`,
        }),
      );
    }
  });
});
