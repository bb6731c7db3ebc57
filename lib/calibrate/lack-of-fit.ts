/**
 * Lack of fit: whether the residuals of a fit are what the stated noise of a touch makes of them, and which effect
 * that the fit leaves out they look like.
 *
 * The sum of squares is held against chi-squared. Each suspected effect is then tested by itself (score test, Rao
 * 1948, from memory): the part of what it would do to the readings that no deviation can imitate is projected on
 * the residuals; for clean readings the square of that, over the noise, is chi-squared with a degree of freedom per
 * column. The most significant effect is taken in, the rest is tested again beside it, and so on (forward
 * selection), so that one effect does not raise the alarm for its look-alikes; those that explain nearly as much are
 * named with it as rivals. Where the residuals scatter by more than was stated even with the effect, their own
 * scatter is the measure. The level is shared among all tests (Bonferroni), so a clean machine raises an alarm in at
 * most that share of fits.
 */
import type { Matrix } from 'ml-matrix';
import { chiSquaredTail } from './chi-squared.js';
import type { Effect, Variable } from './effect.js';

/** Share of clean fits in which anything at all may be reported. */
export const LEVEL_OF_TESTS = 0.015;
/** Share of it that the effects have: what has a cause is looked for more closely than what has none. */
const SHARE_OF_EFFECTS = 0.8;

/** An effect that the residuals show. */
export interface Pattern {
  readonly effect: Effect;
  /** Amounts of the effect's columns, in its order; those that the touches cannot tell are zero. */
  readonly amounts: readonly number[];
  /** Standard uncertainties of the amounts, for the noise that the test used. */
  readonly uncertainties: readonly number[];
  /** Share of clean fits in which it would show as clearly by chance. */
  readonly chance: number;
  /** Effects that explain the residuals nearly as well. */
  readonly rivals: readonly Effect[];
}

/** Residuals that run with a variable though no known effect explains it. */
export interface Trend {
  readonly against: Variable;
  readonly chance: number;
}

export interface LackOfFit {
  readonly level: number;
  /** Sum of squared residuals over the squared noise that was stated, as fitted. */
  readonly chiSquared: number;
  readonly freedom: number;
  /** Share of clean fits in which it is larger. */
  readonly chance: number;
  readonly patterns: readonly Pattern[];
  readonly trends: readonly Trend[];
  /** True if the residuals are more than the stated noise makes of them. */
  readonly scattered: boolean;
  /** Chance of what is left once the patterns are taken out. */
  readonly rest: number;
}

/** What an effect would do to the readings: a column for each of its amounts. */
export interface Suspect {
  readonly effect: Effect;
  readonly columns: readonly (readonly number[])[];
}

export interface Residuals {
  /** mm */
  readonly left: Float64Array;
  /** Orthonormal columns: what the fit can imitate. */
  readonly basis: Matrix;
  /** Standard deviation of one touch that was stated, mm. */
  readonly noise: number;
}

/** An amount that the touches would know no better than this is not asked for, mm. */
const TELLING = 0.1;
/** Most effects that are named. */
const MOST_PATTERNS = 4;
/** A rival's likelihood is at least this share of the best one's. */
const RIVAL_SHARE = 0.05;

/** Columns made square to a basis and to one another; those of which nothing is left fall out. */
function squared(
  columns: readonly (readonly number[])[],
  basis: readonly number[][],
  noise: number,
): number[][] {
  const out: number[][] = [];
  for (const column of columns) {
    let own = [...column];
    // Twice, or rounding leaves something of a column that the fit imitates almost wholly.
    for (let pass = 0; pass < 2; pass++) {
      for (const b of [...basis, ...out]) own = minus(own, b, inner(own, b));
    }
    const size = Math.sqrt(inner(own, own));
    if (size * TELLING > noise) out.push(own.map((v) => v / size));
  }
  return out;
}

const inner = (a: ArrayLike<number>, b: ArrayLike<number>): number => {
  let sum = 0;
  for (let i = 0; i < a.length; i++) sum += a[i]! * b[i]!;
  return sum;
};
const minus = (a: number[], b: readonly number[], s: number): number[] =>
  a.map((v, i) => v - s * b[i]!);

interface Score {
  readonly suspect: Suspect;
  readonly axes: number[][];
  /** Squares that the effect takes away, over the squared noise of the test. */
  readonly gain: number;
  readonly noise: number;
  readonly chance: number;
}

/**
 * @param suspects effects with what they would do to the readings
 * @param trends columns by variable that stand for any smooth course
 */
export function lackOfFit(
  { left, basis, noise }: Residuals,
  suspects: readonly Suspect[],
  trends: ReadonlyMap<Variable, readonly (readonly number[])[]>,
): LackOfFit {
  const start = columnsOf(basis);
  const freedom = left.length - start.length;
  const squares = inner(left, left);
  const chance = chiSquaredTail(squares / noise ** 2, freedom);
  const level = (SHARE_OF_EFFECTS * LEVEL_OF_TESTS) / Math.max(1, suspects.length);
  const otherLevel = ((1 - SHARE_OF_EFFECTS) * LEVEL_OF_TESTS) / (1 + trends.size);
  const taken: Score[] = [];
  const rivals = new Map<Suspect, Suspect[]>();
  let axes = start;
  let rest = [...left];
  while (taken.length < MOST_PATTERNS) {
    const open = suspects.filter((s) => !taken.some((t) => t.suspect === s));
    const scores = open
      .map((s) => scoreOf(s, s.columns, rest, axes, noise))
      .filter((s) => s !== undefined && s.chance < level) as Score[];
    const best = scores.reduce<Score | undefined>((a, b) => (a && better(a, b) ? a : b), undefined);
    if (!best) break;
    taken.push(best);
    axes = [...axes, ...best.axes];
    for (const axis of best.axes) rest = minus(rest, axis, inner(rest, axis));
    rivals.set(
      best.suspect,
      scores
        .filter((s) => s !== best && Math.exp((s.gain - best.gain) / 2) > RIVAL_SHARE)
        .map((s) => s.suspect),
    );
  }
  const remaining = left.length - axes.length;
  return {
    level: LEVEL_OF_TESTS,
    chiSquared: squares / noise ** 2,
    freedom,
    chance,
    scattered: chance < otherLevel,
    patterns: taken.map((t) => ({
      effect: t.suspect.effect,
      ...amountsOf(t, left, start, taken),
      chance: t.chance,
      rivals: rivals.get(t.suspect)!.map((s) => s.effect),
    })),
    trends: [...trends].flatMap(([against, columns]) => {
      const score = scoreOf(undefined, columns, rest, axes, noise);
      return score && score.chance < otherLevel ? [{ against, chance: score.chance }] : [];
    }),
    rest: chiSquaredTail(inner(rest, rest) / noise ** 2, remaining),
  };
}

const better = (a: Score, b: Score): boolean =>
  a.chance === b.chance ? a.gain >= b.gain : a.chance < b.chance;

function scoreOf<S extends Suspect | undefined>(
  suspect: S,
  columns: readonly (readonly number[])[],
  rest: readonly number[],
  basis: readonly number[][],
  stated: number,
): (Omit<Score, 'suspect'> & { suspect: S }) | undefined {
  const axes = squared(columns, basis, stated);
  const freedom = rest.length - basis.length - axes.length;
  if (axes.length === 0 || freedom < 1) return undefined;
  const gain = axes.reduce((sum, axis) => sum + inner(axis, rest) ** 2, 0);
  const scatter = Math.sqrt(Math.max(0, inner(rest, rest) - gain) / freedom);
  const noise = Math.max(stated, scatter);
  const over = gain / noise ** 2;
  return { suspect, axes, gain: over, noise, chance: chiSquaredTail(over, axes.length) };
}

const columnsOf = (m: Matrix): number[][] =>
  Array.from({ length: m.columns }, (_, k) => m.getColumn(k));

/** Amounts of an effect beside the fit and the other effects that were taken in, by least squares. */
function amountsOf(
  score: Score,
  left: Float64Array,
  basis: readonly number[][],
  taken: readonly Score[],
): Pick<Pattern, 'amounts' | 'uncertainties'> {
  const { suspect, noise } = score;
  const others = taken.filter((t) => t !== score).flatMap((t) => t.suspect.columns);
  const beside = [...basis, ...squared(others, basis, noise)];
  const told = suspect.columns.map((column, k) => {
    const rest = suspect.columns.filter((_, i) => i !== k);
    const [axis] = squared([column], [...beside, ...squared(rest, beside, noise)], noise);
    if (!axis) return undefined;
    const size = inner(axis, column);
    // The fit has brought the remaining distances down, so an effect shows with the sign turned round.
    return { amount: -inner(axis, left) / size, uncertainty: noise / size };
  });
  return {
    amounts: told.map((t) => t?.amount ?? 0),
    uncertainties: told.map((t) => t?.uncertainty ?? 0),
  };
}
