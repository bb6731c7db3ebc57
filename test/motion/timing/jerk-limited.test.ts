/** The pace with limited jerk against closed forms (derived unless a source is named) and differences. */
import { describe, expect, it } from 'vitest';
import { seeded } from '../../../lib/base/random.js';
import { cruiseOf } from '../../../lib/motion/timing/wanted-times.js';
import {
  gain,
  peakOf,
  rampLength,
  rampRuns,
  rampSeconds,
} from '../../../lib/motion/timing/double-s.js';
import { lengthAfter, speedAfter } from '../../../lib/motion/timing/jerk-segment.js';
import { JerkLimited } from '../../../lib/motion/timing/jerk-limited.js';
import { type Limits, circle, line, machine, wandering } from '../routes.js';
import { type Step, trace } from '../trace.js';

/** The same route with and without its jerk limits. */
function both(steps: readonly Step[], change: Limits) {
  const plain = trace(machine({ ...change, jerk: undefined }), steps);
  const { route, wanted } = trace(machine(change), steps);
  const smooth = new JerkLimited(route, wanted);
  smooth.run(0, route.segment.length - 1);
  return { plain, route, wanted, smooth, total: smooth.real.reduce((a, b) => a + b, 0) };
}

/** Length and speed after a time of the ramp between two speeds. */
function rampStates(v0: number, v1: number, a: number, j: number) {
  const runs = rampRuns(v0, v1, a, j);
  const over = (t: number): { length: number; speed: number } => {
    let [left, length] = [t, 0];
    for (const run of runs) {
      if (left <= run.seconds || run === runs.at(-1)) {
        return { length: length + lengthAfter(run, left), speed: speedAfter(run, left) };
      }
      left -= run.seconds;
      length += lengthAfter(run, run.seconds);
    }
    throw new Error('no runs');
  };
  return { at: (t: number) => over(t).length, speed: (t: number) => over(t).speed };
}

describe('ramps', () => {
  it('the worked example of Biagiotti and Melchiorri, sec. 3.4: .733333, 1.143333, .833333 s', () => {
    // q 0 to 10, v0 1, v1 0, v most 5, a 10, j 30; values from memory and by the formula.
    const peak = peakOf(10, 1, 0, 5, 10, 30);
    expect(peak).toBe(5);
    const [up, down] = [rampSeconds(1, 5, 10, 30), rampSeconds(5, 0, 10, 30)];
    expect(up).toBeCloseTo(0.733333, 6);
    expect(down).toBeCloseTo(0.833333, 6);
    const level = (10 - rampLength(1, 5, 10, 30) - rampLength(5, 0, 10, 30)) / 5;
    expect(level).toBeCloseTo(1.143333, 6);
  });

  it('without a limit of jerk they are those of even acceleration', () => {
    expect(rampSeconds(20, 100, 1000, Infinity)).toBeCloseTo(0.08, 12);
    expect(peakOf(5, 0, 0, 1000, 1000, Infinity)).toBeCloseTo(70.71068, 5);
    expect(rampStates(0, 100, 1000, Infinity).at(0.05)).toBeCloseTo(1.25, 12);
  });

  it('keep speed, acceleration and jerk at every instant (differences, seed 5)', () => {
    const random = seeded(5);
    for (let n = 0; n < 200; n++) {
      const [v0, v1] = [100 * random(), 100 * random()];
      const [a, j] = [10 ** (2 + 2 * random()), 10 ** (3 + 3 * random())];
      const all = rampSeconds(v0, v1, a, j);
      const h = all / 200;
      const { at, speed } = rampStates(v0, v1, a, j);
      let [off, second, third] = [0, 0, 0];
      for (let i = 3; i < 198; i++) {
        const [p, q, r, s] = [-3, -1, 1, 3].map((k) => at(i * h + k * h)) as number[];
        off = Math.max(off, Math.abs((r! - q!) / (2 * h) - speed(i * h)));
        second = Math.max(second, Math.abs(s! - r! - q! + p!) / (8 * h * h));
        third = Math.max(third, Math.abs(s! - 3 * r! + 3 * q! - p!) / (8 * h ** 3));
      }
      expect(off).toBeLessThan(0.05);
      expect(second).toBeLessThan(a * 1.001);
      expect(third).toBeLessThan(j * 1.01 + 1e-6);
      expect(at(all)).toBeCloseTo(rampLength(v0, v1, a, j), 9);
    }
  });

  it('the quickest gain: jerk 600 for .1 s from 10 mm/s, then 60 mm/s2 evenly', () => {
    // After .1 s: 10 + 3 = 13 mm/s and 1 + .1 = 1.1 mm; 2 mm later sqrt(169 + 240).
    const out = new Float64Array(2);
    gain(10, 0, 1.1, 60, 600, out);
    expect(out[0]).toBeCloseTo(13, 9);
    expect(out[1]).toBeCloseTo(60, 6);
    gain(10, 0, 3.1, 60, 600, out);
    expect(out[0]).toBeCloseTo(Math.sqrt(169 + 240), 9);
  });
});

describe('lines', () => {
  it.each([1, 2, 50])(
    'seven segments, rest to rest: L/v + v/a + a/j = 1.2 s, in %d pieces',
    (n) => {
      const { total, smooth } = both(line(100, n, 100), { acceleration: 1000, jerk: 10000 });
      expect(total).toBeCloseTo(1.2, 6);
      const share = smooth.share();
      // Two ramps of .2 s: X sets the pace in them, the wish in between.
      expect(share.joints[0]).toBeCloseTo(0.4 / 1.2, 6);
      expect(share.asked).toBeCloseTo(0.8 / 1.2, 6);
    },
  );

  it('each block is fed at the greatest speed that it reaches: 25 pieces of 4 mm', () => {
    // Up to 100 mm/s in .2 s over 10 mm and down again: jerk 10000 for .1 s, then -10000 for .1 s.
    const { smooth } = both(line(100, 25, 100), { acceleration: 1000, jerk: 10000 });
    const place = (t: number): number =>
      t < 0.1 ? (1e4 * t ** 3) / 6 : 10 - 100 * (0.2 - t) + (1e4 * (0.2 - t) ** 3) / 6;
    const speed = (t: number): number =>
      t < 0.1 ? (1e4 * t * t) / 2 : 100 - (1e4 * (0.2 - t) ** 2) / 2;
    for (let b = 0; b < 25; b++) {
      // By the end of the block, or its start on the way down; the third piece ends at 12 mm, past the ramp.
      const end = b < 12 ? 4 * (b + 1) : 100 - 4 * b;
      let [low, high] = [0, 0.2];
      for (let i = 0; i < 60; i++) {
        const t = (low + high) / 2;
        if (place(t) < end) low = t;
        else high = t;
      }
      const most = end >= 10 ? 100 : speed(low);
      expect(4 / smooth.seconds[b]!).toBeCloseTo(most, 5);
    }
  });

  it('so short that only jerk counts: 4 (L / 2 j)^(1/3)', () => {
    const { total } = both(line(0.5, 1, 1000), { acceleration: 1e6, jerk: 10000 });
    expect(total).toBeCloseTo(4 * (0.5 / 20000) ** (1 / 3), 9);
  });

  it('a slow stretch between fast ones: on either side a ramp with an even part and one without', () => {
    const steps = [40, 60, 100].map((x, i) => ({
      to: [x, 0, 0, 0, 0],
      speed: i === 1 ? 10 : 100,
    }));
    // 0 to 100: .2 s, 10 mm; 100 to 10: 2 sqrt(90 / 10000) s at 55 mm/s in the mean; the rest at 100.
    const down = 2 * Math.sqrt(0.009);
    const { total } = both(steps, { acceleration: 1000, jerk: 10000 });
    expect(total).toBeCloseTo(2 * (0.2 + down + (30 - 55 * down) / 100) + 2, 6);
  });

  it('with a jerk that is never felt it takes as long as without', () => {
    const { total, plain } = both(line(30, 3, 80), { jerk: 1e8 });
    expect(total).toBeCloseTo(plain.total, 4);
  });
});

describe('curves', () => {
  it.each([
    [10, 360],
    [20, 200],
  ])('a circle of %d mm in %d chords is run at the 60 mm/s that are asked', (radius, chords) => {
    const { total } = both(circle(radius, chords, 6, 60), { acceleration: 3000, jerk: 60000 });
    const far = 12 * Math.PI * radius;
    // v / a + a / j more for the ramps; a little for the first and last chord.
    expect(total).toBeGreaterThan(far / 60 + 0.07 - 0.01);
    expect(total).toBeLessThan((far / 60 + 0.07) * 1.02);
  });

  it.each([
    [10, 60],
    [10, 120],
    [25, 100],
  ])('a circle of %d mm gains its %d mm/s with 3 v a / r at a quarter of the jerk', (r, v) => {
    // The centripetal acceleration v2 / r changes by 2 v a / r, and the tangential one turns by v / r a
    // second, which is v a / r more (motion on a circle, mechanics). The quarter is the project's own rule.
    const jerk = 60000;
    const n = 720;
    const { smooth } = both(circle(r, n, 1, v), { acceleration: 1e5, jerk });
    let gains = 0;
    smooth.profiles(0, 1, (from, to, p) => {
      // The first and the last block come from rest and go to it; they count as straight.
      if (from === 0 || to === from || to === n) return;
      let share = 0;
      for (let i = from; i < to; i++) {
        const a = (2 * Math.PI * (i + 0.5)) / n;
        share = Math.max(share, Math.abs(Math.sin(a)), Math.abs(Math.cos(a)));
      }
      expect((3 * v * p.acceleration * share) / r / (jerk / 4)).toBeCloseTo(1, 2);
      if (p.peak > p.v0) gains++;
    });
    expect(gains).toBeGreaterThan(0);
  });

  it('a right angle: blends of h = 6 x .05 / sqrt 2 mm, passed at (j h^2)^(1/3)', () => {
    const steps = [
      { to: [50, 0, 0, 0, 0], speed: 1000 },
      { to: [50, 50, 0, 0, 0], speed: 1000 },
    ];
    const { smooth } = both(steps, { acceleration: 3000, jerk: 60000 });
    const h = 0.3 / Math.SQRT2;
    expect(smooth.bends.blend[1]).toBeCloseTo(h, 9);
    expect(smooth.bends.blendSpeed[1]).toBeCloseTo(Math.cbrt(60000 * h * h), 6);
    // The way through it: X slows down by k = jump / h rising and falling. Its third difference in
    // time is the jerk, and it passes the corner at jump h / 6 = .05 mm.
    const v = smooth.bends.blendSpeed[1]!;
    const bow = (s: number): number =>
      s < 0 ? (s + h) ** 3 / (6 * h * h) : (h - s) ** 3 / (6 * h * h) + s;
    expect(Math.SQRT2 * bow(0)).toBeCloseTo(0.05, 9);
    const d = h / 50;
    for (let s = -h + 3 * d; s < h - 3 * d; s += d) {
      if (Math.abs(s) < 3 * d) continue;
      const third = (bow(s + 3 * d) - 3 * bow(s + d) + 3 * bow(s - d) - bow(s - 3 * d)) / 8;
      expect(Math.abs(third) * (v / d) ** 3).toBeLessThan(60000 * 1.001);
    }
  });
});

describe.each([1, 2, 3, 4])('any route, seed %d', (seed) => {
  const timed = () => both(wandering(seed, 400), { jerk: 20000 });

  it('no block is faster than its limits, and the job never faster than without jerk', () => {
    const { plain, route, wanted, smooth, total } = timed();
    smooth.real.forEach((time, b) => {
      const least = route.length[b]! / cruiseOf(route, wanted, b);
      expect(time).toBeGreaterThan(least * (1 - 1e-9));
      expect(smooth.seconds[b]!).toBeGreaterThan(least * (1 - 1e-9));
      expect(smooth.seconds[b]!).toBeLessThan(time * (1 + 1e-9));
    });
    expect(total).toBeGreaterThan(plain.total);
  });

  it('profiles meet without a step of speed and stay under what their blocks allow', () => {
    const { route, smooth, total } = timed();
    let speed = 0;
    let seconds = 0;
    smooth.profiles(0, route.segment.length - 1, (from, to, p, took) => {
      expect(p.v0).toBeCloseTo(speed, 9);
      speed = p.v1;
      if (from === to) {
        // Over a corner it takes at least as long as at even speed.
        expect(took).toBeGreaterThan((p.length / p.v0) * (1 - 1e-9));
        seconds += took;
        return;
      }
      for (let i = from; i < to; i++) {
        expect(p.acceleration).toBeLessThan(route.ramp[i]! * (1 + 1e-12));
        expect(p.jerk).toBeLessThan(smooth.bends.jerk[i]! * (1 + 1e-12));
      }
      const ramps = [p.v0, p.v1].map((v) => rampLength(v, p.peak, p.acceleration, p.jerk));
      expect(ramps[0]! + ramps[1]!).toBeLessThan(p.length * (1 + 1e-9) + 1e-9);
      const up = rampSeconds(p.v0, p.peak, p.acceleration, p.jerk);
      const down = rampSeconds(p.v1, p.peak, p.acceleration, p.jerk);
      seconds += up + down + Math.max(0, p.length - ramps[0]! - ramps[1]!) / p.peak;
    });
    expect(speed).toBe(0);
    expect(seconds).toBeCloseTo(total, 6);
  });

  it('every instant has something that sets the pace', () => {
    const { joints, asked } = timed().smooth.share();
    expect(joints.reduce((a, b) => a + b, asked)).toBeGreaterThan(0.999);
  });
});
