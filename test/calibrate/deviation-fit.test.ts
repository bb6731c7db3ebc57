/**
 * The fit of the whole machine on synthetic machines with known errors: no value here comes from the
 * fit itself, the errors are what went in.
 */
import { describe, expect, it } from 'vitest';
import { seeded } from '../../lib/base/random.js';
import { type Vec3, length, sub } from '../../lib/base/vector.js';
import { fitTouches } from '../../lib/calibrate/deviation-fit.js';
import { modelOf, stateAt } from '../../lib/calibrate/deviation-model.js';
import { type TouchPlan, planTouches } from '../../lib/calibrate/touch-plan.js';
import { forward } from '../../lib/machine/forward.js';
import { inverse } from '../../lib/machine/inverse.js';
import {
  BALL,
  BLOCK,
  FACE,
  errorsOf,
  normals,
  rigidMachine,
  sampleMachine,
  touched,
} from './machines.js';

const NOISE = 0.02;
const RULES = { touches: 80, noise: NOISE };
const ac = sampleMachine('table-table-ac');

const plan = planTouches(ac, [FACE, BALL], RULES);

describe('synthetic A-C machines: errors to 1 mm and 1 deg, run-out 0.1 mm, noise 0.02 mm', () => {
  const SEEDS = 250;

  it(`seeds 1 to ${SEEDS}: every error within three times its uncertainty in at least 99 %, tip error at most 1.2 times the noise`, () => {
    const { model } = plan;
    const missed = model.parameters.map(() => 0);
    let squares = 0;
    let points = 0;
    let falsely = 0;
    for (let seed = 1; seed <= SEEDS; seed++) {
      const errors = errorsOf(model, seed);
      const truth = stateAt(model, errors);
      const normal = normals(1000 + seed);
      const fit = fitTouches(
        model,
        touched(plan, truth, () => NOISE * normal()),
        RULES,
      );
      expect(fit.undetermined, `seed ${seed}`).toEqual([]);
      falsely += fit.bad.length;
      fit.estimates.forEach((e, p) => {
        if (Math.abs(e.value - errors[p]!) > 3 * e.uncertainty!) missed[p]!++;
      });
      for (const off of tipErrors(truth.machine, fit.state.machine, seed, 20)) {
        squares += off * off;
        points++;
      }
    }
    const all = missed.reduce((a, b) => a + b, 0);
    expect(all / (SEEDS * missed.length)).toBeLessThanOrEqual(0.01);
    // Each error alone: 99 % is 2.5 misses in 250, and 6 are rarer than 1 in 10,000 at 0.27 %.
    missed.forEach((count, p) => {
      expect(count, model.parameters[p]!.name).toBeLessThanOrEqual(0.02 * SEEDS);
    });
    // Student's t with 60 degrees of freedom passes 5 in 5e-6 of cases: 0.1 of 20,000 touches.
    expect(falsely).toBeLessThanOrEqual(1);
    expect(Math.sqrt(squares / points)).toBeLessThanOrEqual(1.2 * NOISE);
  });
});

describe.each(['table-table-ac', 'table-table-bc', 'head-table'])('%s, rigid', (name) => {
  const MACHINES = 100;
  // Of a normal distribution within one, two and three standard deviations (any table of it), in points of a percent.
  const SHARES = [68.27, 95.45, 99.73];
  const POINTS = 3;

  it(`seeds 1 to ${MACHINES}: ${SHARES.join(', ')} % of the errors within one, two and three uncertainties, to ${POINTS} points`, () => {
    const { model, touches } = planTouches(rigidMachine(name), [FACE, BALL], RULES);
    const pulls: number[] = [];
    for (let seed = 1; seed <= MACHINES; seed++) {
      const errors = errorsOf(model, seed);
      const normal = normals(3000 + seed);
      const read = touched(
        { touches } as TouchPlan,
        stateAt(model, errors),
        () => NOISE * normal(),
      );
      const fit = fitTouches(model, read, RULES);
      fit.estimates.forEach(({ value, uncertainty }, p) => {
        if (uncertainty !== undefined) pulls.push(Math.abs(value - errors[p]!) / uncertainty);
      });
    }
    expect(pulls.length).toBeGreaterThan(15 * MACHINES);
    SHARES.forEach((wanted, i) => {
      const within = (100 * pulls.filter((pull) => pull <= i + 1).length) / pulls.length;
      expect(Math.abs(within - wanted), `within ${i + 1}: ${within} %`).toBeLessThan(POINTS);
    });
  });
});

/** Where the true machine brings the tip when joints are solved on another one: distances, mm. */
function tipErrors(truth: typeof ac, believed: typeof ac, seed: number, count: number): number[] {
  const random = seeded(seed);
  return Array.from({ length: count }, () => {
    const [a, t, w] = [2 * Math.PI * random(), random(), 2 * Math.PI * random()];
    const r = 40 * Math.sqrt(random());
    const p: Vec3 = [r * Math.cos(a), r * Math.sin(a), 60 * random()];
    const d: Vec3 = [Math.sin(t) * Math.cos(w), Math.sin(t) * Math.sin(w), Math.cos(t)];
    const { joints } = inverse(believed, p, d, new Float64Array(5))[0]!;
    return length(sub(forward(truth, joints).tip, p));
  });
}

describe.each(['table-table-ac', 'table-table-bc'])('%s without noise', (name) => {
  it.each([
    ['ball', BALL],
    ['block', BLOCK],
  ])('face and %s, seed 4: every error comes back exactly', (_, target) => {
    const exact = planTouches(sampleMachine(name), [FACE, target], RULES);
    const errors = errorsOf(exact.model, 4);
    const touches = touched(exact, stateAt(exact.model, errors), () => 0);
    const fit = fitTouches(exact.model, touches, RULES);
    expect(fit.undetermined).toEqual([]);
    errors.forEach((e, p) =>
      expect(Math.abs(fit.deviations[p]! - e), exact.model.parameters[p]!.name).toBeLessThan(1e-5),
    );
    // From the machine as drawn the touches are millimetres off, from the fitted one nothing.
    expect(Math.max(...fit.before.map(Math.abs))).toBeGreaterThan(0.5);
    expect(Math.max(...fit.after.map(Math.abs))).toBeLessThan(1e-6);
  });
});

it('the plan promises what the readings then give, noise 0.02 mm, seed 11', () => {
  const normal = normals(11);
  const truth = stateAt(plan.model, errorsOf(plan.model, 11));
  const fit = fitTouches(
    plan.model,
    touched(plan, truth, () => NOISE * normal()),
    RULES,
  );
  // The scatter of a standard deviation from 60 readings is 9 %; three of it and 3.2 / 3 for few readings.
  fit.estimates.forEach((e, p) => {
    const ratio = e.uncertainty! / plan.expected[p]!.uncertainty!;
    expect(ratio, e.name).toBeGreaterThan(0.7);
    expect(ratio, e.name).toBeLessThan(1.45);
  });
});

describe('bad touches', () => {
  const truth = stateAt(plan.model, errorsOf(plan.model, 21));

  it.each([0.3, -0.5, 4])(
    'one that is %s mm off is named, and the rest fit as without it',
    (off) => {
      const normal = normals(22);
      const touches = touched(plan, truth, () => NOISE * normal());
      const spoilt = touches.map((t) =>
        t.number === 17
          ? { ...t, joints: t.joints.map((v, i) => v + off * plan.touches[16]!.down[i]!) }
          : t,
      );
      const fit = fitTouches(plan.model, spoilt, RULES);
      expect(fit.bad.map((b) => b.touch.number)).toEqual([17]);
      // Down by `off` is past the surface: the way left is -off, but for noise and, as the way down of a machine
      // with errors of a degree or two leaves that of the head, for a few hundredths of it on a slope.
      expect(Math.abs(fit.bad[0]!.off + off)).toBeLessThan(0.1 + 0.05 * Math.abs(off));
      const without = fitTouches(
        plan.model,
        touches.filter((t) => t.number !== 17),
        RULES,
      );
      fit.deviations.forEach((x, p) => expect(x).toBeCloseTo(without.deviations[p]!, 4));
    },
  );

  it('two touches with one another are both found', () => {
    const normal = normals(23);
    const touches = touched(plan, truth, () => NOISE * normal()).map((t, i) =>
      i === 5 || i === 40
        ? { ...t, joints: t.joints.map((v, k) => v - 0.6 * plan.touches[i]!.down[k]!) }
        : t,
    );
    const { bad } = fitTouches(plan.model, touches, RULES);
    expect(bad.map((b) => b.touch.number).sort((a, b) => a - b)).toEqual([6, 41]);
  });

  it('readings that scatter by half a millimetre are no fit to half a hundredth', () => {
    const normal = normals(24);
    const fit = fitTouches(
      plan.model,
      touched(plan, truth, () => 0.5 * normal()),
      RULES,
    );
    expect(fit.noise).toBeGreaterThan(0.35);
    fit.estimates.forEach((e, p) => {
      expect(e.uncertainty!).toBeGreaterThan(15 * plan.expected[p]!.uncertainty!);
    });
  });

  it('ten of 80 are refused, all with their numbers, the limit is 8', () => {
    const normal = normals(26);
    const touches = touched(plan, truth, () => NOISE * normal()).map((t, i) => {
      const off = i % 8 ? 0 : 0.3 * 1.4 ** (i / 8);
      return { ...t, joints: t.joints.map((v, k) => v - off * plan.touches[i]!.down[k]!) };
    });
    expect(() => fitTouches(plan.model, touches, RULES)).toThrow(
      /10 of 80 touches do not agree with the others, the limit is 8: .*73 \(/,
    );
  });
});

describe('what the data cannot tell is said', () => {
  it('the face alone says nothing of where the turning axis stands', () => {
    const { undetermined, expected } = planTouches(ac, [FACE], RULES);
    const held = undetermined.map((u) => expected[u.held]!.name);
    expect(held).toContain('C axis shifted along X');
    expect(held).toContain('C axis shifted along Y');
    // Square to the table the face is told as well as anything.
    expect(expected.find((e) => e.name === 'face height')!.uncertainty).toBeLessThan(0.02);
  });

  it('without tilting neither the place of the tilting axis nor its direction shows', () => {
    const flat = plan.touches.filter((t) => Math.abs(t.joints[3]!) < 1e-9);
    const more = planTouches(ac, [FACE, BALL], { touches: 200, noise: NOISE }).touches.filter(
      (t) => Math.abs(t.joints[3]!) < 1e-9,
    );
    expect(more.length).toBeGreaterThan(flat.length);
    const fit = fitTouches(
      plan.model,
      touched(
        { ...plan, touches: more },
        stateAt(plan.model, new Float64Array(plan.model.parameters.length)),
        () => 0,
      ),
      RULES,
    );
    const held = fit.undetermined.map((u) => fit.estimates[u.held]!.name);
    for (const name of [
      'A axis shifted along Y',
      'A axis shifted along Z',
      'A axis turned about Z',
    ]) {
      expect(held).toContain(name);
    }
    fit.undetermined.forEach((u) => {
      expect(fit.estimates[u.held]!.uncertainty).toBeUndefined();
      expect(fit.estimates[u.held]!.value).toBe(0);
    });
  });

  it('a head that tilts: its lean out of the plane of tilting is one with the lean of Z', () => {
    const { undetermined, expected } = planTouches(
      sampleMachine('head-table'),
      [FACE, BALL],
      RULES,
    );
    expect(undetermined.map((u) => expected[u.held]!.name)).toEqual(['Z not square to Y']);
    expect(undetermined[0]!.with.map((p) => expected[p]!.name)).toContain('B axis turned about X');
  });

  it('fewer touches than unknowns', () => {
    const few = plan.touches.slice(0, 4);
    expect(() => fitTouches(modelOf(ac, [FACE, BALL]), few, RULES)).toThrow(/unknowns, at least/);
  });
});
