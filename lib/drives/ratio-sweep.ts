/**
 * What another ratio or motor would do: for each drive that moves one joint alone, the reserve at the
 * machine file's own limits, the limits that the motor could carry with the wanted reserve, the job's time
 * with those, and the finest step at the rim. SI units unless stated.
 */
import { type Watch, step } from '../base/watch.js';
import type { Drive, Drives, Motor } from '../machine/drives.js';
import type { Machine } from '../machine/machine.js';
import { type TimedPath, secondsOn } from '../motion/timing/time-path.js';
import type { Sample } from './loads.js';
import { bestRatio, motorTorque, ownInertia, ratioOf, stepOf, torqueAt } from './motor.js';
import { type JointPath, withLimits } from './job-path.js';

export interface RatioPoint {
  readonly motor: string;
  /** Turns of the motor for one of the joint, or mm for one turn of the motor. */
  readonly ratio: number;
  /** Least of what the motor has over what it needs at the machine file's limits. */
  readonly reserve: number;
  /** Greatest speed and acceleration with the wanted reserve; 0 if it cannot carry the load at all. */
  readonly speed: number;
  readonly acceleration: number;
  /** Of the job with those limits of this joint, s; infinite if it cannot carry the load. */
  readonly seconds: number;
  /** One step of the driver at the rim of the table or along the joint, mm; undefined without steps. */
  readonly stepMm: number | undefined;
}

export interface RatioSweep {
  readonly drive: string;
  readonly joint: number;
  /** Ratio as it is. */
  readonly ratio: number;
  readonly points: readonly RatioPoint[];
  /** For the motor in use: by inertia alone, and with the steady load. */
  readonly byInertia: number;
  readonly bySteadyLoad: number;
  /** The point with the least time of the job, the greater reserve of equals. */
  readonly byTime: RatioPoint | undefined;
  /** Most over least time of all points that carry the load, less one. */
  readonly spread: number;
}

/** Ratios that are tried, as shares of the present one. */
export const RATIO_SHARES = [0.25, 0.35, 0.5, 0.7, 1, 1.4, 2, 2.8, 4] as const;

/** Time within which two ratios count as equally fast. */
export const EQUAL = 1e-3;

interface Variant {
  readonly drive: Drive;
  readonly turns: number;
  reserve: number;
}

/** Evaluates one drive with other ratios and motors while the loads of the job are visited. */
export class RatioTrial {
  readonly drive: Drive;
  readonly joint: number;
  readonly variants: readonly Variant[];
  /** Torque at which the joint stood at the last piece; NaN if it moved. */
  #still = NaN;

  constructor(drive: Drive, joint: number, motors: readonly Motor[], rotary: boolean) {
    this.drive = drive;
    this.joint = joint;
    const turns = drive.turns[joint]!;
    // A larger lead of a linear drive is a smaller ratio.
    const shares = rotary ? RATIO_SHARES : RATIO_SHARES.map((s) => 1 / s);
    this.variants = motors.flatMap((motor) =>
      shares.map((share) => ({
        drive: { ...drive, motor },
        turns: turns * share,
        reserve: Infinity,
      })),
    );
  }

  add(sample: Sample): void {
    const j = this.joint;
    const still = sample.still[j]! ? sample.torque[0]![j]! : NaN;
    if (still === this.#still) return;
    this.#still = still;
    for (let i = 0; i < 3; i++) {
      const torque = sample.torque[i]![j]!;
      const speed = sample.speed[i]![j]!;
      for (const v of this.variants) {
        const need = motorTorque(
          v.drive,
          torque / v.turns,
          speed * v.turns,
          sample.acceleration[i]![j]! * v.turns,
        );
        const has = torqueAt(v.drive.motor, speed * v.turns);
        if (has < v.reserve * Math.abs(need)) v.reserve = has / Math.abs(need);
      }
    }
  }
}

/** What a joint has to carry, whatever drives it. */
export interface Load {
  /** Greatest inertia, kg m2, or mass, kg. */
  readonly inertia: number;
  /** Greatest steady load: gravity and friction, N m or N. */
  readonly steady: number;
}

/** Single moves of the joint between stops and reversals, rad or m, with how often each occurs. */
export type Strokes = readonly { readonly size: number; readonly count: number }[];

/** The job for which ratios are tried, and the machine that runs it. */
export interface SweptJob {
  readonly machine: Machine;
  readonly drives: Drives;
  readonly path: JointPath;
  readonly timing: TimedPath;
}

export function sweepOf(
  { machine, drives, path, timing }: SweptJob,
  trial: RatioTrial,
  load: Load,
  watch?: Watch,
): RatioSweep {
  const { drive, joint } = trial;
  const rotary = machine.joints[joint]!.kind === 'rotary';
  const strokes = strokesOf(path, joint, rotary ? 1 : 1e-3);
  const rim = rimOf(machine);
  const secondsWith = (could: {
    readonly speed: number;
    readonly acceleration: number;
  }): number => {
    const scale = rotary ? 1 : 1000;
    const other = withLimits(machine, joint, scale * could.speed, scale * could.acceleration);
    return secondsOn(other, joint, timing);
  };
  const points = trial.variants.map((v, i): RatioPoint => {
    step(watch, `ratios of ${drive.name}`, i, trial.variants.length);
    const could = carriable(v.drive, Math.abs(v.turns), load, drives.reserve, strokes);
    const turn = stepOf(v.drive.motor, drive.microsteps);
    const perJoint = turn === undefined ? undefined : turn / Math.abs(v.turns);
    return {
      motor: v.drive.motor.name,
      ratio: ratioOf(v.turns, rotary),
      reserve: v.reserve,
      ...could,
      seconds: could.speed > 0 ? secondsWith(could) : Infinity,
      stepMm: perJoint === undefined ? undefined : perJoint * (rotary ? rim : 1000),
    };
  });
  const own = drive.count * ownInertia(drive);
  const best = bestRatio(load.inertia, own);
  const steady = bestRatio(load.inertia, own, load.steady, drive.count * drive.motor.torques[0]!);
  return {
    drive: drive.name,
    joint,
    ratio: ratioOf(drive.turns[joint]!, rotary),
    points,
    byInertia: ratioOf(best, rotary),
    bySteadyLoad: ratioOf(steady, rotary),
    byTime: fastest(points),
    spread: spreadOf(points),
  };
}

/** Greatest distance of the table face from its middle, mm. */
export function rimOf({ face }: Machine): number {
  return face.shape === 'disc' ? face.radius : Math.hypot(face.size[0], face.size[1]) / 2;
}

function spreadOf(points: readonly RatioPoint[]): number {
  const times = points.map((p) => p.seconds).filter(Number.isFinite);
  return times.length ? Math.max(...times) / Math.min(...times) - 1 : 0;
}

function fastest(points: readonly RatioPoint[]): RatioPoint | undefined {
  const able = points.filter((p) => Number.isFinite(p.seconds));
  const least = Math.min(...able.map((p) => p.seconds));
  return able
    .filter((p) => p.seconds <= least * (1 + EQUAL))
    .reduce<RatioPoint | undefined>((a, b) => (a && a.reserve >= b.reserve ? a : b), undefined);
}

/**
 * The speed and acceleration within the motor's curve, reserve kept, at which the joint's own moves
 * take least time: of the speeds up to the curve's end each allows one acceleration.
 */
export function carriable(
  drive: Drive,
  turns: number,
  load: Load,
  reserve: number,
  strokes: Strokes,
): { readonly speed: number; readonly acceleration: number } {
  const { motor, count, efficiency = 1 } = drive;
  const end = motor.speeds.at(-1)! / turns;
  const inertia = load.inertia + count * efficiency * ownInertia(drive) * turns * turns;
  let best = { speed: 0, acceleration: 0 };
  let least = Infinity;
  for (let i = 1; i <= SPEEDS_TRIED; i++) {
    const speed = (end * i) / SPEEDS_TRIED;
    const torque = (count * torqueAt(motor, speed * turns) * turns * efficiency) / reserve;
    const acceleration = (torque - load.steady) / inertia;
    if (!(acceleration > 0)) continue;
    const seconds = strokes.reduce(
      (sum, s) =>
        sum +
        s.count *
          (s.size * acceleration >= speed * speed
            ? s.size / speed + speed / acceleration
            : 2 * Math.sqrt(s.size / acceleration)),
      0,
    );
    if (seconds < least) {
      least = seconds;
      best = { speed, acceleration };
    }
  }
  return best;
}

/** Speeds that are tried along a motor's curve. */
const SPEEDS_TRIED = 60;

/** Moves of one joint, like ones counted together: sizes rounded to a part in a hundred. */
function strokesOf({ joints, from, jointCount: n }: JointPath, j: number, scale: number): Strokes {
  const sizes = new Map<number, { size: number; count: number }>();
  const take = (size: number): void => {
    if (!(size > 1e-9)) return;
    const key = Math.round(100 * Math.log(size));
    const known = sizes.get(key);
    if (known) known.count++;
    else sizes.set(key, { size, count: 1 });
  };
  let start = from[j]! * scale;
  let last = start;
  let way = 0;
  for (let i = j; i < joints.length; i += n) {
    const value = joints[i]! * scale;
    const turn = Math.sign(value - last);
    if (turn !== way) {
      take(Math.abs(last - start));
      start = last;
      way = turn;
    }
    last = value;
  }
  take(Math.abs(last - start));
  return [...sizes.values()];
}
