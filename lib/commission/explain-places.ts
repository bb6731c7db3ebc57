/**
 * Machines that differ from the file's in one thing, or in two, and bring the tip to where it was measured. What
 * differs by an amount is fitted by Gauss-Newton with central differences; the place of the tip is affine in the
 * place of the tip at zero and in the points of the axes, so that for these it is exact after one step.
 */
import { Matrix } from 'ml-matrix';
import { DEG, type Vec3, add, cross, scale, square, sub } from '../base/vector.js';
import { solution, split } from '../calibrate/least-squares.js';
import { jointsOf } from '../machine/joint-chain.js';
import type { Machine } from '../machine/machine.js';
import type { ProofPlan } from './proof-plan.js';
import {
  type OtherMachine,
  asWritten,
  orderedPairs,
  tipOf,
  withOrder,
  withPoint,
  withTipAt,
  withZero,
} from './wrong-machines.js';

export type PlaceChange =
  | { readonly what: 'order'; readonly joint: number }
  | { readonly what: 'axis-place'; readonly joint: number; readonly to: Vec3 }
  | { readonly what: 'zero'; readonly joint: number; readonly by: number }
  | { readonly what: 'tip'; readonly to: Vec3 };

export interface PlaceExplanation {
  readonly changes: readonly PlaceChange[];
  /** Greatest deviation that is left along any axis, mm. */
  readonly left: number;
}

/** Something that may be wrong, with as many amounts as it has; 0 leaves it as written. */
interface WrongValue {
  readonly amounts: number;
  /** Where the fit begins, one list a start. */
  readonly starts: readonly (readonly number[])[];
  readonly apply: (to: OtherMachine, x: readonly number[]) => OtherMachine;
  readonly change: (x: readonly number[]) => PlaceChange;
}

/**
 * @param places measured, part frame, mm, one for each pose
 * @param within deviation that may be left, mm
 * @returns those that explain all places, the best first: in one thing if there is one, else in two
 */
export function explainPlaces(
  plan: ProofPlan,
  places: readonly Vec3[],
  within: number,
): PlaceExplanation[] {
  const suspects = suspectsOf(plan.machine);
  const singles = suspects.map((s) => [s]);
  const pairs = suspects.flatMap((a, i) => suspects.slice(i + 1).map((b) => [a, b]));
  for (const tries of [singles, pairs]) {
    const found = tries
      .map((some) => bestFit(plan, places, some))
      .filter(({ left }) => left <= within)
      .sort((a, b) => a.left - b.left);
    // What explains it twice as badly as the best is no rival.
    if (found.length > 0) return found.filter(({ left }) => left <= 2 * found[0]!.left + 0.5);
  }
  return [];
}

function suspectsOf(machine: Machine): WrongValue[] {
  const orders = orderedPairs(machine).map((joint): WrongValue => ({
    amounts: 0,
    starts: [[]],
    apply: (to) => withOrder(to, joint),
    change: () => ({ what: 'order', joint }),
  }));
  const axes = jointsOf(machine, 'rotary').flatMap((joint): WrongValue[] => {
    const { axis, point, carriesTable } = machine.joints[joint]!;
    const u = square(axis);
    const v = cross(axis, u);
    const at = ([a = 0, b = 0]: readonly number[]): Vec3 =>
      add(point, add(scale(u, a), scale(v, b)));
    const place: WrongValue = {
      amounts: 2,
      starts: [[0, 0]],
      apply: (to, x) => withPoint(to, indexIn(to, machine, joint), at(x)),
      change: (x) => ({ what: 'axis-place', joint, to: at(x) }),
    };
    const zero: WrongValue = {
      amounts: 1,
      starts: [0, 90, 180, -90].map((deg) => [deg * DEG]),
      apply: (to, [by = 0]) => withZero(to, indexIn(to, machine, joint), by),
      change: ([by = 0]) => ({ what: 'zero', joint, by: wrapped(by) }),
    };
    // The cross on the table is drawn where the joint next to it says zero, so that zero cannot be wrong.
    const last = joint === machine.joints.length - 1;
    return carriesTable && last ? [place] : [place, zero];
  });
  const tip: WrongValue = {
    amounts: 3,
    starts: [[0, 0, 0]],
    apply: (to, x) => withTipAt(to, add(machine.tip, x as unknown as Vec3)),
    change: (x) => ({ what: 'tip', to: add(machine.tip, x as unknown as Vec3) }),
  };
  return [...orders, ...axes, tip];
}

/** Where a joint of the file's machine stands in one whose order is another. */
const indexIn = (to: OtherMachine, machine: Machine, joint: number): number =>
  to.machine.joints.findIndex((j) => j.letter === machine.joints[joint]!.letter);

const wrapped = (x: number): number => x - 2 * Math.PI * Math.round(x / (2 * Math.PI));

const MOST_ROUNDS = 30;
const STEP = 1e-4;

function bestFit(
  { machine, poses }: ProofPlan,
  places: readonly Vec3[],
  some: readonly WrongValue[],
): PlaceExplanation {
  const amounts = some.map((_, i) => some.slice(0, i).reduce((n, o) => n + o.amounts, 0));
  const part = (x: readonly number[], i: number): readonly number[] =>
    x.slice(amounts[i], amounts[i]! + some[i]!.amounts);
  const residual = (x: readonly number[]): number[] => {
    const other = some.reduce((m, s, i) => s.apply(m, part(x, i)), asWritten(machine));
    return poses.flatMap(({ joints }, k) => [...sub(tipOf(other, joints), places[k]!)]);
  };
  const starts = some.reduce<number[][]>(
    (all, s) => all.flatMap((x) => s.starts.map((more) => [...x, ...more])),
    [[]],
  );
  let best: PlaceExplanation | undefined;
  for (const start of starts) {
    const x = gaussNewton(residual, start);
    const left = residual(x).reduce((most, r) => Math.max(most, Math.abs(r)), 0);
    if (best && best.left <= left) continue;
    best = { changes: some.map((s, i) => s.change(part(x, i))), left };
  }
  return best!;
}

/** Least squares from a start; as far as it came where it does not converge. */
function gaussNewton(
  residual: (x: readonly number[]) => number[],
  start: readonly number[],
): number[] {
  let x = [...start];
  if (x.length === 0) return x;
  let r = residual(x);
  for (let round = 0; round < MOST_ROUNDS; round++) {
    const columns = x.map((_, i) => {
      const at = (by: number): number[] => residual(x.map((v, k) => (k === i ? v + by : v)));
      const [ahead, behind] = [at(STEP), at(-STEP)];
      return ahead.map((a, k) => (a - behind[k]!) / (2 * STEP));
    });
    const rows = new Matrix(r.map((_, k) => columns.map((c) => c[k]!)));
    const move = solution(split(rows), r);
    if (!move.every(Number.isFinite)) return x;
    const next = x.map((v, i) => v - move[i]!);
    const after = residual(next);
    if (squares(after) >= squares(r) * (1 - 1e-12)) return x;
    [x, r] = [next, after];
  }
  return x;
}

const squares = (r: readonly number[]): number => r.reduce((sum, v) => sum + v * v, 0);
