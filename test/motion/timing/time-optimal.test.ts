/** The pace along a route against closed forms (derived unless a source is named) and differences. */
import { describe, expect, it } from 'vitest';
import { DEG } from '../../../lib/base/vector.js';
import { circle, line, machine, wandering } from '../routes.js';
import { type Traced, placeAt, samples, trace } from '../trace.js';

/**
 * Radius of the arc that rounds a corner of interior angle g (rad; pi is straight on) and stays
 * within `deviation` of it: R / sin(g/2) - R = deviation. Infinite on a straight line.
 */
function cornerRadius(deviation: number, g: number): number {
  const s = Math.sin(g / 2);
  return s < 1 ? (deviation * s) / (1 - s) : Infinity;
}

/** Speed at which the acceleration a holds a point on an arc of radius R. */
const cornerSpeed = (a: number, radius: number): number => Math.sqrt(a * radius);

const shareOf = (t: Traced): ReturnType<Traced['times']['share']> => t.times.share();

describe('lines', () => {
  it.each([
    // L, v, a: seconds L/v + v/a, or 2 sqrt(L/a) where v is not reached.
    [100, 100, 1000, 1.1],
    [100, 50, 500, 2.1],
    [2, 50, 500, 2 * Math.sqrt(2 / 500)],
    [5, 1000, 1000, 0.1414214],
  ])('%d mm at %d mm/s, %d mm/s2', (length, speed, acceleration, seconds) => {
    for (const pieces of [1, 2, 50, 777]) {
      const { total } = trace(machine({ acceleration }), line(length, pieces, speed));
      expect(total).toBeCloseTo(seconds, 6);
    }
  });

  it('from rest to rest: 1.1 s, .2 s of it at the acceleration of X, the rest at what is asked', () => {
    const t = trace(machine(), line(100, 1, 100));
    expect(t.times.seconds[0]).toBeCloseTo(1, 9);
    expect(shareOf(t).joints[0]).toBeCloseTo(0.2 / 1.1, 9);
    expect(shareOf(t).asked).toBeCloseTo(0.9 / 1.1, 9);
  });

  it('two joints at once: the slower one decides, 60 mm of X at most 30 mm/s', () => {
    const t = trace(machine({ speed: 30 }), [{ to: [60, 60, 0, 0, 0], speed: 500 }]);
    expect(t.times.seconds[0]).toBeCloseTo(2, 9);
    expect(t.total).toBeCloseTo(2.03, 9);
  });

  it('a slow stretch between fast ones: 40 mm at 100, 20 mm at 10, 40 mm at 100', () => {
    // Each fast stretch: up over 5 mm (.1 s), down to 10 over 4.95 mm (.09 s), 30.05 mm at 100.
    const steps = [40, 60, 100].map((x, i) => ({ to: [x, 0, 0, 0, 0], speed: i === 1 ? 10 : 100 }));
    expect(trace(machine(), steps).total).toBeCloseTo(2 * (0.1 + 0.09 + 0.3005) + 2, 9);
  });
});

describe('rotary joints', () => {
  it('tip 50 mm/s on a radius of 50 mm turns C at 57.29578 deg/s', () => {
    const quarter = Math.PI / 2;
    const t = trace(machine(), [{ to: [0, 0, 0, 0, quarter], length: 50 * quarter, speed: 50 }]);
    expect(quarter / DEG / t.times.seconds[0]!).toBeCloseTo(57.29578, 5);
  });

  it('a joint at its speed limit sets the pace: C at 360 deg/s, whatever the tip would like', () => {
    const t = trace(machine(), [{ to: [0, 0, 0, 0, 4 * Math.PI], length: 1, speed: 100 }]);
    expect(t.times.seconds[0]).toBeCloseTo(2, 9);
    expect(t.total).toBeCloseTo(2.1, 9);
    expect(shareOf(t).joints[4]).toBeCloseTo(1, 9);
  });
});

describe('a pole pass: the build direction along a great circle that comes within 1 deg of the pole', () => {
  // A-C: k = (sin A sin C, sin A cos C, cos A); along the circle, l from the nearest place,
  // tan C = tan l / sin e, so dC/dl = sin e / (sin^2 l + sin^2 e cos^2 l): 1 / sin e at the pole.
  const e = 1 * DEG;
  const turned = (l: number): number[] => [
    0,
    0,
    0,
    Math.acos(Math.cos(e) * Math.cos(l)),
    Math.atan2(Math.sin(l), Math.sin(e) * Math.cos(l)),
  ];
  const rateOfC = (l: number): number =>
    Math.sin(e) / (Math.sin(l) ** 2 + (Math.sin(e) * Math.cos(l)) ** 2);
  const ends = 40 * DEG;
  const count = 4000;
  /** Turned at 40 deg/s; C may do `most` deg/s and accelerates in no time. */
  const pass = (most: number): { t: Traced; bound: number } => {
    const m = machine();
    const joints = m.joints.map((j, i) => ({
      ...j,
      acceleration: i < 3 ? j.acceleration : 1e5,
      speed: i === 4 ? most * DEG : i === 3 ? 10 : j.speed,
    }));
    const places = Array.from({ length: count + 1 }, (_, i) => ends * ((2 * i) / count - 1));
    const first = turned(places[0]!);
    // From zero to the start in one block at rest before and after: its time is left out below.
    const length = (2 * ends) / count;
    const t = trace({ ...m, joints }, [
      { to: first, speed: 1e9 },
      { to: first, speed: 1 },
      ...places.slice(1).map((l) => ({ to: turned(l), length, speed: 40 * DEG })),
    ]);
    // No motion is quicker than the slower of turning and C at every place.
    let bound = 0;
    for (let i = 0; i < 100 * count; i++) {
      const l = ends * ((2 * i + 1) / (100 * count) - 1);
      bound += (length / 100) * Math.max(1 / (40 * DEG), rateOfC(l) / (most * DEG));
    }
    return { t, bound };
  };
  const seconds = (t: Traced): number => t.total - t.times.real[0]!;

  it('C needs 2291.8 deg/s to turn at 40 deg/s: given that it never waits', () => {
    expect(rateOfC(0) * 40).toBeCloseTo(2291.8, 0);
    const { t, bound } = pass(2400);
    expect(bound).toBeCloseTo(2, 6);
    expect(seconds(t) / bound).toBeGreaterThan(0.998);
    expect(seconds(t) / bound).toBeLessThan(1.02);
  });

  it('with 360 deg/s it is held up by C alone, and takes the least time that allows', () => {
    const { t, bound } = pass(360);
    expect(bound).toBeGreaterThan(2.1);
    expect(seconds(t) / bound).toBeGreaterThan(0.998);
    expect(seconds(t) / bound).toBeLessThan(1.02);
    const at = samples(t, 1).filter((s) => Math.abs(s.q[4]!) < 80 * DEG && s.block > 1);
    for (const s of at) {
      expect(Math.abs(s.speed[4]!) / DEG).toBeGreaterThan(355);
      expect(Math.abs(s.speed[4]!) / DEG).toBeLessThan(360 * (1 + 1e-6));
    }
  });
});

describe('a circle', () => {
  it.each([
    // Each joint bears v^2/R where the circle runs square to it: v <= sqrt(a R) = 100 mm/s.
    [10, 360, Infinity, 100],
    [10, 360, 60, 60],
    [40, 720, Infinity, 200],
    [2.5, 120, Infinity, 50],
  ])('radius %d in %d chords, asked %d mm/s: runs at %d mm/s', (radius, chords, asked, speed) => {
    const turns = 12;
    const t = trace(machine(), circle(radius, chords, turns, Math.min(asked, 1e4)));
    const far = 2 * Math.PI * radius * turns;
    // That speed all along is a motion that every joint can follow, so it must not be slower than
    // that; where the circle runs askew of the joints they bear up to sqrt 2 more, so at most the
    // fourth root of 2 faster. Starting and stopping costs v / a.
    const quickest = asked > speed ? speed * 2 ** 0.25 : speed;
    expect(t.total).toBeGreaterThan((far / quickest) * 0.999);
    expect(t.total).toBeLessThan((far / speed + speed / 1000) * 1.02);
    const speeds = samples(t, 1).map((s) => Math.hypot(s.speed[0]!, s.speed[1]!));
    expect(Math.max(...speeds)).toBeLessThan(quickest * 1.001);
  });

  it('a quarter from rest, started and stopped at the same two limits: chords fine or coarse', () => {
    const quarter = (chords: number): number =>
      trace(machine(), circle(20, chords, 1, 1e4).slice(0, chords / 4)).total;
    expect(quarter(3600) / quarter(360)).toBeGreaterThan(0.99);
    expect(quarter(3600) / quarter(360)).toBeLessThan(1.01);
  });
});

describe('corners', () => {
  const corner = (interior: number): Traced => {
    const a = Math.PI - interior * DEG;
    return trace(machine(), [
      { to: [50, 0, 0, 0, 0], speed: 1000 },
      { to: [50 + 50 * Math.cos(a), 50 * Math.sin(a), 0, 0, 0], speed: 1000 },
    ]);
  };

  it.each([60, 90, 135, 170])(
    'interior angle %d deg: stays within .05 mm and is no slower than the tangent arc that does',
    (g) => {
      const t = corner(g);
      const place = placeAt(t);
      const q = new Float64Array(5);
      place(50, q);
      expect(Math.hypot(q[0]! - 50, q[1]!)).toBeCloseTo(0.05, 9);
      const through = Math.sqrt(t.times.x[3]!);
      // R / sin(g/2) - R = deviation; v = sqrt(a R) (tangent circle).
      expect(through).toBeGreaterThan(cornerSpeed(1000, cornerRadius(0.05, g * DEG)));
    },
  );

  it('a right angle: each joint changes its speed by v over 2 d = .282843 mm, v = sqrt(a 2 d)', () => {
    // Jump sqrt 2, d = 4 x .05 / sqrt 2.
    expect(Math.sqrt(corner(90).times.x[3]!)).toBeCloseTo(Math.sqrt(282.8427), 4);
  });

  it('turning back stops', () => {
    const t = trace(machine(), [
      { to: [50, 0, 0, 0, 0], speed: 100 },
      { to: [0, 0, 0, 0, 0], speed: 100 },
    ]);
    expect(t.times.x[3]).toBe(0);
    expect(t.total).toBeCloseTo(2 * 0.6, 9);
  });
});

describe.each([1, 2, 3, 4])('any route, seed %d', (seed) => {
  const traced = (): Traced => trace(machine({ speed: 150 }), wandering(seed, 400));

  it('keeps every joint inside of its speed and acceleration at every instant', () => {
    const t = traced();
    const all = samples(t, 5);
    t.machine.joints.forEach((joint, j) => {
      const most = (of: 'speed' | 'acceleration'): number =>
        all.reduce((greatest, s) => Math.max(greatest, Math.abs(s[of][j]!)), 0);
      expect(most('speed')).toBeLessThan(joint.speed * (1 + 1e-6));
      expect(most('acceleration')).toBeLessThan(joint.acceleration * (1 + 1e-3));
    });
  });

  it('runs at .95 of some limit or of the asked speed, or more, in at least .95 of its time', () => {
    const t = traced();
    let [busy, total] = [0, 0];
    for (const s of samples(t, 5)) {
      total += s.seconds;
      const weight = (j: number): number => (j > 2 ? 50 : 1);
      const path = Math.hypot(...s.speed.map((v, j) => v * weight(j)));
      const active =
        path > (0.95 * t.route.length[s.block]!) / t.wanted.least[s.block]! ||
        t.machine.joints.some(
          (joint, j) =>
            Math.abs(s.speed[j]!) > 0.95 * joint.speed ||
            Math.abs(s.acceleration[j]!) > 0.95 * joint.acceleration,
        );
      if (active) busy += s.seconds;
    }
    expect(busy / total).toBeGreaterThan(0.95);
    const { joints, asked } = shareOf(t);
    expect(joints.reduce((a, b) => a + b, asked)).toBeGreaterThan(0.95);
  });

  it('strays from its corners by no more than the deviation', () => {
    const t = traced();
    const place = placeAt(t);
    const q = new Float64Array(5);
    let s = 0;
    t.route.length.forEach((far, b) => {
      s += far;
      place(s, q);
      const off = [0, 1, 2].map((j) => q[j]! - t.route.polyline.joints[5 * b + j]!);
      expect(Math.hypot(...off)).toBeLessThan(0.05 + 1e-9);
    });
  });

  it('takes as long as its pieces and at their feeds no longer than that', () => {
    const t = traced();
    const { seconds, real } = t.times;
    expect(samples(t, 5).reduce((sum, x) => sum + x.seconds, 0)).toBeCloseTo(t.total, 6);
    real.forEach((time, b) => expect(seconds[b]!).toBeLessThan(time * (1 + 1e-9)));
  });
});
