/** Fits of machines that do what the fit does not hold, for its tests of lack of fit. */
import { type DeviationFit, fitTouches } from '../../lib/calibrate/deviation-fit.js';
import { type TouchPlan, planTouches } from '../../lib/calibrate/touch-plan.js';
import type { TrueEffects } from '../support/touching-machine.js';
import { normally, trueMachine } from '../support/true-machines.js';
import { BALL, FACE, rigidMachine } from './machines.js';

export const NOISE = 0.02;

/** Effects as large as a home-built machine has them, and how their names begin. */
export const EFFECTS: readonly { readonly told: string; readonly effects: TrueEffects }[] = [
  { told: 'wind-up', effects: { windUp: 0.136 } },
  { told: 'play', effects: { play: 0.1 } },
  { told: 'sag', effects: { sag: 0.1 } },
  { told: 'scale of Z', effects: { scale: { Z: 0.002 } } },
  { told: 'drift', effects: { drift: 0.05 } },
  { told: 'second harmonic', effects: { second: [0.03, 0.04] } },
];

export const planOf = (name: string): TouchPlan =>
  planTouches(rigidMachine(name), [FACE, BALL], { touches: 80, noise: NOISE });

export function fitted(
  plan: TouchPlan,
  name: string,
  effects: TrueEffects,
  seed: number,
): DeviationFit {
  const normal = normally(500 + seed);
  const read = trueMachine(name, seed, effects).run(plan.touches, () => NOISE * normal());
  const touches = read.filter((t) => t !== undefined);
  return fitTouches(plan.model, touches, { noise: NOISE });
}
