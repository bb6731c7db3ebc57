/**
 * A machine and its targets with a list of deviations applied. Every deviation is a number near 1 for an
 * error of 1 mm, at a lever of 100 mm for angles, so that all of them have equal weight.
 *
 * Each rotary axis has two errors of direction and two of position, eight for two axes (IJPEM 2024,
 * s12541-024-00966-0). The zero of the tilting joint is no ninth: turning all that it carries about its
 * axis moves direction and position of the next axis, which are among the eight.
 */
import { applyDirection, buildFromPart, inverse, turn } from '../base/frame.js';
import {
  DEG,
  type Vec3,
  add,
  along,
  angle,
  cross,
  dot,
  length,
  scale,
  sub,
  unit,
} from '../base/vector.js';
import { jointsOf } from '../machine/joint-chain.js';
import type { Joint, Machine } from '../machine/machine.js';
import { stiffnessAt } from '../machine/standing-joints.js';
import { type DeviatedMachine, type Effect, type EffectColumn, SCALE } from './effect.js';
import type { Target } from './targets.js';
import { type Slack, TouchStands } from './touch-stands.js';

export type DeviationGroup =
  'axis' | 'face' | 'run-out' | 'square' | 'tip' | 'give' | 'play' | 'target' | 'effect';

export interface Parameter {
  readonly name: string;
  readonly group: DeviationGroup;
  readonly kind: 'angle' | 'length';
  /** What a deviation of 1 is for people. */
  readonly shown: EffectColumn['shown'];
}

/** rad for a deviation of 1. */
export const ANGLE = 0.01;

export const IN_MM: EffectColumn['shown'] = { size: 1, unit: 'mm' };
export const IN_DEG: EffectColumn['shown'] = { size: ANGLE / DEG, unit: 'deg' };

export interface DeviationModel {
  readonly machine: Machine;
  readonly targets: readonly Target[];
  /** Effects that are asked for beside the errors of axes, face and tip. */
  readonly effects: readonly Effect[];
  /** Deviations in their order; those of the effects, a column each, come last. */
  readonly parameters: readonly Parameter[];
  /** Where its joints stand at a touch. */
  readonly stands: TouchStands;
}

const AXES: readonly Vec3[] = [
  [1, 0, 0],
  [0, 1, 0],
  [0, 0, 1],
];
const AXIS_NAMES = 'XYZ';

/** The two machine axes most nearly square to a direction, as unit vectors square to it. */
function sideways(w: Vec3): { readonly names: string; readonly u: Vec3; readonly v: Vec3 } {
  const order = [0, 1, 2].sort((i, j) => Math.abs(w[i]!) - Math.abs(w[j]!));
  const [a, b] = order.slice(0, 2).sort() as [number, number];
  const flat = (d: Vec3, n: Vec3): Vec3 => unit(sub(d, scale(n, dot(d, n))));
  const u = flat(AXES[a]!, w);
  const v = flat(sub(AXES[b]!, scale(u, dot(AXES[b]!, u))), w);
  return { names: `${AXIS_NAMES[a]}${AXIS_NAMES[b]}`, u, v };
}

/** The rotary joint that the table face is fixed to, index in `Machine.joints`; -1 if there is none. */
export const turningTable = (machine: Machine): number =>
  machine.joints.findLastIndex((j) => j.carriesTable && j.kind === 'rotary');

/** True if the table turns far enough for its run-out over a turn to be determined. */
function runsOut(machine: Machine): boolean {
  const turning = machine.joints[turningTable(machine)];
  return turning !== undefined && turning.most - turning.least >= Math.PI;
}

/** The linear joints: the one that sets X, the next, and the third. */
function linearOrder(machine: Machine): [number, number, number] {
  const linear = jointsOf(machine, 'linear');
  const most = (axis: number): number =>
    linear.reduce((a, b) =>
      Math.abs(machine.joints[b]!.axis[axis]!) > Math.abs(machine.joints[a]!.axis[axis]!) ? b : a,
    );
  return [most(0), most(1), most(2)];
}

/**
 * @param effects asked for beside the errors of axes, face and tip, of `effectsOf`
 * @param stands of the same machine, where it is there already
 */
export function modelOf(
  machine: Machine,
  targets: readonly Target[],
  effects: readonly Effect[] = [],
  stands = new TouchStands(machine),
): DeviationModel {
  const parameters = [
    ...parametersOf(machine, targets, stands),
    ...effects
      .flatMap(({ columns }) => columns)
      .map(({ name, shown }): Parameter => {
        return { name, group: 'effect', kind: shown.unit === 'deg' ? 'angle' : 'length', shown };
      }),
  ];
  return { machine, targets, effects, parameters, stands };
}

/** The same model with effects beside its own. */
export const withEffects = (
  { machine, targets, effects, stands }: DeviationModel,
  more: readonly Effect[],
): DeviationModel => modelOf(machine, targets, [...effects, ...more], stands);

/** Index of the first effect among the parameters. */
export const firstEffect = ({ parameters }: DeviationModel): number =>
  parameters.filter(({ group }) => group !== 'effect').length;

/** Name of the deviation by which a joint winds up beyond its file, at the greatest change of its load. */
export const windUpName = ({ letter }: Pick<Joint, 'letter'>): string => `${letter} wind-up`;

/** Name of the deviation by which a joint has more play than its file, where its load chooses the flank. */
export const playName = ({ letter }: Pick<Joint, 'letter'>): string => `${letter} play`;

function parametersOf(
  machine: Machine,
  targets: readonly Target[],
  { winding, loose }: TouchStands,
): Parameter[] {
  const out: Parameter[] = [];
  const say = (group: DeviationGroup, kind: Parameter['kind'], ...names: string[]): void => {
    for (const name of names) {
      out.push({ name, group, kind, shown: kind === 'angle' ? IN_DEG : IN_MM });
    }
  };
  for (const i of jointsOf(machine, 'rotary')) {
    const { letter, axis } = machine.joints[i]!;
    const [p, q] = sideways(axis).names;
    say('axis', 'angle', `${letter} axis turned about ${p}`, `${letter} axis turned about ${q}`);
    say('axis', 'length', `${letter} axis shifted along ${p}`, `${letter} axis shifted along ${q}`);
  }
  const turning = machine.joints[turningTable(machine)];
  const names = sideways(turning ? turning.axis : normalOf(machine)).names;
  say('face', 'angle', `face tilted about ${names[0]}`, `face tilted about ${names[1]}`);
  say('face', 'length', 'face height');
  if (turning && runsOut(machine)) {
    const { letter } = turning;
    say('run-out', 'length', `${letter} run-out, cosine`, `${letter} run-out, sine`);
  }
  const [x, y, z] = linearOrder(machine).map((i) => machine.joints[i]!.letter);
  say('square', 'angle', `${y} not square to ${x}`, `${z} not square to ${x}`);
  say('square', 'angle', `${z} not square to ${y}`);
  say('tip', 'length', 'radius of the flat of the tip');
  say('give', 'angle', ...winding.map(({ joint }) => windUpName(machine.joints[joint]!)));
  say('play', 'angle', ...loose.map((j) => playName(machine.joints[j]!)));
  for (const { kind } of targets) {
    if (kind === 'ball') say('target', 'length', 'ball along X', 'ball along Y', 'ball along Z');
    if (kind === 'block') {
      say('target', 'length', 'block along X', 'block along Y');
      say('target', 'angle', 'block turned');
    }
  }
  return out;
}

const normalOf = (machine: Machine): Vec3 => applyDirection(machine.mount, [0, 0, 1]);

/** @param x deviations in the order of `model.parameters`; those of effects change nothing here but
 * scales of linear joints, which a machine file holds */
export function stateAt(
  { machine, targets, effects, stands }: DeviationModel,
  x: ArrayLike<number>,
): DeviatedMachine {
  let at = 0;
  const next = (): number => x[at++]!;
  const turned = (): number => ANGLE * next();
  const joints = [...machine.joints];
  for (const i of jointsOf(machine, 'rotary')) {
    joints[i] = movedAxis(joints[i]!, machine.origin, turned(), turned(), next(), next());
  }
  const index = turningTable(machine);
  const face = movedFace(
    machine,
    index < 0 ? undefined : joints[index],
    turned(),
    turned(),
    next(),
  );
  if (runsOut(machine)) {
    const joint = joints[index]!;
    const runOut = [joint.runOut[0] + next(), joint.runOut[1] + next()] as const;
    joints[index] = { ...joint, runOut };
  }
  skew(joints, linearOrder(machine), turned(), turned(), turned());
  const flat = machine.nozzle.flat / 2 + next();
  const slack = slackOf(machine, stands, turned);
  for (const { joint } of stands.winding) joints[joint] = loosened(machine, joint, joints, slack);
  const moved = targets.map((target) => movedTarget(target, next, turned));
  for (const { scales } of effects.flatMap((e) => e.columns)) {
    const share = 1 + SCALE * next();
    if (scales === undefined) continue;
    joints[scales] = { ...joints[scales]!, axis: scale(joints[scales]!.axis, share) };
  }
  return {
    machine: { ...machine, joints, ...face },
    drawn: machine,
    targets: moved,
    flat,
    stands,
    slack,
  };
}

function slackOf(machine: Machine, stands: TouchStands, turned: () => number): Slack {
  const give = new Float64Array(machine.joints.length);
  const play = new Float64Array(machine.joints.length);
  for (const { joint, load } of stands.winding) give[joint] = turned() / load;
  for (const j of stands.loose) play[j] = turned();
  return { give, play };
}

/** The joint with the stiffness and the play that its slack makes of those of the file. */
function loosened(machine: Machine, j: number, joints: readonly Joint[], slack: Slack): Joint {
  const give = 1 / (stiffnessAt(machine, j) ?? Infinity) + slack.give[j]!;
  const backlash = Math.max(0, machine.joints[j]!.backlash + slack.play[j]!);
  return { ...joints[j]!, backlash, stiffness: give > 0 ? 1 / give : undefined };
}

/** Errors are applied at the point of the axis nearest to the table, where they are measured. */
function movedAxis(
  joint: Joint,
  origin: Vec3,
  a: number,
  b: number,
  du: number,
  dv: number,
): Joint {
  const { u, v } = sideways(joint.axis);
  const near = along(joint.point, joint.axis, dot(sub(origin, joint.point), joint.axis));
  const axis = unit(add(joint.axis, cross(along(scale(u, a), v, b), joint.axis)));
  return { ...joint, axis, point: along(along(near, u, du), v, dv) };
}

/** The face goes with the axis that turns it, and then by its own tilt and height. */
function movedFace(
  machine: Machine,
  turning: Joint | undefined,
  a: number,
  b: number,
  height: number,
): Pick<Machine, 'origin' | 'mount'> {
  const drawn = turning && machine.joints[turningTable(machine)]!;
  let normal = normalOf(machine);
  let origin = machine.origin;
  const { u, v } = sideways(drawn ? drawn.axis : normal);
  if (turning && drawn) {
    const swing = leastTurn(drawn.axis, turning.axis);
    const near = along(drawn.point, drawn.axis, dot(sub(origin, drawn.point), drawn.axis));
    normal = applyDirection(swing, normal);
    origin = add(turning.point, applyDirection(swing, sub(origin, near)));
  }
  normal = unit(add(normal, cross(along(scale(u, a), v, b), normal)));
  origin = along(origin, turning ? turning.axis : normal, height);
  return { origin, mount: inverse(buildFromPart(normal)) };
}

function leastTurn(from: Vec3, to: Vec3): Float64Array {
  const axis = cross(from, to);
  const size = angle(from, to);
  return size < 1e-14 ? turn([0, 0, 1], 0) : turn(unit(axis), size);
}

/** Y is turned about Z; Z about Y (out of square with X) and about X (out of square with Y). */
function skew(
  joints: Joint[],
  [x, y, z]: readonly [number, number, number],
  yx: number,
  zx: number,
  zy: number,
): void {
  const [ax, ay] = [unit(joints[x]!.axis), unit(joints[y]!.axis)];
  const lean = (i: number, ...by: [Vec3, number][]): void => {
    const axis = by.reduce((d, [side, size]) => along(d, side, size), unit(joints[i]!.axis));
    joints[i] = { ...joints[i]!, axis: scale(unit(axis), length(joints[i]!.axis)) };
  };
  lean(y, [ax, yx]);
  lean(z, [ax, zx], [ay, zy]);
}

function movedTarget(target: Target, next: () => number, turned: () => number): Target {
  if (target.kind === 'face') return target;
  if (target.kind === 'ball') return { ...target, at: add(target.at, [next(), next(), next()]) };
  const { at } = target;
  return { ...target, at: [at[0] + next(), at[1] + next()], turn: target.turn + turned() };
}
