/** What a joint and a drive had to do over a job, gathered from samples of its loads. SI units. */
import type { Drive, Motor } from '../machine/drives.js';
import { WEIGHTS } from './loads.js';
import { motorTorque, torqueAt } from './motor.js';

/** When something was greatest. */
export interface Moment {
  /** s since the job began */
  readonly time: number;
  readonly block: number;
}

/** Loads of one joint; torque is N m or N, speed rad/s or m/s. */
export class JointTally {
  peak = 0;
  peakAt: Moment = { time: 0, block: 0 };
  speed = 0;
  acceleration = 0;
  /** Greatest load at rest, with its sign. */
  standing = 0;
  standingAt: Moment = { time: 0, block: 0 };
  work = 0;
  returned = 0;
  moving = 0;
  #square = 0;
  #seconds = 0;

  get rms(): number {
    return this.#seconds > 0 ? Math.sqrt(this.#square / this.#seconds) : 0;
  }

  add(torque: number, speed: number, seconds: number, at: Moment): void {
    this.#seconds += seconds;
    this.#square += torque * torque * seconds;
    if (Math.abs(torque) > Math.abs(this.peak)) {
      this.peak = torque;
      this.peakAt = at;
    }
    if (Math.abs(speed) > this.speed) this.speed = Math.abs(speed);
    const power = torque * speed * seconds;
    if (power > 0) this.work += power;
    else this.returned -= power;
  }

  stand(torque: number, at: Moment): void {
    if (Math.abs(torque) <= Math.abs(this.standing)) return;
    this.standing = torque;
    this.standingAt = at;
  }
}

/** Columns and rows of the cloud; it spans twice the motor's curve either way. */
export const CLOUD = { speeds: 240, torques: 200, span: 2 } as const;

/** Loads of each motor of one drive. */
export class DriveTally {
  peak = 0;
  /** Speed of the shaft then. */
  peakSpeed = 0;
  peakAt: Moment = { time: 0, block: 0 };
  speed = 0;
  /** Least of what the motor has over what it needs. */
  reserve = Infinity;
  reserveAt: Moment = { time: 0, block: 0 };
  /** Time in which it needs more than the motor has, s. */
  over = 0;
  /** Greatest load at the shaft that all motors of the drive carry together, N m. */
  load = 0;
  /** Greatest torque at rest. */
  holding = 0;
  /** s spent at each speed (columns, from 0) and torque (rows, from 0). */
  readonly cloud = new Float64Array(CLOUD.speeds * CLOUD.torques);
  readonly drive: Drive;
  readonly motor: Motor;
  readonly #column: number;
  readonly #row: number;
  #square = 0;
  #seconds = 0;

  constructor(drive: Drive) {
    this.drive = drive;
    this.motor = drive.motor;
    this.#column = CLOUD.speeds / (CLOUD.span * this.motor.speeds.at(-1)!);
    this.#row = CLOUD.torques / (CLOUD.span * Math.max(...this.motor.torques));
  }

  get rms(): number {
    return this.#seconds > 0 ? Math.sqrt(this.#square / this.#seconds) : 0;
  }

  /** @param load of all motors of the drive at the shaft; speed and acceleration of the shaft */
  add(load: number, speed: number, acceleration: number, seconds: number, at: Moment): void {
    const torque = motorTorque(this.drive, load, speed, acceleration);
    const size = Math.abs(torque);
    const w = Math.abs(speed);
    this.#seconds += seconds;
    this.#square += torque * torque * seconds;
    this.load = Math.max(this.load, Math.abs(load));
    if (size > this.peak) {
      this.peak = size;
      this.peakSpeed = w;
      this.peakAt = at;
    }
    if (w > this.speed) this.speed = w;
    const has = torqueAt(this.motor, w);
    if (size > has) this.over += seconds;
    if (has < this.reserve * size) {
      this.reserve = has / size;
      this.reserveAt = at;
    }
    const column = Math.min(CLOUD.speeds - 1, Math.floor(w * this.#column));
    const row = Math.min(CLOUD.torques - 1, Math.floor(size * this.#row));
    this.cloud[row * CLOUD.speeds + column]! += seconds;
  }

  stand(load: number): void {
    this.holding = Math.max(this.holding, Math.abs(load) / this.drive.count);
  }
}

/** Simpson's share of a piece at each of its three points, s. */
export const shares = (seconds: number): readonly number[] => WEIGHTS.map((w) => w * seconds);
