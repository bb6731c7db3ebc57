/**
 * What a fit must suspect: the columns of effects that its model leaves out, at given touches, and columns that
 * stand for any smooth course of the residuals with tilt, turn, time, height, place and side.
 */
import type { Matrix } from 'ml-matrix';
import { type Vec3, along, cross, dot, square, sub } from '../base/vector.js';
import { jointsOf } from '../machine/joint-chain.js';
import { forward } from '../machine/forward.js';
import { type DeviationModel, turningTable, withEffects } from './deviation-model.js';
import type { DeviatedMachine, Effect, Variable } from './effect.js';
import { effectsOf, tiltingJoints } from './effects.js';
import type { Suspect } from './lack-of-fit.js';
import { type TouchReading, jacobianOf } from './least-squares.js';
import { kindOf } from './targets.js';

/** Effects that a model leaves out. */
export const openEffects = ({ machine, targets, effects, stands }: DeviationModel): Effect[] =>
  effectsOf(machine, targets, stands).filter(({ name }) => !effects.some((e) => e.name === name));

/** What the effects that a model leaves out would do to the remaining distances: a row per touch. */
export function effectRows(
  model: DeviationModel,
  touches: readonly TouchReading[],
  x: Float64Array,
): Matrix {
  const whole = withEffects(model, openEffects(model));
  const at = new Float64Array(whole.parameters.length);
  at.set(x);
  return jacobianOf(
    whole,
    touches,
    at,
    [...at.keys()].filter((p) => p >= x.length),
  );
}

export function suspectsOf(
  model: DeviationModel,
  touches: readonly TouchReading[],
  x: Float64Array,
): Suspect[] {
  const rows = effectRows(model, touches, x);
  let next = 0;
  return openEffects(model).map((effect) => ({
    effect,
    columns: effect.columns.map(() => rows.getColumn(next++)),
  }));
}

/** Values of a touch by which residuals are plotted and tested: mm, rad and numbers of touches. */
export function variablesOf(
  { machine, targets, stands, slack }: DeviatedMachine,
  { aim, joints, number }: TouchReading,
): Record<Variable, readonly number[]> {
  const { tip, direction } = forward(machine, stands.told(joints, slack));
  const turning = turningTable(machine);
  const linear = jointsOf(machine, 'linear');
  const upright = (i: number): boolean => Math.abs(machine.joints[i]!.axis[2]) > Math.SQRT1_2;
  const target = targets.find((t) => t.kind === kindOf(aim))!;
  return {
    tilt: tiltingJoints(machine).map((i) => joints[i]!),
    turn: turning < 0 ? [] : [joints[turning]!],
    time: [number],
    height: linear.filter(upright).map((i) => joints[i]!),
    place: linear.filter((i) => !upright(i)).map((i) => joints[i]!),
    side: target.kind === 'ball' ? aside(sub(tip, target.at), direction) : [0, 0],
  };
}

/** Where a ball is touched, across the head's axis, mm. */
function aside(off: Vec3, up: Vec3): [number, number] {
  const flat = along(off, up, -dot(off, up));
  const u = square(up);
  return [dot(flat, u), dot(flat, cross(up, u))];
}

/** Columns for any smooth course with each variable. */
export function trendsOf(
  state: DeviatedMachine,
  touches: readonly TouchReading[],
): Map<Variable, number[][]> {
  const values = touches.map((t) => variablesOf(state, t));
  const columns = (
    variable: Variable,
    make: (value: readonly number[]) => number[],
  ): number[][] => {
    const rows = values.map((v) => make(v[variable]));
    return (rows[0] ?? []).map((_, k) => rows.map((row) => row[k]!));
  };
  const powers = (size: number) => (value: readonly number[]) =>
    value.flatMap((v) => [v / size, (v / size) ** 2, (v / size) ** 3]);
  const most = Math.max(1, ...touches.map((t) => t.number));
  const out = new Map<Variable, number[][]>([
    ['tilt', columns('tilt', powers(1))],
    ['turn', columns('turn', (v) => v.flatMap((c) => harmonics(c)))],
    ['time', columns('time', powers(most))],
    ['height', columns('height', powers(PLACE_LEVER))],
    ['place', columns('place', powers(PLACE_LEVER))],
    ['side', columns('side', ([x, y]) => [x!, y!, x! * x! + y! * y!].map((s) => s / SIDE_LEVER))],
  ]);
  return new Map([...out].filter(([, own]) => own.length > 0));
}

const harmonics = (c: number): number[] =>
  [1, 2, 3].flatMap((k) => [Math.cos(k * c), Math.sin(k * c)]);

/** What places and sides are measured by, mm, so that columns are near 1. */
const PLACE_LEVER = 100;
const SIDE_LEVER = 5;
