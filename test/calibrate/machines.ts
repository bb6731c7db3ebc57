/** Machines with known errors, and their touches with noise, for tests of the fit. */
import { readFileSync } from 'node:fs';
import { type Random, seeded } from '../../lib/base/random.js';
import { contact } from '../../lib/calibrate/touch-contact.js';
import {
  type DeviationGroup,
  type DeviationModel,
  stateAt,
} from '../../lib/calibrate/deviation-model.js';
import type { DeviatedMachine } from '../../lib/calibrate/effect.js';
import type { TouchPlan } from '../../lib/calibrate/touch-plan.js';
import type { TouchReading } from '../../lib/calibrate/least-squares.js';
import type { Target } from '../../lib/calibrate/targets.js';
import type { Machine } from '../../lib/machine/machine.js';
import { readMachine } from '../../lib/machine/read-files.js';

export const sampleJson = (name: string): Record<string, unknown> =>
  JSON.parse(readFileSync(`samples/machines/${name}.json`, 'utf8')) as Record<string, unknown>;

export const sampleMachine = (name: string): Machine => readMachine(sampleJson(name));

/** The same without weights: a fit takes it for rigid, as it is in the simulator of machines that feel their way. */
export function rigidJson(name: string): Record<string, unknown> {
  const { drives: _, ...rest } = sampleJson(name);
  return rest;
}

export const rigidMachine = (name: string): Machine => readMachine(rigidJson(name));

/** A ball of 20 mm that stands on the face, its centre 45 mm off the axis. */
export const BALL: Target = { kind: 'ball', at: [45, 0, 20], radius: 10 };
export const BLOCK: Target = { kind: 'block', at: [40, 0], turn: 0, size: [30, 20, 25] };
export const FACE: Target = { kind: 'face' };

/** Standard normal numbers (Box and Muller 1958). */
export function normals(seed: number): Random {
  const even = seeded(seed);
  return () => Math.sqrt(-2 * Math.log(1 - even())) * Math.cos(2 * Math.PI * even());
}

/** Largest error of each kind, mm and (at a lever of 100 mm) 1.745 mm = 1 deg. */
const LARGEST: Record<DeviationGroup, [length: number, angle: number]> = {
  axis: [1, 1.745],
  face: [1, 1.745],
  'run-out': [0.1, 0],
  square: [0, 0.2],
  tip: [0.05, 0],
  // Up to 0.15 deg at the greatest load, and of play.
  give: [0, 0.26],
  play: [0, 0.26],
  target: [1, 1.745],
  effect: [0, 0],
};

/** Even errors up to the largest, from a seed. */
export function errorsOf(model: DeviationModel, seed: number): Float64Array {
  const random = seeded(seed);
  const slack = seeded(5000 + seed);
  return Float64Array.from(model.parameters, ({ group, kind }) => {
    const [length, angle] = LARGEST[group];
    // No joint is stiffer than its belts, and none has less play than none.
    if (group === 'give' || group === 'play') return angle * slack();
    return (kind === 'angle' ? angle : length) * (2 * random() - 1);
  });
}

/** What a machine with these errors reads when it runs the plan; noise along the way down, mm. */
export function touched(
  plan: TouchPlan,
  state: DeviatedMachine,
  noise: () => number,
): TouchReading[] {
  return plan.touches.map((touch) => {
    const joints = contact(state, touch.aim, touch.joints, touch.down);
    if (!joints) throw new Error(`touch ${touch.number} misses`);
    const by = noise();
    return { ...touch, joints: joints.map((v, i) => v + by * touch.down[i]!) };
  });
}

export const stateOf = (model: DeviationModel, seed: number): DeviatedMachine =>
  stateAt(model, errorsOf(model, seed));
