/**
 * A touch plan: of all possible touches of the targets those that together determine the deviations best,
 * with the uncertainty to be expected of each deviation before a single one is made.
 *
 * Touches are taken one at a time, each the one that most enlarges the determinant of JT J (greedy
 * D-optimal design; Fedorov, Theory of Optimal Experiments, 1972, from memory): that is the touch with the
 * greatest variance of prediction so far, and one rank-one update of the inverse per choice.
 */
import { Fault } from '../base/fault.js';
import { type Watch, step } from '../base/watch.js';
import { COARSE_SEARCH, FINE_SEARCH, type SearchWay, canTouch, roomOf } from './clear.js';
import { type Estimate, type Undetermined, determinable } from './deviation-fit.js';
import { type DeviationModel, modelOf, withEffects } from './deviation-model.js';
import { effectsNamed } from './effects.js';
import { openEffects } from './suspects.js';
import { type CandidateTouch, candidates } from './touch-poses.js';
import { type TouchReading, inverseSquare, jacobianOf, split } from './least-squares.js';
import type { Machine } from '../machine/machine.js';
import type { Target } from './targets.js';

export interface PlanRules {
  readonly touches: number;
  /** Standard deviation of one touch that is expected, mm. */
  readonly noise: number;
  /**
   * True for the first touches of a machine as drawn: only the middle of large targets, with long search ways, so
   * that none finds nothing; what they tell is enough to aim the others.
   */
  readonly coarse?: boolean;
  /** Names of effects that the plan is to tell beside the errors of axes, face and tip. */
  readonly also?: readonly string[];
}

/** Touches that determine the errors of a machine best, in the order in which they are made. */
export interface TouchPlan {
  readonly model: DeviationModel;
  readonly touches: readonly (CandidateTouch & TouchReading)[];
  /** Deviations with the uncertainty that the plan promises; values are zero. */
  readonly expected: readonly Estimate[];
  readonly undetermined: readonly Undetermined[];
  readonly search: SearchWay;
}

/** Prior uncertainty of every deviation, so that the first choices are determined. */
export const VAGUE = 10;
/**
 * The same of effects that are only suspected: touches are chosen to show them too, for a fit can doubt itself only
 * where an effect would leave residuals.
 */
export const SUSPECTED = 0.3;
/** Rounds over all poses, so that time does not run with tilt or turn. */
const POSE_ROUNDS = 4;

/**
 * @throws Fault `calibrate/no-pose` if the head comes to no target, `calibrate/too-few` if there are
 *   fewer clear touches than asked for, `calibrate/effect` for a name of no effect
 */
export function planTouches(
  machine: Machine,
  targets: readonly Target[],
  rules: PlanRules,
  watch?: Watch,
): TouchPlan {
  const model = modelOf(machine, targets, effectsNamed(machine, targets, rules.also ?? []));
  const { coarse = false } = rules;
  const search = coarse ? COARSE_SEARCH : FINE_SEARCH;
  const suspicious = withEffects(model, openEffects(model));
  const all = candidates(model, coarse);
  const chosen = choose(suspicious, model.parameters.length, all, { ...rules, search }, watch);
  const rounds = Array.from({ length: POSE_ROUNDS }, (_, k) =>
    chosen.filter((__, i) => i % POSE_ROUNDS === k),
  );
  let at = machine.ready;
  const touches = rounds
    .flatMap((round) => {
      const sorted = inOrder(model, round, at);
      at = sorted.at(-1)?.joints ?? at;
      return sorted;
    })
    .map((c, i) => ({ ...c, number: i + 1 }));
  const zero = new Float64Array(model.parameters.length);
  const { active, undetermined } = determinable(model, touches, zero, rules.noise);
  const covariance = inverseSquare(split(jacobianOf(model, touches, zero, active)));
  const expected = model.parameters.map((parameter, p): Estimate => {
    const k = active.indexOf(p);
    const uncertainty = k < 0 ? undefined : rules.noise * Math.sqrt(covariance.get(k, k));
    return { ...parameter, value: 0, uncertainty };
  });
  return { model, touches, expected, undetermined, search };
}

/** @param asked how many of the model's parameters are to be told; the others are only suspected */
function choose(
  model: DeviationModel,
  asked: number,
  all: readonly CandidateTouch[],
  rules: PlanRules & { readonly search: SearchWay },
  watch: Watch | undefined,
): CandidateTouch[] {
  const room = roomOf(model.machine, model.targets, rules.search);
  const n = model.parameters.length;
  const touches = all.map((c): TouchReading => ({ ...c, number: 0 }));
  const active = model.parameters.map((_, i) => i);
  const rows = jacobianOf(model, touches, new Float64Array(n), active).to2DArray();
  const inverse = Float64Array.from({ length: n * n }, (_, i) =>
    i % (n + 1) !== 0 ? 0 : ((i / (n + 1) < asked ? VAGUE : SUSPECTED) / rules.noise) ** 2,
  );
  // Variance of prediction of every candidate; kept current by the rank-one updates.
  const variance = rows.map((row) =>
    row.reduce((sum, x, k) => sum + x * x * inverse[k * (n + 1)]!, 0),
  );
  const open = new Set(all.keys());
  const out: CandidateTouch[] = [];
  while (out.length < rules.touches) {
    step(watch, 'touches', out.length, rules.touches);
    let best = -1;
    for (const i of open) if (best < 0 || variance[i]! > variance[best]!) best = i;
    if (best < 0) throw tooFew(out.length, all.length, rules);
    open.delete(best);
    if (!canTouch(room, all[best]!.joints)) continue;
    out.push(all[best]!);
    update(inverse, n, rows, best, variance);
  }
  return out;
}

/** Sherman and Morrison: the inverse after one more row, and what that leaves of all variances. */
function update(
  inverse: Float64Array,
  n: number,
  rows: readonly number[][],
  taken: number,
  variance: number[],
): void {
  const row = rows[taken]!;
  const side = new Float64Array(n);
  for (let i = 0; i < n; i++) {
    for (let k = 0; k < n; k++) side[i]! += inverse[i * n + k]! * row[k]!;
  }
  const whole = 1 + variance[taken]!;
  rows.forEach((other, r) => {
    let product = 0;
    for (let k = 0; k < n; k++) product += other[k]! * side[k]!;
    variance[r] = variance[r]! - (product * product) / whole;
  });
  for (let i = 0; i < n; i++) {
    for (let k = 0; k < n; k++) inverse[i * n + k]! -= (side[i]! * side[k]!) / whole;
  }
}

function tooFew(
  found: number,
  tried: number,
  { touches: wanted, search }: PlanRules & { readonly search: SearchWay },
): Fault {
  return found === 0
    ? new Fault(
        'calibrate/no-pose',
        `none of ${tried} places and poses tried lets the tip touch with the head clear by its clearance and ${search.margin} mm`,
      )
    : new Fault(
        'calibrate/too-few',
        `only ${found} touches are clear, ${wanted} were asked for; ask for fewer, or move the target to where the head has more room`,
      );
}

/** Pose after pose, always to the nearest one in turning time, so that little is turned. */
function inOrder(
  model: DeviationModel,
  chosen: readonly CandidateTouch[],
  from: Float64Array,
): CandidateTouch[] {
  const { joints } = model.machine;
  const cost = (a: Float64Array, b: Float64Array): number =>
    joints.reduce(
      (sum, j, i) => sum + (j.kind === 'rotary' ? 1000 : 1) * (Math.abs(a[i]! - b[i]!) / j.speed),
      0,
    );
  const left = [...chosen];
  const out: CandidateTouch[] = [];
  let at = from;
  while (left.length) {
    let best = 0;
    left.forEach((c, i) => {
      if (cost(at, c.joints) < cost(at, left[best]!.joints)) best = i;
    });
    const [next] = left.splice(best, 1);
    out.push(next!);
    at = next!.joints;
  }
  return out;
}
