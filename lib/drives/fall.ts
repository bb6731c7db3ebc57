/**
 * What a joint does when the power fails: whether friction, the motor's detent, a brake or a self-locking
 * drive hold it where gravity pulls hardest, and if not, how far it falls and how fast it gets, by energy.
 * The other joints are assumed to stay. SI units.
 *
 * A screw or worm of less than half efficiency holds itself: turning a load F over s takes F s / e, of which
 * F s (1 / e - 1) is lost; turned back by the load, F s arrives and as much is lost, so that nothing is left
 * to turn the motor once 1 / e - 1 >= 1 (Shigley's Mechanical Engineering Design, ch. 8, power screws: a
 * screw that locks itself has an efficiency below one half; from memory). Vibration may still let it creep.
 */
import type { Machine } from '../machine/machine.js';
import type { Drives } from '../machine/drives.js';
import { ChainDynamics } from '../machine/chain-dynamics.js';
import type { Mass } from '../machine/mass.js';
import { ownInertia } from './motor.js';

export interface Fall {
  /** N m or N with which gravity pulls where it pulls hardest. */
  readonly pull: number;
  /** N m or N that hold it: dry friction, detents through the ratio, brake. */
  readonly hold: number;
  readonly selfLocking: boolean;
  /** True if that is not stated but follows from the efficiency of its screw or worm. */
  readonly byLosses: boolean;
  readonly falls: boolean;
  /**
   * How far it falls from there, rad or m; and the greatest speed on the way, rad/s or m/s. Zeros if it
   * holds.
   */
  readonly way: number;
  readonly speed: number;
  /** True if it meets the end of its travel. */
  readonly toEnd: boolean;
}

/** Efficiency below which a screw or worm cannot be turned back by its load. */
const LOCKS = 0.5;

const locksByLosses = ({ by, efficiency = 1 }: Drives['drives'][number]): boolean =>
  (by === 'screw' || by === 'worm') && efficiency < LOCKS;

/** Steps of the motion that is examined. */
const FALL_STEPS = 720;

/**
 * @param j index of the joint
 * @param pose values of all joints where gravity pulls hardest, rad and m
 * @param load torque or force that holds it there, with its sign
 * @param part what stands on the table then, machine coordinates with all joints at zero
 */
export function fallOf(
  machine: Machine,
  drives: Drives,
  j: number,
  pose: ArrayLike<number>,
  load: number,
  part: Mass,
): Fall {
  const hold = holdOf(drives, j);
  const own = drives.drives.filter((d) => d.turns[j] !== 0);
  const stated = own.some((d) => d.selfLocking);
  const byLosses = !stated && own.some(locksByLosses);
  const selfLocking = stated || byLosses;
  const pull = Math.abs(load);
  const falls = !selfLocking && pull > hold;
  const still = { pull, hold, selfLocking, byLosses, falls, way: 0, speed: 0, toEnd: false };
  if (!falls) return still;
  const joint = machine.joints[j]!;
  const chain = new ChainDynamics(machine, joint.carriesTable);
  if (joint.carriesTable) chain.carry(part);
  const k = chain.joints.indexOf(j);
  const q = Float64Array.from(chain.joints, (i) => pose[i]!);
  const scale = joint.kind === 'rotary' ? 1 : 1e-3;
  // The load that holds it acts one way, so it falls the other way.
  const way = -Math.sign(load);
  const end = (way > 0 ? joint.most : joint.least) * scale;
  const full = joint.kind === 'rotary' ? 2 * Math.PI : Infinity;
  const room = Math.min(Math.abs(end - q[k]!), full);
  const inertia = own.reduce((sum, d) => sum + d.count * ownInertia(d) * d.turns[j]! ** 2, 0);
  const from = q[k]!;
  const height = (): number => {
    chain.pose(q);
    return chain.potential();
  };
  const before = height();
  let speed = 0;
  let gone = room;
  let toEnd = room < full;
  for (let i = 1; i <= FALL_STEPS; i++) {
    const s = (room * i) / FALL_STEPS;
    q[k] = from + way * s;
    const energy = before - height() - hold * s;
    if (energy <= 0) {
      gone = s;
      toEnd = false;
      break;
    }
    speed = Math.max(speed, Math.sqrt((2 * energy) / (chain.atRest().inertias[k]! + inertia)));
  }
  return { ...still, way: gone, speed, toEnd };
}

/** Dry friction, detent torque of the motors through the ratio, brake. */
export function holdOf(drives: Drives, j: number): number {
  const { friction = 0, brake } = drives.joints[j]!;
  const detent = drives.drives.reduce(
    (sum, d) => sum + d.count * d.motor.detent * Math.abs(d.turns[j]!),
    0,
  );
  return friction + brake + detent;
}
