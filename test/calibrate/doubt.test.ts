/** A handful of what doubts.test.ts shows with hundreds of seeds, and what a fit says of what it finds. */
import { describe, expect, it } from 'vitest';
import { tipSpreadOver } from '../../lib/calibrate/spread.js';
import { settlingTouches } from '../../lib/calibrate/settle.js';
import { fitTouches } from '../../lib/calibrate/deviation-fit.js';
import { modelOf } from '../../lib/calibrate/deviation-model.js';
import { effectsNamed } from '../../lib/calibrate/effects.js';
import { openEffects } from '../../lib/calibrate/suspects.js';
import { planTouches } from '../../lib/calibrate/touch-plan.js';
import { residualPicture } from '../../lib/report/residual-picture.js';
import { evenly, normally, trueMachine } from '../support/true-machines.js';
import { EFFECTS, NOISE, fitted, planOf } from './doubted.js';
import { sampleMachine } from './machines.js';

const name = 'table-table-ac';
const plan = planOf(name);

describe('lack of fit', () => {
  it('clean, seed 1: no alarm', () => {
    const { patterns, trends, scattered } = fitted(plan, name, {}, 1).doubts;
    expect({ patterns, trends, scattered }).toEqual({ patterns: [], trends: [], scattered: false });
  });

  it.each(EFFECTS)('$told, seed 1: named first', ({ told, effects }) => {
    const { patterns } = fitted(plan, name, effects, 1).doubts;
    expect(patterns[0]!.effect.name.startsWith(told)).toBe(true);
  });

  it('wind-up of 0.136 deg: amount within three uncertainties, tip stated at least twice as wide', () => {
    const fit = fitted(plan, name, { windUp: 0.136 }, 2);
    const [pattern] = fit.doubts.patterns;
    const { size } = pattern!.effect.columns[0]!.shown;
    const off = Math.abs(pattern!.amounts[0]! * size - 0.136);
    expect(off).toBeLessThan(3 * pattern!.uncertainties[0]! * size);
    const tip = (f: typeof fit): number =>
      tipSpreadOver(f.model, f.deviations, f.spread, f.scattered, f.biases);
    expect(tip(fit)).toBeGreaterThan(2 * tip(fitted(plan, name, {}, 2)));
  });

  it('noise of 0.06 mm where 0.02 was stated: said, and not taken for an effect, seed 3', () => {
    const normal = normally(9);
    const read = trueMachine(name, 3).run(plan.touches, () => 0.06 * normal());
    const { doubts, noise } = fitTouches(
      plan.model,
      read.filter((t) => t !== undefined),
      { noise: NOISE },
    );
    expect(doubts.scattered).toBe(true);
    expect(doubts.patterns).toEqual([]);
    expect(noise).toBeGreaterThan(0.045);
  });
});

it('fitted too, wind-up no longer shows, and its amount comes back, seed 4', () => {
  const { machine, targets } = plan.model;
  const model = modelOf(machine, targets, effectsNamed(machine, targets, ['wind-up of A']));
  const normal = normally(11);
  const read = trueMachine(name, 4, { windUp: 0.136 }).run(plan.touches, () => NOISE * normal());
  const fit = fitTouches(
    model,
    read.filter((t) => t !== undefined),
    { noise: NOISE },
  );
  expect(fit.doubts.patterns).toEqual([]);
  const e = fit.estimates.find((x) => x.name === 'wind-up of A, sine')!;
  expect(Math.abs(e.value * e.shown.size - 0.136)).toBeLessThan(3 * e.uncertainty! * e.shown.size);
});

it('wind-up and play of A are deviations where the file states weights, and effects where it states none', () => {
  const own = /^(wind-up|play) of A/;
  const weighed = planTouches(sampleMachine(name), plan.model.targets, {
    touches: 40,
    noise: NOISE,
  });
  const named = (model: typeof plan.model): string[] =>
    openEffects(model).flatMap((e) => (own.test(e.name) ? [e.name] : []));
  expect(weighed.model.parameters.map((p) => p.name)).toEqual(
    expect.arrayContaining(['A wind-up', 'A play']),
  );
  expect(named(weighed.model)).toEqual([]);
  expect(named(plan.model)).toEqual(['wind-up of A', 'play of A']);
  expect(plan.model.parameters.filter((p) => ['give', 'play'].includes(p.group))).toEqual([]);
  const { machine, targets } = weighed.model;
  expect(() => effectsNamed(machine, targets, ['wind-up of A'])).toThrow(/is no effect/);
});

it('an effect that there is not is refused with those that there are', () => {
  const { machine, targets } = plan.model;
  expect(() => effectsNamed(machine, targets, ['moon'])).toThrow(/"moon" is no effect .*drift/);
});

it('six touches that settle play: the uncertainty that is promised is that of a fit with them', () => {
  const fit = fitted(plan, name, { play: 0.1 }, 5);
  const pattern = fit.doubts.patterns[0]!;
  const { touches, before, after, effects } = settlingTouches(fit, pattern, NOISE, 6);
  expect(touches).toHaveLength(6);
  expect(after).toBeLessThan(before);
  const { machine, targets } = plan.model;
  const model = modelOf(machine, targets, effects);
  const more = touches.map((t, i) => ({ ...t, number: 81 + i }));
  const read = trueMachine(name, 5, { play: 0.1 }).run([...plan.touches, ...more], () => 0);
  const all = fitTouches(
    model,
    read.filter((t) => t !== undefined),
    { noise: NOISE },
  );
  // By the scatter of a fit without noise, in units of it: variances compare as the information does.
  const index = model.parameters.findIndex((p) => p.name === effects[0]!.columns[0]!.name);
  const own = all.spread.indexOf(index);
  const sure = Math.sqrt(all.scattered.get(own, own)) / all.noise;
  expect(sure / (after / NOISE)).toBeGreaterThan(0.9);
  expect(sure / (after / NOISE)).toBeLessThan(1.15);
});

it('the picture has a dot for each touch in each panel', () => {
  const fit = fitted(plan, name, {}, 6);
  const svg = residualPicture(fit, NOISE);
  const panels = svg.match(/font-weight="600">(tilt|turn|time|height|place|side)/g)!;
  // A, C, time, Z, Y and X, and two across the ball.
  expect(panels).toHaveLength(8);
  expect(svg.match(/<circle [^>]*r="3"/g)).toHaveLength(8 * fit.used.length);
});

describe('bad touches that support each other, all 0.25 mm early', () => {
  const oneSide = plan.touches.filter((t) => t.aim === 'face' && t.joints[3]! > 0.6);
  const even = evenly(77);
  const anywhere = plan.touches
    .map((t) => ({ t, key: even() }))
    .sort((a, b) => a.key - b.key)
    .slice(0, 6)
    .map(({ t }) => t);

  it.each([
    ['dirt on one side of the face', 1, oneSide],
    ['dirt on one side of the face', 2, oneSide],
    ['six of 80 anywhere', 3, anywhere],
    ['six of 80 anywhere', 4, anywhere],
  ])('%s, seed %i: all are named, and no other', (_, seed, dirty) => {
    const normal = normally(40 + seed);
    const wanted = dirty.map((t) => t.number).sort((a, b) => a - b);
    const read = trueMachine(name, seed).run(plan.touches, () => NOISE * normal());
    const touches = read
      .filter((t) => t !== undefined)
      .map((t) =>
        wanted.includes(t.number)
          ? { ...t, joints: t.joints.map((v, k) => v - 0.25 * t.down[k]!) }
          : t,
      );
    const { bad, doubts } = fitTouches(plan.model, touches, { noise: NOISE });
    expect(wanted.length).toBeGreaterThan(4);
    expect(bad.map((b) => b.touch.number).sort((a, b) => a - b)).toEqual(wanted);
    expect(doubts.patterns).toEqual([]);
  });
});
