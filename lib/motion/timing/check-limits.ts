/**
 * The finished motion against the limits of the joints, in every block: deposits, links and transfers
 * alike. Between the ends of a block each joint moves linearly, and a rounded corner lies in the triangle
 * of three block ends, so a travel that holds at every end holds at every point. Speed is that of the feed,
 * the most that a controller is asked for. Each joint is reported once for a region, at its worst.
 * Acceleration and jerk do not belong to a single block: time-optimal.ts and jerk-limited.ts keep them
 * along the whole rounded path.
 */
import { limitOf } from '../../machine/inverse.js';
import type { Joint, Machine } from '../../machine/machine.js';
import { DEG } from '../../base/vector.js';
import { type Motion, MoveKind } from '../motion.js';
import { type Complaints, spell } from '../transfer/travel-limits.js';

/** Share of a speed that is rounding. */
const SPEED_ROUNDING = 1e-9;
/** Move that is rounding, mm and rad. */
const STILL_MOVE = 1e-12;

interface WorstExcess {
  block: number;
  /** Beyond the limit: mm or rad, or as a share of the speed. */
  over: number;
  count: number;
}

/** @throws Fault `motion/travel` or `motion/joint-speed` if the job is to be refused */
export function checkLimits(machine: Machine, motion: Motion, complaints: Complaints): void {
  const { jointCount: n, joints, from, seconds, region } = motion;
  const outside = new Map<number, WorstExcess>();
  const fast = new Map<number, WorstExcess>();
  for (let b = 0; b < region.length; b++) {
    for (let j = 0; j < n; j++) {
      const joint = machine.joints[j]!;
      const value = joints[b * n + j]!;
      const key = region[b]! * n + j;
      if (value < joint.least || value > joint.most) {
        const limit = limitOf(joint, value);
        if (limit !== undefined) note(outside, key, b, Math.abs(value - limit));
      }
      const step = Math.abs(value - (b ? joints[b * n - n + j]! : from[j]!));
      const over = step - STILL_MOVE - joint.speed * seconds[b]! * (1 + SPEED_ROUNDING);
      if (over > 0) note(fast, key, b, step / (joint.speed * seconds[b]!));
    }
  }
  for (const [key, worst] of outside) reportTravel(machine, motion, key % n, worst, complaints);
  for (const [key, worst] of fast) reportSpeed(machine, motion, key % n, worst, complaints);
}

function note(all: Map<number, WorstExcess>, key: number, block: number, over: number): void {
  const worst = all.get(key);
  if (!worst) {
    all.set(key, { block, over, count: 1 });
    return;
  }
  worst.count++;
  if (over <= worst.over) return;
  worst.over = over;
  worst.block = block;
}

function reportTravel(
  machine: Machine,
  motion: Motion,
  joint: number,
  { block, count }: WorstExcess,
  complaints: Complaints,
): void {
  const value = motion.joints[block * motion.jointCount + joint]!;
  const limit = limitOf(machine.joints[joint]!, value)!;
  const words = spell(machine, { joint, value, limit });
  const many = `${count} block${count === 1 ? '' : 's'} of the region ${count === 1 ? 'is' : 'are'} outside`;
  complaints.error('outOfTravel', 'motion/travel', `${placeOf(motion, block)}${words} (${many})`, {
    region: motion.region[block]!,
    layer: motion.layer[block]!,
    block,
  });
}

function reportSpeed(
  machine: Machine,
  motion: Motion,
  j: number,
  { block, over, count }: WorstExcess,
  complaints: Complaints,
): void {
  const joint = machine.joints[j]!;
  const speeds = `joint ${joint.letter} would have to run at ${speed(joint, over * joint.speed)}, its limit is ${speed(joint, joint.speed)}`;
  complaints.error(
    'outOfTravel',
    'motion/joint-speed',
    `${placeOf(motion, block)}${speeds} (${count} block${count === 1 ? '' : 's'} of the region)`,
    { region: motion.region[block]!, layer: motion.layer[block]!, block },
  );
}

function placeOf({ kind, region, layer }: Motion, b: number): string {
  const where = `region ${region[b]! + 1}`;
  if (kind[b] === MoveKind.transfer) return `on the way to or from ${where} `;
  return `in ${where}, layer ${layer[b]! + 1}, `;
}

const speed = (joint: Joint, value: number): string =>
  joint.kind === 'rotary'
    ? `${Number((value / DEG).toFixed(3))} deg/s`
    : `${Number(value.toFixed(3))} mm/s`;
