/**
 * The study of the drives: what every joint and motor has to do over a job, what happens when the power
 * fails, which joint limits the speed, and what other ratios and motors would do. SI units; `assumed`
 * states everything that nobody has measured.
 */
import { Fault } from '../base/fault.js';
import { type Watch, step } from '../base/watch.js';
import type { Drives } from '../machine/drives.js';
import type { Machine } from '../machine/machine.js';
import { secondsOf, secondsOn } from '../motion/timing/time-path.js';
import { assumptions } from './assumed.js';
import { type Give, beltGive } from '../machine/belt.js';
import type { ChainDynamics } from '../machine/chain-dynamics.js';
import { type Fall, fallOf } from './fall.js';
import { type Energy, type Sample, runLoads } from './loads.js';
import { NO_MASS, type Mass } from '../machine/mass.js';
import { type Sharing, ownInertia, ratioOf, sharingOf, stepOf } from './motor.js';
import { type JointPath, timed, withLimits } from './job-path.js';
import { type RatioSweep, RatioTrial, rimOf, sweepOf } from './ratio-sweep.js';
import { DriveTally, JointTally, shares } from './load-tally.js';

/** What the study cannot take from the machine file. */
export interface StudyOptions {
  /** Of what is laid, g/cm3. */
  readonly density: number;
  /** How far the controller may round a corner, mm. */
  readonly deviation: number;
  /** Whether other ratios and motors are tried. */
  readonly sweep: boolean;
}

/** One joint; torque N m or N, speeds rad/s or m/s, inertia kg m2 or kg. */
export interface JointStudy {
  readonly letter: string;
  readonly rotary: boolean;
  readonly loads: JointTally;
  /** What it moved, least and greatest over the job. */
  readonly inertia: { readonly least: number; readonly most: number };
  readonly fall: Fall;
  /** By how much it yields at the greatest load by the stiffness stated for it; undefined without one. */
  readonly give: { readonly turn: number; readonly rimMm: number } | undefined;
  /** Share of the time in which it limits the speed. */
  readonly share: number;
  /** Time of the job if its speed and acceleration were doubled, s. */
  readonly doubledSeconds: number;
}

export interface DriveStudy {
  readonly name: string;
  readonly loads: DriveTally;
  /** Indices of the joints that it moves. */
  readonly joints: readonly number[];
  /** Of its motor to the first of them, turns or mm. */
  readonly ratio: number;
  /** Load inertia at the shaft over the motor's own. */
  readonly inertiaRatio: number;
  /** RMS torque over what the motor delivers continuously. */
  readonly rmsShare: number;
  /** A step at the joint, rad or m, and at the rim or along the joint, mm; undefined without steps. */
  readonly step: { readonly joint: number; readonly mm: number } | undefined;
  /** At the greatest load; undefined without a belt. */
  readonly give:
    (Give & { readonly rimMm: number; readonly allowed: number | undefined }) | undefined;
}

/** Torque and speed of joints and motors over a job, falls without power, and what sets the pace. */
export interface Study {
  readonly machine: Machine;
  readonly path: JointPath;
  readonly seconds: number;
  readonly assumed: readonly string[];
  readonly joints: readonly JointStudy[];
  readonly drives: readonly DriveStudy[];
  readonly energy: Energy;
  /** What of the work is not found in friction, motion, height and material, over the turnover. */
  readonly energyError: number;
  readonly part: { readonly kg: number; readonly centre: readonly [number, number, number] };
  /** Index of the joint that gains most when doubled, and what it gains, s; -1 if none gains. */
  readonly pacesetter: number;
  readonly gain: number;
  readonly sweeps: readonly RatioSweep[];
}

/** @throws Fault `drives/missing`, `drives/joint-undriven`, `drives/coupling`, `drives/nothing-moves` */
export function studyDrives(
  path: JointPath,
  machine: Machine,
  options: StudyOptions,
  watch?: Watch,
): Study {
  const { drives } = machine;
  if (!drives) {
    throw new Fault('drives/missing', 'the machine file has no "drives": motors and weights', {
      key: 'drives',
    });
  }
  if (path.line.length === 0) throw new Fault('drives/nothing-moves', 'the program moves nothing');
  const timing = timed(path, machine, options.deviation);
  const gathering = new Gathering(machine, drives, sharingOf(machine, drives), options.sweep);
  const run = runLoads(path, timing, options.density, gathering.add, watch);
  const seconds = secondsOf(timing);
  const share = timing.times.share().joints;
  const joints = machine.joints.map((j, i): JointStudy => {
    step(watch, 'pace', i, machine.joints.length);
    const standing = gathering.worst[i]!;
    return {
      letter: j.letter,
      rotary: j.kind === 'rotary',
      loads: gathering.joints[i]!,
      inertia: gathering.inertia[i]!,
      fall: fallOf(machine, drives, i, standing.pose, standing.load, standing.part),
      give: jointGive(machine, i, gathering.joints[i]!),
      share: share[i]!,
      doubledSeconds: secondsOn(withLimits(machine, i, 2 * j.speed, 2 * j.acceleration), i, timing),
    };
  });
  const sweeps = gathering.trials.map((trial) => {
    const j = trial.joint;
    const { friction = 0, drag = 0 } = drives.joints[j]!;
    const { speed } = gathering.joints[j]!;
    const steady = Math.abs(gathering.worst[j]!.load) + friction + drag * speed;
    const load = { inertia: gathering.inertia[j]!.most, steady };
    return sweepOf({ machine, drives, path, timing }, trial, load, watch);
  });
  const e = run.energy;
  const rest = e.work - e.friction - (e.kinetic + e.potential - e.laid);
  const gains = joints.map((j) => seconds - j.doubledSeconds);
  const gain = Math.max(...gains);
  return {
    machine,
    path,
    seconds,
    assumed: assumptions(machine, drives, path, options),
    joints,
    drives: gathering.drives.map((tally) => driveStudy(tally, machine, gathering)),
    energy: e,
    energyError: e.turnover > 0 ? rest / e.turnover : 0,
    part: run.part,
    pacesetter: gain > 1e-6 * seconds ? gains.indexOf(gain) : -1,
    gain,
    sweeps,
  };
}

/** Where gravity and friction at rest pull hardest on a joint. */
interface WorstPull {
  load: number;
  pose: Float64Array;
  part: Mass;
}

/** Samples a joint's inertia every so many pieces in which its side moves. */
const INERTIA_EVERY = 64;

/** A turn after which a moving side is evaluated again, rad. */
const SIDE_TURN = (2 * Math.PI) / 180;

interface Looked {
  readonly still: boolean | undefined;
  readonly part: Mass | undefined;
  readonly pose: Float64Array;
}
const NEVER: Looked = { still: undefined, part: undefined, pose: new Float64Array(0) };

class Gathering {
  readonly joints: readonly JointTally[];
  readonly drives: readonly DriveTally[];
  readonly trials: readonly RatioTrial[];
  readonly worst: readonly WorstPull[];
  readonly inertia: readonly { least: number; most: number }[];
  readonly #sharing: Sharing;
  readonly #machine: Machine;
  #count = 0;
  /** The last evaluation on each side: whether it stood still, the part, the joints' values. */
  readonly #sides: Looked[] = [NEVER, NEVER];

  constructor(machine: Machine, drives: Drives, sharing: Sharing, sweep: boolean) {
    this.#machine = machine;
    this.#sharing = sharing;
    this.joints = machine.joints.map(() => new JointTally());
    this.drives = drives.drives.map((d) => new DriveTally(d));
    this.worst = machine.joints.map(() => ({ load: 0, pose: new Float64Array(0), part: NO_MASS }));
    this.inertia = machine.joints.map(() => ({ least: Infinity, most: 0 }));
    this.trials = sweep
      ? drives.drives.flatMap((drive) => {
          const own = machine.joints.flatMap((_, j) => (drive.turns[j] !== 0 ? [j] : []));
          const [j] = own as [number];
          if (own.length > 1) return [];
          const rotary = machine.joints[j]!.kind === 'rotary';
          return [new RatioTrial(drive, j, drives.motors, rotary)];
        })
      : [];
  }

  readonly add = (sample: Sample, sides: readonly ChainDynamics[]): void => {
    const { block, time, seconds, still } = sample;
    const at = { time, block };
    const weights = shares(seconds);
    this.joints.forEach((tally, j) => {
      let moves = false;
      for (let i = 0; i < 3; i++) {
        const [v, a] = [sample.speed[i]![j]!, sample.acceleration[i]![j]!];
        tally.add(sample.torque[i]![j]!, v, weights[i]!, at);
        tally.acceleration = Math.max(tally.acceleration, Math.abs(a));
        moves ||= v !== 0 || a !== 0;
      }
      if (moves) tally.moving += seconds;
      if (still[j] && Math.abs(sample.torque[0]![j]!) > Math.abs(tally.standing)) {
        tally.stand(sample.torque[0]![j]!, at);
      }
    });
    this.drives.forEach((tally, d) => this.#drive(tally, d, sample, weights, at));
    for (const trial of this.trials) trial.add(sample);
    this.#pull(sample, sides);
    this.#count++;
  };

  #drive(
    tally: DriveTally,
    d: number,
    sample: Sample,
    weights: readonly number[],
    at: { time: number; block: number },
  ): void {
    const turns = this.#sharing.turns[d]!;
    const loads = this.#sharing.loads[d]!;
    let [stands, load] = [true, 0];
    for (let i = 0; i < 3; i++) {
      load = 0;
      let speed = 0;
      let acceleration = 0;
      for (let j = 0; j < turns.length; j++) {
        load += loads[j]! * sample.torque[i]![j]!;
        speed += turns[j]! * sample.speed[i]![j]!;
        acceleration += turns[j]! * sample.acceleration[i]![j]!;
      }
      tally.add(load, speed, acceleration, weights[i]!, at);
      stands &&= speed === 0 && acceleration === 0;
    }
    // At the turn of a move it stands for no time, and friction is that of the move.
    if (stands) tally.stand(load);
  }

  /**
   * The pull of gravity at rest and the inertia where a side stands at the end of the sample: evaluated
   * when it comes to rest, when the part has grown, when it has turned on, and now and then.
   */
  #pull(sample: Sample, sides: readonly ChainDynamics[]): void {
    sides.forEach((chain, i) => {
      const [first] = chain.joints;
      if (first === undefined) return;
      const last = this.#sides[i]!;
      const still = sample.still[first]!;
      const same = last.still === still && last.part === chain.carried;
      if (same && still) return;
      const pose = sample.place[2]!.slice();
      const turned = chain.joints.some(
        (j) =>
          this.#machine.joints[j]!.kind === 'rotary' &&
          !(Math.abs(pose[j]! - last.pose[j]!) < SIDE_TURN),
      );
      if (same && !turned && this.#count % INERTIA_EVERY !== 0) return;
      this.#sides[i] = { still, part: chain.carried, pose };
      this.#look(chain, pose);
    });
  }

  #look(chain: ChainDynamics, pose: Float64Array): void {
    const { loads, inertias } = chain.atRest();
    chain.joints.forEach((j, k) => {
      const worst = this.worst[j]!;
      if (worst.pose.length === 0 || Math.abs(loads[k]!) > Math.abs(worst.load)) {
        worst.load = loads[k]!;
        worst.pose = pose;
        worst.part = chain.carried;
      }
      const range = this.inertia[j]!;
      range.least = Math.min(range.least, inertias[k]!);
      range.most = Math.max(range.most, inertias[k]!);
    });
  }

  /** Load inertia that the shaft of drive d feels while the other drives stand, greatest, kg m2. */
  reflected(d: number): number {
    return this.#sharing.loads[d]!.reduce(
      (sum, share, j) => sum + this.inertia[j]!.most * share * share,
      0,
    );
  }
}

/** The whole joint under the torque that moves or holds it; radians, and mm at the rim of the table. */
function jointGive(machine: Machine, j: number, loads: JointTally): JointStudy['give'] {
  const { stiffness } = machine.joints[j]!;
  if (stiffness === undefined) return undefined;
  const turn = Math.max(Math.abs(loads.peak), Math.abs(loads.standing)) / stiffness;
  return { turn, rimMm: turn * rimOf(machine) };
}

function driveStudy(tally: DriveTally, machine: Machine, gathering: Gathering): DriveStudy {
  const { drive } = tally;
  const d = gathering.drives.indexOf(tally);
  const joints = machine.joints.flatMap((_, j) => (drive.turns[j] !== 0 ? [j] : []));
  const first = joints[0]!;
  const rotary = machine.joints[first]!.kind === 'rotary';
  const rim = rimOf(machine);
  const turn = stepOf(drive.motor, drive.microsteps);
  const perJoint = turn === undefined ? undefined : turn / Math.abs(drive.turns[first]!);
  const peak = tally.load * Math.abs(drive.turns[first]!);
  const { belt } = drive;
  const give = belt && beltGive(peak, rotary ? belt.radius : undefined, belt.stiffness, belt.span);
  return {
    name: drive.name,
    loads: tally,
    joints,
    ratio: ratioOf(drive.turns[first]!, rotary),
    inertiaRatio: gathering.reflected(d) / (drive.count * ownInertia(drive)),
    rmsShare: tally.rms / drive.motor.continuous,
    step:
      perJoint === undefined
        ? undefined
        : { joint: perJoint, mm: perJoint * (rotary ? rim : 1000) },
    give: give && {
      ...give,
      rimMm: rotary ? give.turn * rim : give.stretch,
      allowed: belt.tension,
    },
  };
}
