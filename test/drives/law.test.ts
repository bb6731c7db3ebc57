import { describe, expect, it } from 'vitest';
import { seeded } from '../../lib/base/random.js';
import { type Limits, paceOfLaw, timeLaw, walkLaw } from '../../lib/drives/law.js';
import type { JointPath } from '../../lib/drives/path.js';

/** Joint values at the end of each block, from the origin. */
const pathOf = (points: number[][], least: number[]): JointPath => ({
  jointCount: points[0]!.length,
  from: new Float64Array(points[0]!.length),
  joints: Float64Array.from(points.flat()),
  least: Float64Array.from(least),
  filament: new Float64Array(points.length),
  line: Uint32Array.from(points, (_, i) => i + 1),
  counts: 'block',
  free: true,
});

const limits = (n: number, speed: number, acceleration: number): Limits => ({
  speed: new Float64Array(n).fill(speed),
  acceleration: new Float64Array(n).fill(acceleration),
});

describe('a straight move between stops', () => {
  // Trapezoid, v 50, a 500: L / v + v / a = 2.100 s for 100 mm; 2 sqrt(L / a) = 0.12649 s for 2 mm.
  it.each([
    [100, 2.1],
    [2, 0.1264911064],
  ])('of %d mm takes %d s', (way, seconds) => {
    const law = timeLaw(pathOf([[way]], [0]), limits(1, 50, 500), [1], 0.05);
    expect(paceOfLaw(law).seconds).toBeCloseTo(seconds, 9);
  });

  it('takes the same in fifty pieces as in one, a hundredth apart', () => {
    const points = Array.from({ length: 50 }, (_, i) => [2 * (i + 1)]);
    const law = timeLaw(
      pathOf(
        points,
        points.map(() => 0),
      ),
      limits(1, 50, 500),
      [1],
      0.05,
    );
    expect(paceOfLaw(law).seconds / 2.1).toBeCloseTo(1, 9);
  });

  it('keeps the feed that was asked for', () => {
    // 100 mm in no less than 10 s is 10 mm/s: 10 + 10 / 500 s.
    const law = timeLaw(pathOf([[100]], [10]), limits(1, 50, 500), [1], 0.05);
    expect(paceOfLaw(law).seconds).toBeCloseTo(10.02, 9);
  });
});

describe('a corner', () => {
  // Blend of b seconds between v ex and v ey: each joint needs v / b, the path leaves the corner by
  // |dv| b / 8 (the middle of a parabola, closed form). With b = v / a: v = sqrt(8 d a / sqrt 2).
  it('is passed at sqrt(8 d a / sqrt 2) when square', () => {
    const law = timeLaw(
      pathOf(
        [
          [100, 0],
          [100, 100],
        ],
        [0, 0],
      ),
      limits(2, 200, 1000),
      [1, 1],
      0.05,
    );
    expect(law.corner[1]).toBeCloseTo(Math.sqrt((8 * 0.05 * 1000) / Math.SQRT2), 9);
    expect(Math.SQRT2 * law.corner[1]! * law.blend[1]!).toBeCloseTo(8 * 0.05, 9);
  });

  it('on a circle of short chords is passed at sqrt(a r), and asks for v2 / r below that', () => {
    const r = 20;
    const n = 720;
    const points = Array.from({ length: n }, (_, i) => {
      const t = (2 * Math.PI * (i + 1)) / n;
      return [r * Math.sin(t), r * (1 - Math.cos(t))];
    });
    const fast = timeLaw(
      pathOf(
        points,
        points.map(() => 0),
      ),
      limits(2, 1e4, 500),
      [1, 1],
      0.05,
    );
    // The slower of two joints at 45 deg to the turn allows sqrt 2 more; at 0 deg exactly sqrt(a r).
    expect(Math.max(...fast.corner) / Math.sqrt(500 * r)).toBeLessThan(
      Math.sqrt(Math.SQRT2) * 1.001,
    );
    expect(fast.corner[n / 2]! / Math.sqrt(500 * r)).toBeCloseTo(1, 2);
    const chord = 2 * r * Math.sin(Math.PI / n);
    const slow = timeLaw(
      pathOf(
        points,
        points.map(() => chord / 30),
      ),
      limits(2, 1e4, 500),
      [1, 1],
      0.05,
    );
    let most = 0;
    walkLaw(slow, (p) => {
      if (p.block < 50 || p.block > n - 50) return;
      most = Math.max(most, Math.hypot(p.acceleration[0]!, p.acceleration[1]!));
    });
    expect(most / (30 ** 2 / r)).toBeCloseTo(1, 2);
  });
});

describe('any path, seed 5', () => {
  const next = seeded(5);
  const n = 400;
  const at = [0, 0, 0];
  const points = Array.from({ length: n }, () => {
    const size = 10 ** (2 * next() - 1.5);
    if (next() < 0.1) return [...at];
    for (let j = 0; j < 3; j++) at[j]! += (next() - 0.5) * size * (j === 2 ? 0.05 : 1);
    return [...at];
  });
  const path = pathOf(
    points,
    points.map(() => (next() < 0.5 ? 0 : 0.02 * next())),
  );
  const own = {
    speed: Float64Array.of(200, 150, 2),
    acceleration: Float64Array.of(3000, 2000, 15),
  };
  const law = timeLaw(path, own, [1, 1, 80], 0.05);

  it('has no steps of place or speed, keeps every limit and ends where the path ends', () => {
    const q = [...path.from];
    const v = [0, 0, 0];
    walkLaw(law, (p) => {
      for (let j = 0; j < 3; j++) {
        const scale = j === 2 ? 1 : 100;
        expect(Math.abs(p.from[j]! - q[j]!)).toBeLessThan(1e-7 * scale);
        expect(Math.abs(p.speed[j]! - v[j]!)).toBeLessThan(1e-6 * scale);
        expect(Math.abs(p.acceleration[j]!)).toBeLessThan(own.acceleration[j]! * (1 + 1e-9));
        const a = p.acceleration[j]!;
        q[j] = p.from[j]! + (p.speed[j]! + (a * p.seconds) / 2) * p.seconds;
        v[j] = p.speed[j]! + a * p.seconds;
        expect(Math.abs(v[j]!)).toBeLessThan(own.speed[j]! * (1 + 1e-9));
      }
    });
    points.at(-1)!.forEach((x, j) => expect(q[j]).toBeCloseTo(x, 6));
    v.forEach((x) => expect(x).toBeCloseTo(0, 6));
  });

  it('is no slower with any joint doubled', () => {
    const before = paceOfLaw(law).seconds;
    for (let j = 0; j < 3; j++) {
      const more = { speed: own.speed.slice(), acceleration: own.acceleration.slice() };
      more.speed[j]! *= 2;
      more.acceleration[j]! *= 2;
      expect(paceOfLaw(timeLaw(path, more, [1, 1, 80], 0.05)).seconds).toBeLessThan(before * 1.001);
    }
  });
});
