/**
 * How the rotary joints stand in each run: the runs in printing order come in, for each of them the
 * rotary values and the affine map from layer space to the joints go out. Of the inverse's solutions,
 * in all windings that the travel or the turns of a cable allow, those are taken that keep every point
 * of the run inside the travel of every joint and whose transfers together take the least time
 * (shortest path through the solutions of all runs; the time of a transfer is that of the slowest
 * joint from where one run ends to where the next begins). A cable so unwinds in the transfer in which
 * it costs least. An endless axis takes the winding nearest to where it stands. At tilt 0 the free
 * joint keeps its value, unless the run does not fit so.
 */
import { DEG, type Vec3 } from '../base/vector.js';
import type { Violation } from '../machine/inverse.js';
import { TRAVEL_SLACK, limitOf, rotaryPair, solveRotaries } from '../machine/inverse.js';
import { type LinearMap, linearMap, mapInto } from '../machine/linear.js';
import type { Joint, Machine } from '../machine/machine.js';
import { moveSeconds } from './move.js';

/** The points of a run as far as travel is concerned. */
export interface RunPoints {
  /** Unit build direction, part frame. */
  readonly direction: Vec3;
  /** Packed x y z, part frame, mm: every place the tip goes to, in order. */
  readonly points: Float64Array;
}

export interface Stance {
  readonly map: LinearMap;
  /** Empty if every point of the run is inside of all travel. */
  readonly violations: readonly Violation[];
}

interface State extends Stance {
  readonly cost: number;
  /** Joint values where the run ends. */
  readonly end: Float64Array;
  readonly before: State | undefined;
}

/** Steps in which the free joint is tried at the pole, rad. */
const FREE_STEP = 15 * DEG;
/** Ways to stand that are carried on from run to run, the quickest ones. */
const KEPT = 64;
/** A stance that breaks a travel is worse than any turning, s. */
const BROKEN = 1e6;

/**
 * @param from joint values before the first run
 * @returns a stance a run, or undefined for runs whose direction no solution reaches
 */
export function chooseStances(
  machine: Machine,
  runs: readonly RunPoints[],
  from: Float64Array,
): (Stance | undefined)[] {
  const chosen: (Stance | undefined)[] = [];
  let states: State[] = [];
  const first = { end: from, cost: 0, state: undefined as State | undefined };
  const columns = runs.map((run) => {
    const starts = states.length
      ? states.map((s) => ({ end: s.end, cost: s.cost, state: s }))
      : [first];
    const next: State[] = [];
    for (const start of starts) {
      for (const stance of stancesFor(machine, run, start.end)) {
        const cost =
          start.cost +
          moveSeconds(machine, start.end, poseAt(stance.map, run.points, 0, start.end)) +
          (stance.violations.length ? BROKEN : 0);
        const end = poseAt(stance.map, run.points, run.points.length - 3, start.end);
        addBest(next, { ...stance, cost, end, before: start.state });
      }
    }
    if (next.length) states = next.sort((a, b) => a.cost - b.cost).slice(0, KEPT);
    return next.length > 0;
  });
  let state = states.reduce<State | undefined>(
    (a, b) => (a && a.cost <= b.cost ? a : b),
    undefined,
  );
  for (let i = runs.length - 1; i >= 0; i--) {
    chosen[i] = columns[i] ? state : undefined;
    if (columns[i]) state = state?.before;
  }
  return chosen;
}

/** Keeps one state for each pair of rotary values. */
function addBest(states: State[], state: State): void {
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

/** All windings of a rotary joint inside its travel, rad; the value alone where there is no end to them. */
function windings(joint: Joint, value: number): number[] {
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

function stancesFor(machine: Machine, run: RunPoints, near: Float64Array): Stance[] {
  const out: Stance[] = [];
  for (const { joints, violations, pole } of solveRotaries(machine, run.direction, near)) {
    const stance = fit(machine, run, joints, violations);
    if (!stance) continue;
    // A whole turn changes no place: what fits in one winding fits in all.
    for (const values of wound(machine, joints)) {
      out.push({ ...stance, map: { ...stance.map, rotaries: values } });
    }
    if (pole && stance.violations.length) out.push(...turnedStances(machine, run, stance));
  }
  const fitting = out.filter((s) => s.violations.length === 0);
  return fitting.length ? fitting : out;
}

/** At the pole any value of the free joint will do: those tried from near to far that fit. */
function turnedStances(machine: Machine, run: RunPoints, stance: Stance): Stance[] {
  const free = rotaryPair(machine).first;
  for (let k = 1; k * FREE_STEP <= Math.PI + 1e-9; k++) {
    const both = [k, -k].flatMap((n) => {
      const joints = stance.map.rotaries.slice();
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
): Stance | undefined {
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
