/**
 * What the backlash of the joints does to the part, as a note for each joint whose play moves the tip by
 * more than the corners' deviation. A linear joint shows its play where it reverses while material is laid;
 * a rotary one that stands still in a region shows it between regions that it approached from different
 * sides. Play for which the program or the controller compensates is not reported.
 */
import type { Joint, Machine } from '../../machine/machine.js';
import { DEG } from '../../base/vector.js';
import { type Motion, MoveKind } from '../motion.js';
import { leverOf } from '../timing/path-limits.js';
import type { Complaints } from '../transfer/travel-limits.js';

/** The distance of the tip from a rotary axis is taken every so many blocks. */
const EVERY = 16;

export function reportBacklash(
  machine: Machine,
  motion: Motion,
  deviation: number,
  complaints: Complaints,
): void {
  machine.joints.forEach((joint, j) => {
    if (!(joint.backlash > 0) || isMadeUp(machine, joint)) return;
    const play = playOf(motion, j);
    if (!play) return;
    const rotary = joint.kind === 'rotary';
    const lever = rotary ? farthest(machine, motion, j) : 1;
    const off = joint.backlash * lever;
    if (!(off > deviation)) return;
    const size = rotary ? `${joint.backlash / DEG} deg` : `${joint.backlash} mm`;
    const where = rotary ? `, ${lever.toFixed(0)} mm from its axis,` : '';
    complaints.add({
      code: 'motion/backlash',
      severity: 'note',
      message: `joint ${joint.letter} turns round ${play.count} times before or while material is laid: its play of ${size} moves the tip${where} by up to ${off.toFixed(3)} mm, the corners' deviation is ${deviation} mm`,
      at: {
        region: motion.region[play.block]!,
        layer: motion.layer[play.block]!,
        block: play.block,
      },
    });
  });
}

/** The machine file says who makes up for the play of a joint; the program does so for linear ones. */
const isMadeUp = ({ dialect }: Machine, { kind }: Joint): boolean =>
  dialect.play === 'controller' || (dialect.play === 'program' && kind === 'linear');

/** How often material is laid with the other flank of a joint's play than before, and where first. */
function playOf(motion: Motion, j: number): { count: number; block: number } | undefined {
  const { jointCount: n, joints, from, kind } = motion;
  let flank = 0;
  let laid = 0;
  let count = 0;
  let block = -1;
  for (let b = 0; b < kind.length; b++) {
    const step = joints[b * n + j]! - (b ? joints[b * n - n + j]! : from[j]!);
    if (step !== 0) flank = Math.sign(step);
    if (kind[b] !== MoveKind.deposit || flank === 0) continue;
    if (laid !== 0 && flank !== laid) {
      count++;
      if (block < 0) block = b;
    }
    laid = flank;
  }
  return count ? { count, block } : undefined;
}

/** Greatest distance of the tip from a rotary axis while material is laid, mm. */
function farthest(machine: Machine, motion: Motion, j: number): number {
  const { jointCount: n, joints, kind } = motion;
  let most = 0;
  for (let b = 0; b < kind.length; b += EVERY) {
    if (kind[b] !== MoveKind.deposit) continue;
    most = Math.max(most, leverOf(machine, joints.slice(b * n, b * n + n), j));
  }
  return most;
}
