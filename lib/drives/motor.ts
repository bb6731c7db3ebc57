/** What a motor can deliver, and how joints and motors share speed and torque. SI units. */
import { Fault } from '../base/fault.js';
import type { Drive, Drives, Motor } from '../machine/drives.js';
import type { Machine } from '../machine/machine.js';

/** Greatest torque at a speed, N m, linear between the points of the curve, 0 beyond its end. */
export function torqueAt({ speeds, torques }: Motor, speed: number): number {
  const w = Math.abs(speed);
  for (let i = 1; i < speeds.length; i++) {
    const [a, b] = [speeds[i - 1]!, speeds[i]!];
    if (w <= b) return torques[i - 1]! + ((torques[i]! - torques[i - 1]!) * (w - a)) / (b - a);
  }
  return 0;
}

/** Inertia that each motor turns besides the load: rotor, pulleys and gears, kg m2. */
export const ownInertia = ({ motor, inertia }: Pick<Drive, 'motor' | 'inertia'>): number =>
  motor.rotorInertia + inertia;

/**
 * Torque of each motor of a drive, N m, for the load that the drive carries as seen at the shaft.
 * @param load N m of all motors of the drive together, without what turns with them
 */
export function motorTorque(
  drive: Drive,
  load: number,
  speed: number,
  acceleration: number,
): number {
  const { efficiency = 1, count } = drive;
  const power = load * speed;
  const share = power > 0 ? 1 / efficiency : power < 0 ? efficiency : 1;
  return (load * share) / count + ownInertia(drive) * acceleration;
}

/** Joints that drives move together, and how their loads come to the motors. */
export interface Sharing {
  /** For each drive and joint, rad of the motor for a rad or metre of the joint. */
  readonly turns: readonly Float64Array[];
  /** For each drive and joint, N m at the motor for a N m or N at the joint. */
  readonly loads: readonly Float64Array[];
}

/**
 * @throws Fault `drives/joint-undriven`, `drives/coupling`: every joint is moved by one drive alone,
 *   or two joints by two drives with independent ratios
 */
export function sharingOf(machine: Machine, { drives }: Drives): Sharing {
  const letters = machine.joints.map((j) => j.letter);
  const count = letters.length;
  const turns = drives.map((d) => d.turns);
  const loads = drives.map(() => new Float64Array(count));
  for (let j = 0; j < count; j++) {
    const own = drives.flatMap((d, i) => (d.turns[j] !== 0 ? [i] : []));
    if (own.length === 0) {
      throw new Fault('drives/joint-undriven', `no drive moves joint ${letters[j]}`, {
        key: 'drives.drives',
      });
    }
    const joints = letters.flatMap((_, k) => (own.some((i) => turns[i]![k] !== 0) ? [k] : []));
    const all = drives.flatMap((d, i) => (joints.some((k) => d.turns[k] !== 0) ? [i] : []));
    if (joints.length === 1 && all.length === 1) {
      loads[all[0]!]![j] = 1 / turns[all[0]!]![j]!;
      continue;
    }
    const [k, l] = joints as [number, number];
    const [p, q] = all as [number, number];
    const names = all.map((i) => `"${drives[i]!.name}"`).join(', ');
    const det = (i: number, m: number): number =>
      turns[i]![k]! * turns[m]![l]! - turns[i]![l]! * turns[m]![k]!;
    if (joints.length !== 2 || all.length !== 2 || !(Math.abs(det(p, q)) > 0)) {
      throw new Fault(
        'drives/coupling',
        `drives ${names} move joints ${joints.map((i) => letters[i]).join(' ')}: one drive moves one joint, or two drives two joints in unlike ways; equal motors on one joint are one drive with a count`,
        { key: 'drives.drives' },
      );
    }
    // Loads t of the drives from forces f of the joints: f = W' t, so t = (W')^-1 f.
    const size = det(p, q);
    loads[p]![k] = turns[q]![l]! / size;
    loads[p]![l] = -turns[q]![k]! / size;
    loads[q]![k] = -turns[p]![l]! / size;
    loads[q]![l] = turns[p]![k]! / size;
  }
  return { turns, loads };
}

/** Turns of the motor for one of a rotary joint, or mm for one turn, as people say it. */
export const ratioOf = (turns: number, rotary: boolean): number =>
  rotary ? Math.abs(turns) : (2 * Math.PI * 1000) / Math.abs(turns);

/**
 * Ratio at which a motor of inertia JM gives a load JL with a steady torque TL its greatest
 * acceleration: TL / TM + sqrt((TL / TM)^2 + JL / JM). Without a steady load sqrt(JL / JM)
 * (ASME J. Fluids Eng. 76(3) 493; the general case follows from d/dN of (N TM - TL) / (JL + N^2 JM)).
 */
export function bestRatio(
  loadInertia: number,
  motorInertia: number,
  loadTorque = 0,
  motorTorque = 1,
): number {
  const t = loadTorque / motorTorque;
  return t + Math.sqrt(t * t + loadInertia / motorInertia);
}

/** Rad of the motor for one step that the driver makes; undefined for a motor without steps. */
export const stepOf = (motor: Motor, microsteps: number): number | undefined =>
  motor.stepAngle === undefined ? undefined : motor.stepAngle / microsteps;
