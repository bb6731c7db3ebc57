/**
 * The play of each joint, and the compliance of the rotary ones under a torque, from touches of the same
 * places made after arriving from either side, without and with a known weight; with their uncertainty,
 * what the touches cannot determine, and which touches do not agree with the others.
 *
 * A joint that lies on its upper flank stands higher by its play: where its load exceeds its friction that is
 * the load's choice, the weight's included, else one that came to its value from above does. A joint that a
 * torque of M turns by its compliance stands off by M times that. With the remaining distance w of a touch as read and its
 * rate dw/dq, every touch says w = h - sum dw/dq (play + give M), h being what its place reads without
 * either: linear in all unknowns, so one singular value decomposition is the whole fit.
 */
import { Matrix } from 'ml-matrix';
import { applyPoint } from '../base/frame.js';
import { GRAVITY } from '../base/gravity.js';
import type { Vec3 } from '../base/vector.js';
import { jointsOf, machineFromPart } from '../machine/joint-chain.js';
import type { Machine } from '../machine/machine.js';
import { TELLABLE } from './deviation-fit.js';
import type { DeviationModel } from './deviation-model.js';
import { type BadTouch, setAside } from './robust.js';
import { type Split, type TouchReading, inverseSquare, split } from './least-squares.js';
import { widening } from './student.js';
import { kindOf, distanceLeft } from './targets.js';

export interface Weight {
  readonly kg: number;
  /** Where it hangs, part frame, mm. */
  readonly at: Vec3;
}

/** What a touch of such a plan measures. */
export interface Reversal {
  /** Number of the place; its touches differ only by the arrival or by the weight. */
  readonly place: number;
  /** Index in `Machine.joints`. */
  readonly joint: number;
  readonly from: 'below' | 'above';
  readonly loaded: boolean;
}

export interface PlayTouch extends TouchReading {
  readonly play: Reversal;
}

export interface Unknown {
  readonly kind: 'play' | 'give';
  /** Index in `Machine.joints`. */
  readonly joint: number;
}

export interface PlayEstimate extends Unknown {
  /** Play, mm or rad; give, rad/(N m). */
  readonly value: number;
  /** Standard uncertainty. */
  readonly uncertainty: number;
}

/** Play and give of the joints as touches from either side show them. */
export interface PlayFit {
  readonly machine: Machine;
  readonly estimates: readonly PlayEstimate[];
  /** What the touches cannot determine. */
  readonly undetermined: readonly Unknown[];
  readonly bad: readonly BadTouch[];
  readonly used: readonly PlayTouch[];
  /** Scatter of the touches of a place as read, and of what the fit leaves, mm. */
  readonly before: Float64Array;
  readonly after: Float64Array;
  readonly noise: number;
  readonly freedom: number;
}

/** Change of joint values for the rates: 1 um, and 0.01 mm at a lever of 100 mm. */
const RATE_STEP = { linear: 1e-3, rotary: 1e-4 } as const;

/** The remaining distance at a touch, by the model as it is, mm. */
const leftOf = (
  { machine, targets }: DeviationModel,
  { aim, joints }: Pick<TouchReading, 'aim' | 'joints'>,
): number => {
  const target = targets.find((t) => t.kind === kindOf(aim))!;
  return distanceLeft(machine, machine.nozzle.flat / 2, aim, target, joints);
};

/** What a change of joint j adds to the remaining distance, mm per mm or rad. */
export function wayRate(
  model: DeviationModel,
  { aim, joints }: Pick<TouchReading, 'aim' | 'joints'>,
  j: number,
): number {
  const by = RATE_STEP[model.machine.joints[j]!.kind];
  const [high, low] = [by, -by].map((d) => {
    const at = joints.slice();
    at[j]! += d;
    return leftOf(model, { aim, joints: at });
  });
  return (high! - low!) / (2 * by);
}

/** Torque of a weight about rotary joint j in its rising sense, N m: what its height loses a turn. */
export function momentOf(
  machine: Machine,
  joints: Float64Array,
  j: number,
  weight: Weight,
): number {
  const by = RATE_STEP.rotary;
  const [high, low] = [by, -by].map((d) => {
    const at = joints.slice();
    at[j]! += d;
    return applyPoint(machineFromPart(machine, at), weight.at)[2];
  });
  return (-weight.kg * GRAVITY * 1e-3 * (high! - low!)) / (2 * by);
}

/**
 * On which flank joint j lies at a touch: -1 the lower, 1 the upper one; undefined where the load is too near the
 * friction to tell.
 */
export function flankAt(
  model: DeviationModel,
  touch: Pick<PlayTouch, 'joints' | 'play'>,
  weight: Weight | undefined,
  j: number,
): -1 | 1 | undefined {
  const { joints, play } = touch;
  const hangs = play.loaded && weight && model.machine.joints[j]!.kind === 'rotary';
  const moment = hangs ? momentOf(model.machine, joints, j, weight) : 0;
  const held = model.stands.heldWith(joints, j, moment);
  if (held !== 0) return held;
  return play.joint === j && play.from === 'above' ? 1 : -1;
}

/** Rows of touches; columns of places first, then of the unknowns. */
function designOf(
  model: DeviationModel,
  touches: readonly PlayTouch[],
  weight: Weight | undefined,
  unknowns: readonly Unknown[],
): Matrix {
  const places = placesOf(touches);
  const out = new Matrix(touches.length, places.length + unknowns.length);
  touches.forEach((touch, i) => {
    const { place, loaded } = touch.play;
    out.set(i, places.indexOf(place), 1);
    unknowns.forEach((u, k) => {
      const column = places.length + k;
      if (u.kind === 'play') {
        if (flankAt(model, touch, weight, u.joint) === 1)
          out.set(i, column, -wayRate(model, touch, u.joint));
      } else if (loaded && weight) {
        const moment = momentOf(model.machine, touch.joints, u.joint, weight);
        out.set(i, column, -wayRate(model, touch, u.joint) * moment);
      }
    });
  });
  return out;
}

const placesOf = (touches: readonly PlayTouch[]): number[] => [
  ...new Set(touches.map((t) => t.play.place)),
];

/** Covariance of the unknowns, which stand behind the places, for a noise of 1 mm. */
function covarianceOf(parts: Split, places: number): Matrix {
  const whole = inverseSquare(parts);
  return whole.subMatrix(places, whole.rows - 1, places, whole.columns - 1);
}

/**
 * What the touches can determine at a given noise.
 * @param noise standard deviation of one touch, mm
 */
export function expectedOf(
  model: DeviationModel,
  touches: readonly PlayTouch[],
  weight: Weight | undefined,
  noise: number,
): { readonly found: PlayEstimate[]; readonly dark: Unknown[] } {
  const { machine } = model;
  const places = placesOf(touches).length;
  const asks = new Set(touches.map((t) => t.play.joint));
  const reversed = [...asks].filter((j) =>
    touches.some((t) => t.play.joint === j && flankAt(model, t, weight, j) === 1),
  );
  const loaded = touches.filter((t) => t.play.loaded);
  const largest = (j: number): number =>
    Math.max(0, ...loaded.map((t) => Math.abs(momentOf(machine, t.joints, j, weight!))));
  let asked = [
    ...reversed.map((joint): Unknown => ({ kind: 'play', joint })),
    ...jointsOf(machine, 'rotary')
      .filter((j) => largest(j) > 0)
      .map((joint): Unknown => ({ kind: 'give', joint })),
  ];
  const dark: Unknown[] = [];
  for (;;) {
    const parts = split(designOf(model, touches, weight, asked));
    const least = parts.s[0]! * 1e-9;
    // No information at all is a singular value of zero, which would make everything infinite.
    const floored = { ...parts, s: parts.s.map((s) => Math.max(s, least)) };
    const covariance = covarianceOf(floored, places);
    const found = asked.map((u, k): PlayEstimate => {
      return { ...u, value: 0, uncertainty: noise * Math.sqrt(covariance.get(k, k)) };
    });
    const sizes = found.map((u) => {
      const lever = machine.joints[u.joint]!.kind === 'rotary' ? 100 : 1;
      return u.uncertainty * lever * (u.kind === 'give' ? largest(u.joint) : 1);
    });
    const worst = sizes.indexOf(Math.max(...sizes));
    if (worst < 0 || sizes[worst]! < TELLABLE) return { found, dark };
    dark.push(asked[worst]!);
    asked = asked.filter((_, k) => k !== worst);
  }
}

/**
 * @param expected standard deviation of one touch that was expected, mm
 * @throws Fault `calibrate/too-few`, `calibrate/too-many-bad`
 */
export function fitPlay(
  model: DeviationModel,
  touches: readonly PlayTouch[],
  weight: Weight | undefined,
  expected: number,
): PlayFit {
  const { machine } = model;
  const { found, dark } = expectedOf(model, touches, weight, expected);
  const reading = (touch: TouchReading): number => leftOf(model, touch);
  const count = placesOf(touches).length + found.length;
  const leftBy = (
    x: readonly number[],
    all: readonly PlayTouch[],
    design: Matrix,
  ): Float64Array => {
    const told = design.mmul(Matrix.columnVector([...x]));
    return Float64Array.from(all, (touch, i) => reading(touch) - told.get(i, 0));
  };
  const { solution, used, bad, freedom, noise } = setAside(touches, {
    unknowns: count,
    expected,
    solve: (some) => {
      const design = designOf(model, some, weight, found);
      const readings = Matrix.columnVector(some.map(reading));
      const parts = split(design);
      const right = parts.u.transpose().mmul(readings).getColumn(0);
      const x = parts.v
        .mmul(Matrix.columnVector(right.map((r, k) => r / parts.s[k]!)))
        .getColumn(0);
      return { x, parts, left: leftBy(x, some, design) };
    },
    at: ({ x }, all) => {
      const design = designOf(model, all, weight, found);
      return { left: leftBy(x, all, design), design };
    },
  });
  const places = placesOf(used);
  const covariance = covarianceOf(solution.parts, places.length);
  const wide = noise * widening(freedom);
  return {
    machine,
    estimates: found.map((u, k) => ({
      ...u,
      value: solution.x[places.length + k]!,
      uncertainty: wide * Math.sqrt(covariance.get(k, k)),
    })),
    undetermined: dark,
    bad,
    used,
    before: scatterOf(used, used.map(reading)),
    after: solution.left,
    noise,
    freedom,
  };
}

/** Distances minus the mean of their place. */
function scatterOf(touches: readonly PlayTouch[], readings: readonly number[]): Float64Array {
  const sums = new Map<number, { sum: number; count: number }>();
  touches.forEach(({ play }, i) => {
    const s = sums.get(play.place) ?? { sum: 0, count: 0 };
    sums.set(play.place, { sum: s.sum + readings[i]!, count: s.count + 1 });
  });
  return Float64Array.from(touches, ({ play }, i) => {
    const { sum, count } = sums.get(play.place)!;
    return readings[i]! - sum / count;
  });
}
