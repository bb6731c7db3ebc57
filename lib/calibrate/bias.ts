/**
 * What an effect that is there but not in the machine file does to it: the fit imitates the effect as well as it can
 * by deviations that are not there, and the tip goes where neither says. Both are added to the uncertainty as if
 * they were random (JCGM 100:2008, F.2.4.5: a known effect that is not corrected for).
 */
import type { Matrix } from 'ml-matrix';
import { Matrix as Rows } from 'ml-matrix';
import { type DeviationModel, firstEffect } from './deviation-model.js';
import type { EffectColumn } from './effect.js';
import type { LackOfFit, Suspect } from './lack-of-fit.js';
import { type Split, solution } from './least-squares.js';

export interface Bias {
  readonly column: EffectColumn;
  readonly amount: number;
  /** What the fit has added to the deviations to imitate it, order of the model's parameters. */
  readonly imitated: Float64Array;
}

/**
 * Of the effects that the residuals show.
 * @param suspects among which they were looked for
 * @param parts of the Jacobian of the deviations `active`
 */
export function biasesOf(
  model: DeviationModel,
  { patterns }: LackOfFit,
  suspects: readonly Suspect[],
  parts: Split,
  active: readonly number[],
): Bias[] {
  return patterns.flatMap(({ effect, amounts }) => {
    const { columns } = suspects.find((s) => s.effect === effect)!;
    return effect.columns.map((column, k): Bias => {
      const amount = amounts[k]!;
      const by = solution(parts, columns[k]!);
      const imitated = new Float64Array(model.parameters.length);
      active.forEach((p, i) => (imitated[p] = amount * by[i]!));
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
