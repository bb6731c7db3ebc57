/**
 * The effects that a machine can show and that a fit must suspect behind a pattern of its residuals: each with its
 * likely cause and what to do about it.
 *
 * A vertical shift is made by the linear joints that would undo it, for the machine has no joint that sinks.
 */
import { Fault } from '../base/fault.js';
import { applyDirection, inverse } from '../base/frame.js';
import { type Vec3, scale } from '../base/vector.js';
import { jointsOf, machineFromPart } from '../machine/joint-chain.js';
import { linearMap } from '../machine/linear.js';
import type { Joint, Machine } from '../machine/machine.js';
import { ANGLE, IN_DEG, IN_MM, turningTable } from './deviation-model.js';
import { type Effect, type EffectColumn, SCALE, type TouchState } from './effect.js';
import type { Target } from './targets.js';
import { TouchStands } from './touch-stands.js';

const IN_PERCENT = { size: 100 * SCALE, unit: '%' } as const;
/** Touches in which a drift of 1 mm comes about. */
const DRIFT_TOUCHES = 100;
/** A rotary joint tilts if its axis is at least this far from upright: cosine. */
const NO_TILT = 0.7;

/** @throws Fault `calibrate/effect` */
export function effectsNamed(
  machine: Machine,
  targets: readonly Target[],
  names: readonly string[],
): Effect[] {
  const all = effectsOf(machine, targets);
  return [...new Set(names)].map((name) => {
    const found = all.find((e) => e.name === name);
    if (found) return found;
    throw new Fault(
      'calibrate/effect',
      `"${name}" is no effect that this machine and these targets show; there are: ${all.map((e) => e.name).join(', ')}`,
    );
  });
}

type JointChange = NonNullable<EffectColumn['joints']>;

/** The rotary joints under whose turning gravity changes: their axes lie. */
export const tiltingJoints = (machine: Machine): number[] =>
  jointsOf(machine, 'rotary').filter((i) => Math.abs(machine.joints[i]!.axis[2]) < NO_TILT);

/**
 * All effects that this machine and these targets can show, but wind-up and play where the weights that the machine
 * file states make them deviations of the fit.
 * @param stands of the same machine, where it is there already
 */
export function effectsOf(
  machine: Machine,
  targets: readonly Target[],
  { winding, loose } = new TouchStands(machine),
): Effect[] {
  const turning = turningTable(machine);
  return [
    ...tiltingJoints(machine).flatMap((i) => [
      ...(winding.some(({ joint }) => joint === i) ? [] : [windUpOf(machine, i)]),
      ...(loose.includes(i) ? [] : [playOf(machine, i)]),
      sagOf(machine, i),
    ]),
    ...jointsOf(machine, 'linear').map((i) => scaleOf(machine, i)),
    ...(turning < 0 ? [] : [secondHarmonic(machine, turning)]),
    drift,
    ...(targets.some((t) => t.kind === 'ball') ? [ballSize] : []),
  ];
}

const alone = (joints: ArrayLike<number>, joint: number, by: number): Float64Array => {
  const out = new Float64Array(joints.length);
  out[joint] = by;
  return out;
};

const turned =
  (i: number, of: (tilt: number) => number): JointChange =>
  ({ joints }) =>
    alone(joints, i, ANGLE * of(joints[i]!));

function windUpOf(machine: Machine, i: number): Effect {
  const { letter } = machine.joints[i]!;
  return {
    name: `wind-up of ${letter}`,
    against: 'tilt',
    columns: [
      { shown: IN_DEG, name: `wind-up of ${letter}, sine`, joints: turned(i, Math.sin) },
      {
        shown: IN_DEG,
        name: `wind-up of ${letter}, cosine`,
        joints: turned(i, (t) => Math.cos(t) - 1),
      },
    ],
    cause: `${letter} gives under the weight that it tilts: belt, gear or shaft`,
    remedy: `balance what ${letter} carries or stiffen its drive; state its stiffness and the weights, so that it is counted`,
  };
}

function playOf(machine: Machine, i: number): Effect {
  const { letter } = machine.joints[i]!;
  return {
    name: `play of ${letter}`,
    against: 'tilt',
    columns: [
      {
        shown: IN_DEG,
        name: `play of ${letter}, flank by gravity`,
        joints: turned(i, (t) => (t > LEVEL_TILT ? 0.5 : -0.5)),
      },
    ],
    cause: `${letter} has play, and the weight that it tilts chooses the flank`,
    remedy: `take the play out, or load ${letter} to one side by a counterweight or spring; calibrate play measures it`,
  };
}

function sagOf(machine: Machine, i: number): Effect {
  const { letter } = machine.joints[i]!;
  const sink =
    (of: (tilt: number) => number): JointChange =>
    (at) =>
      machineShift(at, [0, 0, of(at.joints[i]!)]);
  return {
    name: `sag with ${letter}`,
    against: 'tilt',
    columns: [
      { shown: IN_MM, name: `sag with ${letter}, odd`, joints: sink(Math.sin) },
      {
        shown: IN_MM,
        name: `sag with ${letter}, even`,
        joints: sink((t) => Math.abs(Math.sin(t))),
      },
    ],
    cause: `what carries ${letter} bends as the weight moves over`,
    remedy: `stiffen what carries ${letter}, or carry it on both sides`,
  };
}

/** Tilts up to this count as level, rad. */
const LEVEL_TILT = 1e-3;

/** Name of the effect by which a linear joint goes farther than it shows. */
export const scaleName = ({ letter }: Pick<Joint, 'letter'>): string => `scale of ${letter}`;

function scaleOf(machine: Machine, i: number): Effect {
  const { letter } = machine.joints[i]!;
  const name = scaleName(machine.joints[i]!);
  return {
    name,
    against: Math.abs(machine.joints[i]!.axis[2]) > NO_TILT ? 'height' : 'place',
    columns: [
      {
        shown: IN_PERCENT,
        name,
        scales: i,
        joints: ({ joints }) => alone(joints, i, SCALE * joints[i]!),
      },
    ],
    cause: `${letter} goes farther than it shows: pitch of screw or belt, steps for a mm`,
    remedy: `fit it too, so that the machine file holds it, or correct the steps for a mm of ${letter} in the controller`,
  };
}

function secondHarmonic(machine: Machine, i: number): Effect {
  const { letter } = machine.joints[i]!;
  const along =
    (of: (turn: number) => number): JointChange =>
    (at) => {
      const axis = carriedAxis(at, i);
      return machineShift(at, scale(axis, -of(at.joints[i]!)));
    };
  return {
    name: `second harmonic of ${letter}`,
    against: 'turn',
    columns: [
      {
        shown: IN_MM,
        name: `second harmonic of ${letter}, cosine`,
        joints: along((c) => Math.cos(2 * c) - 1),
      },
      {
        shown: IN_MM,
        name: `second harmonic of ${letter}, sine`,
        joints: along((c) => Math.sin(2 * c)),
      },
    ],
    cause: `${letter} rises and falls twice a turn: bearing or its seat out of round, a plate bent like a saddle`,
    remedy: `seat the bearing of ${letter} evenly and look whether its screws bend it`,
  };
}

const drift: Effect = {
  name: 'drift',
  against: 'time',
  columns: [
    {
      name: 'drift of the height',
      shown: IN_MM,
      joints: (at) => machineShift(at, [0, 0, at.number / DRIFT_TOUCHES]),
    },
  ],
  cause:
    'the height changes while the touches are made: warming up, a target or screw that settles',
  remedy: 'let machine and nozzle come to a steady temperature, tighten the target, touch again',
};

const ballSize: Effect = {
  name: 'ball size',
  against: 'side',
  columns: [{ name: 'ball size', shown: IN_MM, radius: 0.5 }],
  cause: 'the ball is not of the stated diameter, or the tip carries dirt',
  remedy: 'measure the ball, clean the tip, plan with the true diameter',
};

/** Joint values that move the tip by d of the machine frame, mm; zero where the linear joints do not span space. */
function machineShift({ state, joints }: TouchState, d: Vec3): Float64Array {
  const out = new Float64Array(joints.length);
  const map = linearMap(state.machine, joints);
  if (!map) return out;
  const p = applyDirection(inverse(machineFromPart(state.machine, joints)), d);
  map.linear.forEach((joint, k) => {
    for (let c = 0; c < 3; c++) out[joint]! += map.matrix[4 * k + c]! * p[c]!;
  });
  return out;
}

/** The axis of a joint that carries the table, as the joints before it have turned it; machine frame. */
function carriedAxis({ state: { machine }, joints }: TouchState, i: number): Vec3 {
  const part = inverse(machine.mount);
  return applyDirection(
    machineFromPart(machine, joints),
    applyDirection(part, machine.joints[i]!.axis),
  );
}
