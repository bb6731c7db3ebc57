/**
 * Corners under a limit of jerk: what each joint bears in a blend of triangular curvature, on the straight and along
 * the chords of a curve, joint by joint (derived). Which blocks are chords, and which share of a limit they may use,
 * are the project's own rules.
 */
import { describe, expect, it } from 'vitest';
import { DEG } from '../../../lib/base/vector.js';
import { type Bends, bendsOf } from '../../../lib/motion/timing/curvature-blends.js';
import { NO_JOINT, type Route, routeOf } from '../../../lib/motion/timing/path-limits.js';
import { circle, machine, wandering } from '../routes.js';

const DEVIATION = 0.05;
const JERK = 20000;

interface Bent {
  readonly route: Route;
  readonly bends: Bends;
}

function bent(places: readonly (readonly number[])[], m = machine({ jerk: JERK })): Bent {
  const polyline = {
    jointCount: 5,
    from: new Float64Array(5),
    joints: Float64Array.from(places.flat()),
  };
  const route = routeOf(m, polyline, DEVIATION);
  return { route, bends: bendsOf(route) };
}

/** dq/ds of every joint in block b. */
function ratesOf({ polyline, length }: Route, b: number): number[] {
  const at = (i: number, j: number): number =>
    i < 0 ? polyline.from[j]! : polyline.joints[5 * i + j]!;
  return [0, 1, 2, 3, 4].map((j) => (at(b, j) - at(b - 1, j)) / length[b]!);
}

/** By the rule: its corners would stray too little to keep their blends apart, and it is no longer than its likes. */
function isChord({ length, stray }: Route, b: number): boolean {
  if (b < 1 || b + 1 >= length.length) return false;
  const corners = [b, b + 1].every(
    (at) => stray[at]! > 0 && stray[at]! * length[b]! <= 6 * DEVIATION,
  );
  return corners && length[b]! <= 4 * Math.min(length[b - 1]!, length[b + 1]!);
}

const inside = ({ segment }: Route, b: number): boolean => !segment.includes(b);

/** Greatest of some values and where it is. */
function greatest(values: readonly number[]): [number, number] {
  const most = Math.max(...values);
  return [most, values.indexOf(most)];
}

// Finer and finer chords after a wandering stretch, so that both kinds of corner occur, with each other's neighbours.
const mixed = (seed: number): number[][] => {
  const start = wandering(seed, 150).map((s) => [...s.to]);
  const end = start.at(-1)!;
  const arcs = [40, 90, 200].flatMap((chords) => circle(4, chords, 1, 1).map((s) => s.to));
  const turned = arcs.map((q, i) =>
    end.map((x, j) => x + q[j]! + (j === 4 ? 0.001 * i + 1e-5 * i * i : 0)),
  );
  const far = turned.at(-1)!;
  const apart = wandering(seed + 10, 150).map((s) => s.to.map((x, j) => x + far[j]!));
  return [...start, ...turned, ...apart];
};

describe.each([1, 2, 3])('any route, seed %d', (seed) => {
  const one = () => {
    const { route, bends } = bent(mixed(seed));
    const { machine: m, length, stray } = route;
    return { route, bends, m, length, stray };
  };

  it('a blend is as long as half a block and the deviation allow: jump h / 6', () => {
    const { route, bends, length, stray } = one();
    let [by, half, none] = [0, 0, 0];
    length.forEach((far, b) => {
      const chords = isChord(route, b) && isChord(route, b - 1);
      const h = bends.blend[b]!;
      if (b === 0 || !inside(route, b) || !(stray[b]! > 0) || chords) {
        none++;
        expect([h, bends.blendSpeed[b], bends.blendJoint[b]]).toEqual([0, Infinity, NO_JOINT]);
        return;
      }
      const most = Math.min(length[b - 1]!, far) / 2;
      expect(h).toBeCloseTo(Math.min(most, (6 * DEVIATION) / stray[b]!), 9);
      if (h < most) by++;
      else half++;
    });
    expect(Math.min(by, half, none)).toBeGreaterThan(3);
  });

  it('is passed at the speed at which one joint is at its acceleration or its jerk', () => {
    const { route, bends, m, length } = one();
    const bears = { acceleration: 0, jerk: 0 };
    length.forEach((_, b) => {
      const h = bends.blend[b]!;
      if (!(h > 0)) return;
      const v = bends.blendSpeed[b]!;
      const [u, w] = [ratesOf(route, b - 1), ratesOf(route, b)];
      // The curvature rises to k = jump / h over h: k v^2 at the corner, k v^3 / h before and behind it.
      const each = u.map((x, j) => Math.abs(w[j]! - x) / h);
      const accelerations = each.map((k, j) => (k * v * v) / m.joints[j]!.acceleration);
      const jerks = each.map((k, j) => (k * v ** 3) / h / m.joints[j]!.jerk);
      const [most, joint] = greatest(each.map((_x, j) => Math.max(accelerations[j]!, jerks[j]!)));
      expect(most).toBeCloseTo(1, 9);
      expect(bends.blendJoint[b]).toBe(joint);
      bears[Math.max(...jerks) > 1 - 1e-9 ? 'jerk' : 'acceleration']++;
    });
    expect(Math.min(bears.acceleration, bears.jerk)).toBeGreaterThan(0);
  });

  it('along a block one joint is at its jerk', () => {
    const { route, bends, m, length } = one();
    length.forEach((far, b) => {
      if (!(far > 0)) return;
      const used = ratesOf(route, b).map(
        (p, j) => (Math.abs(p) * bends.jerk[b]!) / m.joints[j]!.jerk,
      );
      const [most, joint] = greatest(used);
      expect(most).toBeCloseTo(1, 9);
      expect(used[bends.jerkJoint[b]!]).toBeCloseTo(used[joint]!, 9);
    });
  });

  it('along chords the turning has .7 of an acceleration and .5 of a jerk of one joint', () => {
    const { route, bends, m, length } = one();
    let chords = 0;
    length.forEach((l, b) => {
      if (!isChord(route, b)) {
        expect([bends.turn[b], bends.twist[b], bends.jerkRatio[b], bends.turnJoint[b]]).toEqual([
          Infinity,
          Infinity,
          Infinity,
          NO_JOINT,
        ]);
        return;
      }
      const [before, here, after] = [-1, 0, 1].map((k) => ratesOf(route, b + k)) as [
        number[],
        number[],
        number[],
      ];
      // At each end the jump over the mean length of both blocks; none towards what is no chord, half a block away.
      const [open, close] = [isChord(route, b - 1), isChord(route, b + 1)];
      const k0 = here.map((p, j) => (open ? (p - before[j]!) / ((length[b - 1]! + l) / 2) : 0));
      const k1 = here.map((p, j) => (close ? (after[j]! - p) / ((length[b + 1]! + l) / 2) : 0));
      const over = open && close ? l : l / 2;
      const curvature = k0.map((k, j) => Math.max(Math.abs(k), Math.abs(k1[j]!)));
      if (Math.max(...curvature) === 0) {
        expect(bends.turn[b]).toBe(Infinity);
        return;
      }
      chords++;
      const turns = curvature.map((k, j) => (k * bends.turn[b]!) / m.joints[j]!.acceleration);
      const [most, joint] = greatest(turns);
      expect(most).toBeCloseTo(0.7, 9);
      expect(turns[bends.turnJoint[b]!]).toBeCloseTo(turns[joint]!, 9);
      const twists = k0.map(
        (k, j) => ((Math.abs(k1[j]! - k) / over) * bends.twist[b]!) / m.joints[j]!.jerk,
      );
      expect(Math.max(...twists)).toBeCloseTo(0.5, 9);
      const ratios = m.joints.map((j, i) =>
        curvature[i]! > 0 ? j.jerk / j.acceleration : Infinity,
      );
      expect(bends.jerkRatio[b]).toBeCloseTo(Math.min(...ratios), 9);
    });
    expect(chords).toBeGreaterThan(250);
  });
});

describe('a circle of 10 mm in 360 chords', () => {
  const round = (): Bent => bent(circle(10, 360, 2, 60).map((s) => s.to));
  it('turns by 1 / r wherever it is: v2 = .7 a r where it runs along a joint', () => {
    const { bends } = round();
    // The curvature of a circle; of X where the circle runs along Y and the other way round.
    const where = Array.from({ length: 700 }, (_, i) => i + 10);
    const least = Math.min(...where.map((b) => bends.turn[b]!));
    expect(least / (0.7 * 1000 * 10)).toBeCloseTo(1, 3);
    // At 45 deg both joints bear the root of a half of it.
    const diagonal = bends.turn[45]!;
    expect(diagonal / (0.7 * 1000 * 10 * Math.SQRT2)).toBeCloseTo(1, 1);
    // d3q/ds3 of a circle is 1 / r^2.
    const twist = Math.min(...where.map((b) => bends.twist[b]!));
    expect(twist / (0.5 * JERK * 100)).toBeCloseTo(1, 3);
  });
  it('has blends at its two ends and nowhere else', () => {
    const { bends, route } = round();
    // The first and the last chord have no chord before or after them.
    const blends = [...bends.blend.keys()].filter((b) => bends.blend[b]! > 0);
    expect(blends).toEqual([1, 719]);
    expect([...route.segment]).toEqual([0, 720]);
  });
});

describe('chords', () => {
  /** Blocks of the given lengths, each turned by so many degrees against the one before. */
  const polyline = (lengths: readonly number[], degrees: number): Bent => {
    let [x, y, heading] = [0, 0, 0];
    return bent(
      lengths.map((far) => {
        x += far * Math.cos(heading);
        y += far * Math.sin(heading);
        heading += degrees * DEG;
        return [x, y, 0, 0, 0];
      }),
    );
  };
  const chordsOf = ({ bends }: Bent): number[] =>
    [...bends.turn.keys()].filter((b) => bends.turn[b]! < Infinity);

  it('are at most four times as long as the ones beside them', () => {
    expect(chordsOf(polyline([0.5, 0.5, 0.5, 1.9, 0.5, 0.5, 0.5], 2))).toEqual([1, 2, 3, 4, 5]);
    // The middle one is none, and without it the two beside it have each a chord on one side only.
    expect(chordsOf(polyline([0.5, 0.5, 0.5, 2.1, 0.5, 0.5, 0.5], 2))).toEqual([1, 2, 4, 5]);
    expect(chordsOf(polyline([0.5, 0.5, 0.5, 2.1, 0.6, 0.6, 0.6], 2))).toEqual([1, 2, 4, 5]);
  });

  it('are so short that blends at both ends would meet: jump l / 6 is the deviation', () => {
    // Jump 2 sin(a/2): at 6 deg and .05 mm blends of 2.8665 mm.
    const most = (6 * DEVIATION) / (2 * Math.sin(3 * DEG));
    expect(chordsOf(polyline(Array<number>(6).fill(most * 1.001), 6))).toEqual([]);
    expect(chordsOf(polyline(Array<number>(6).fill(most * 0.999), 6))).toEqual([1, 2, 3, 4]);
  });
});

it('joints without a limit of jerk limit none', () => {
  const m = machine({ jerk: JERK });
  // X alone has one.
  const joints = m.joints.map((j, i) => (i === 0 ? j : { ...j, jerk: Infinity }));
  const { bends } = bent(
    [
      [0, 30, 0, 0, 0],
      [0, 30, 30, 0, 0],
      [40, 60, 30, 0, 0],
    ],
    { ...m, joints },
  );
  expect([...bends.jerk]).toEqual([Infinity, Infinity, expect.closeTo(JERK / 0.8, 6)]);
  expect([...bends.jerkJoint]).toEqual([NO_JOINT, NO_JOINT, 0]);
  // From Y to Z by acceleration alone: k v^2 with k = 1 / h.
  const h = (6 * DEVIATION) / Math.SQRT2;
  expect(bends.blendSpeed[1]).toBeCloseTo(Math.sqrt(1000 * h), 6);
});
