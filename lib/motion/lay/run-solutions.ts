/**
 * Which of the solutions of the inverse kinematics the rotary joints take in each run. Every direction has
 * two solutions or more, each in all windings that the travel or the twist of a cable allows. Those are
 * taken that keep every point of the run inside the travel of every joint and whose transfers together take
 * the least time: a shortest path through the solutions of all runs (dynamic programming, Bellman 1957),
 * where a transfer takes as long as its slowest joint from where one run ends to where the next begins. A
 * cable thus unwinds in the transfer in which that costs least. An endless axis takes the winding nearest
 * to where it stands. At tilt 0 the free joint keeps its value, unless the run does not fit that way.
 *
 * Of sequences that take equally long the one that turns less is taken: while Z comes down from its ready
 * position, whole turns of the table cost no time, and yet the job should not begin with them. For the same
 * reason a start more than half a turn away has to save `START_WORTH` later, and that is reported.
 */
import { DEG, type Vec3 } from '../../base/vector.js';
import type { Violation } from '../../machine/inverse.js';
import { TRAVEL_SLACK, limitOf, rotaryPair, solveRotaries } from '../../machine/inverse.js';
import { type LinearMap, linearMap, mapInto } from '../../machine/linear.js';
import type { Joint, Machine } from '../../machine/machine.js';
import { moveSeconds } from '../timing/rest-to-rest.js';

/** The points of a run as far as travel is concerned. */
export interface RunPoints {
  /** Unit build direction, part frame. */
  readonly direction: Vec3;
  /** Packed x y z, part frame, mm: every place the tip goes to, in order. */
  readonly points: Float64Array;
}

export interface RunSolution {
  readonly map: LinearMap;
  /** Empty if every point of the run is inside of all travel. */
  readonly violations: readonly Violation[];
}

interface RunState extends RunSolution {
  readonly cost: number;
  /** Joint values where the run ends. */
  readonly end: Float64Array;
  readonly before: RunState | undefined;
}

/** Steps in which the free joint is tried at the pole, rad. */
const FREE_STEP = 15 * DEG;
/** Solutions that are carried on from run to run, the quickest ones. */
const KEPT = 64;
/** A solution that breaks a travel is worse than any turning, s. */
const BROKEN = 1e6;
/** What turning costs beside its time, s per rad: it decides between sequences that take equally long. */
const TURNING_COST = 1e-6;
/** A first run more than half a turn from where the joints are ready must save this, s. */
const START_WORTH = 1;

export interface RunSolutions {
  /** One per run; undefined where no solution reaches the run's direction. */
  readonly runs: readonly (RunSolution | undefined)[];
  /** Time that a start more than half a turn away saves against one that is nearer, s; 0 for a near one. */
  readonly saved: number;
}

/** @param from joint values before the first run */
export function chooseSolutions(
  machine: Machine,
  runs: readonly RunPoints[],
  from: Float64Array,
): RunSolutions {
  const free = leastTime(machine, runs, from, () => true);
  const isNear = (solution: RunSolution): boolean =>
    nearStart(machine, solution.map.rotaries, from);
  const first = free.solutions.find((solution) => solution);
  if (!first || isNear(first)) return { runs: free.solutions, saved: 0 };
  const near = leastTime(machine, runs, from, isNear);
  const saved = near.cost - free.cost;
  return saved < START_WORTH ? { runs: near.solutions, saved: 0 } : { runs: free.solutions, saved };
}

/** True if no joint has to turn by more than half a turn. */
function nearStart({ joints }: Machine, to: Float64Array, from: Float64Array): boolean {
  return joints.every(
    ({ kind }, j) => kind !== 'rotary' || Math.abs(to[j]! - from[j]!) <= Math.PI + TRAVEL_SLACK,
  );
}

/**
 * @param starts which solutions the first run may take, where it has any of them
 * @returns one solution per run, or undefined for runs whose direction no solution reaches
 */
function leastTime(
  machine: Machine,
  runs: readonly RunPoints[],
  from: Float64Array,
  starts: (solution: RunSolution) => boolean,
): { solutions: (RunSolution | undefined)[]; cost: number } {
  const chosen: (RunSolution | undefined)[] = [];
  let states: RunState[] = [];
  const columns = runs.map((run) => {
    const next: RunState[] = [];
    for (const before of states.length ? states : [undefined]) {
      const at = before?.end ?? from;
      const all = solutionsFor(machine, run, at);
      const wanted = before ? all : all.filter(starts);
      for (const solution of wanted.length ? wanted : all) {
        const begin = poseAt(solution.map, run.points, 0, at);
        const cost =
          (before?.cost ?? 0) +
          moveSeconds(machine, at, begin) +
          TURNING_COST * turning(machine, at, begin) +
          (solution.violations.length ? BROKEN : 0);
        const end = poseAt(solution.map, run.points, run.points.length - 3, at);
        addBest(next, { ...solution, cost, end, before });
      }
    }
    if (next.length) states = next.sort((a, b) => a.cost - b.cost).slice(0, KEPT);
    return next.length > 0;
  });
  let state: RunState | undefined = states[0];
  const cost = state?.cost ?? 0;
  for (let i = runs.length - 1; i >= 0; i--) {
    chosen[i] = columns[i] ? state : undefined;
    if (columns[i]) state = state?.before;
  }
  return { solutions: chosen, cost };
}

/** How far the rotary joints turn together, rad. */
function turning({ joints }: Machine, a: Float64Array, b: Float64Array): number {
  return joints.reduce(
    (sum, { kind }, j) => (kind === 'rotary' ? sum + Math.abs(b[j]! - a[j]!) : sum),
    0,
  );
}

/** Keeps one state for each pair of rotary values. */
function addBest(states: RunState[], state: RunState): void {
  const same = states.findIndex((s) =>
    s.map.rotaries.every((v, j) => Math.abs(v - state.map.rotaries[j]!) < 1e-9),
  );
  if (same < 0) states.push(state);
  else if (state.cost < states[same]!.cost) states[same] = state;
}

/** Joint values with the tip at a point of the run; those of `near` if it has none. */
function poseAt(
  map: LinearMap,
  points: Float64Array,
  at: number,
  near: Float64Array,
): Float64Array {
  const out = near.slice();
  map.rotaries.forEach((value, i) => (out[i] = value));
  if (at < 0 || points.length === 0) {
    for (const i of map.linear) out[i] = near[i]!;
    return out;
  }
  mapInto(map, points[at]!, points[at + 1]!, points[at + 2]!, out, 0);
  return out;
}

/** All windings of a rotary joint inside its travel, rad; the value alone for an endless joint. */
export function windings(joint: Joint, value: number): number[] {
  if (joint.kind !== 'rotary' || !Number.isFinite(joint.most - joint.least)) return [value];
  if (limitOf(joint, value) !== undefined) return [value];
  const out: number[] = [];
  const turn = 2 * Math.PI;
  const lowest = Math.ceil((joint.least - value - TRAVEL_SLACK) / turn);
  for (let k = lowest; value + k * turn <= joint.most + TRAVEL_SLACK; k++) {
    out.push(value + k * turn);
  }
  return out;
}

/** Every combination of the windings of the joints. */
function wound(machine: Machine, joints: Float64Array): Float64Array[] {
  return machine.joints.reduce<Float64Array[]>(
    (all, joint, i) =>
      all.flatMap((values) =>
        windings(joint, values[i]!).map((value) => {
          const copy = values.slice();
          copy[i] = value;
          return copy;
        }),
      ),
    [joints],
  );
}

function solutionsFor(machine: Machine, run: RunPoints, near: Float64Array): RunSolution[] {
  const out: RunSolution[] = [];
  for (const { joints, violations, pole } of solveRotaries(machine, run.direction, near)) {
    const solution = fit(machine, run, joints, violations);
    if (!solution) continue;
    // A whole turn changes no place: what fits in one winding fits in all.
    for (const values of wound(machine, joints)) {
      out.push({ ...solution, map: { ...solution.map, rotaries: values } });
    }
    if (pole && solution.violations.length) out.push(...turnedSolutions(machine, run, solution));
  }
  const fitting = out.filter((s) => s.violations.length === 0);
  return fitting.length ? fitting : out;
}

/** At the pole any value of the free joint will do: those that fit, tried from near to far. */
function turnedSolutions(machine: Machine, run: RunPoints, solution: RunSolution): RunSolution[] {
  const free = rotaryPair(machine).first;
  for (let k = 1; k * FREE_STEP <= Math.PI + 1e-9; k++) {
    const both = [k, -k].flatMap((n) => {
      const joints = solution.map.rotaries.slice();
      joints[free]! += n * FREE_STEP;
      const limit = limitOf(machine.joints[free]!, joints[free]!);
      const turned = limit === undefined ? fit(machine, run, joints, []) : undefined;
      return turned && turned.violations.length === 0 ? [turned] : [];
    });
    if (both.length) return both;
  }
  return [];
}

function fit(
  machine: Machine,
  run: RunPoints,
  rotaries: Float64Array,
  known: readonly Violation[],
): RunSolution | undefined {
  const map = linearMap(machine, rotaries);
  return map && { map, violations: [...known, ...linearViolations(machine, map, run.points)] };
}

/** The farthest value of each linear joint over the points that is outside of its travel. */
export function linearViolations(
  machine: Machine,
  map: LinearMap,
  points: Float64Array,
): Violation[] {
  const m = map.matrix;
  return map.linear.flatMap((joint, k): Violation[] => {
    let least = Infinity;
    let most = -Infinity;
    for (let i = 0; i < points.length; i += 3) {
      const value =
        m[4 * k]! * points[i]! +
        m[4 * k + 1]! * points[i + 1]! +
        m[4 * k + 2]! * points[i + 2]! +
        m[4 * k + 3]!;
      if (value < least) least = value;
      if (value > most) most = value;
    }
    if (least > most) return [];
    return [least, most].flatMap((value) => {
      const limit = limitOf(machine.joints[joint]!, value);
      return limit === undefined ? [] : [{ joint, value, limit }];
    });
  });
}
