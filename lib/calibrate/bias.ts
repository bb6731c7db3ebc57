/**
 * What an effect that is there but not in the machine file does to it: the fit imitates the effect as well as it can
 * by deviations that are not there, and the tip goes where neither says. Both are added to the uncertainty as if
 * they were random (JCGM 100:2008, F.2.4.5: a known effect that is not corrected for).
 */
import type { Matrix } from 'ml-matrix';
import { Matrix as Rows, pseudoInverse } from 'ml-matrix';
import { type DeviationModel, firstEffect } from './deviation-model.js';
import type { EffectColumn } from './effect.js';
import type { LackOfFit } from './lack-of-fit.js';
import { type TouchReading, jacobianOf } from './least-squares.js';
import { suspectsOf } from './suspects.js';

export interface Bias {
  readonly column: EffectColumn;
  readonly amount: number;
  /** What the fit has added to the deviations to imitate it, order of the model's parameters. */
  readonly imitated: Float64Array;
}

/** Of the effects that the residuals show. */
export function biasesOf(
  model: DeviationModel,
  touches: readonly TouchReading[],
  x: Float64Array,
  active: readonly number[],
  { patterns }: LackOfFit,
): Bias[] {
  if (patterns.length === 0) return [];
  const back = pseudoInverse(jacobianOf(model, touches, x, active));
  const suspects = suspectsOf(model, touches, x);
  return patterns.flatMap(({ effect, amounts }) => {
    const { columns } = suspects.find((s) => s.effect === effect || s.effect.name === effect.name)!;
    return effect.columns.map((column, k): Bias => {
      const amount = amounts[k]!;
      const by = back.mmul(Rows.columnVector([...columns[k]!])).mul(amount);
      const imitated = new Float64Array(x.length);
      active.forEach((p, i) => (imitated[p] = by.get(i, 0)));
      return { column, amount, imitated };
    });
  });
}

/** Of the effects that were asked for: their amounts are known, yet no machine file holds them; but scales. */
export function knownBiases(model: DeviationModel, x: Float64Array): Bias[] {
  const first = firstEffect(model);
  return model.effects
    .flatMap((e) => e.columns)
    .map((column, k) => ({
      column,
      amount: column.scales === undefined ? x[first + k]! : 0,
      imitated: new Float64Array(x.length),
    }));
}

/** The covariance of the active deviations with what biases add to them. */
export function widened(
  covariance: Matrix,
  active: readonly number[],
  biases: readonly Bias[],
): Matrix {
  const out = covariance.clone();
  // What several columns add goes together: it is one machine that does it.
  const by = Rows.columnVector(
    active.map((p) => biases.reduce((sum, { imitated }) => sum + imitated[p]!, 0)),
  );
  return out.add(by.mmul(by.transpose()));
}
