/**
 * Where the drives of a machine that gives must be so that its joints stand where a motion wants them: the
 * wanted values less the give under the load there, the growing part included (machine/standing-joints.ts).
 *
 * A rotary joint stands still inside a flat region, though its load grows with the part. So its drive follows
 * only from bead to bead, and only once the tip would be off by more than a tolerance; until then its value
 * stays as it is, and a load too small to matter changes no value at all. A joint that turns while material is
 * laid is followed in every block. A joint that friction holds inside its play would not follow a small step
 * down, so there its drive waits until it turns anyway.
 */
import { pointAt } from '../../base/vector.js';
import { forwardInto } from '../../machine/forward.js';
import type { Machine } from '../../machine/machine.js';
import { KG_PER_MM3 } from '../../machine/mass.js';
import type { HeldFlank, StandingJoints } from '../../machine/standing-joints.js';
import { filamentArea } from '../../paths/bead.js';
import { MoveKind } from '../motion.js';
import { leverOf } from '../timing/path-limits.js';
import type { MotionBlocks } from './blocks.js';

export interface DrivenBlocks {
  /** The motion with the values of the drives in place of those of the joints. */
  readonly blocks: MotionBlocks;
  /** Of each joint at the end of each block, on which flank its load holds it: a `HeldFlank`. */
  readonly held: Int8Array;
}

/** Below this a change is rounding, mm and rad. */
const SAME_VALUE = 1e-12;

/**
 * @param density of what is laid, g/cm3
 * @param tolerance by how much the tip may be off before the drives follow, mm
 */
export function drivenBlocks(
  standing: StandingJoints,
  machine: Machine,
  blocks: MotionBlocks,
  density: number,
  tolerance: number,
): DrivenBlocks {
  const { jointCount: n, kind, joints: stands, from } = blocks;
  const driven = stands.slice();
  const held = new Int8Array(driven.length);
  const give = new Float64Array(n);
  const offset = new Float64Array(n);
  const kgPerMm = filamentArea(machine.filamentDiameter) * density * KG_PER_MM3;
  const tips = new TwoTips(machine, from);
  for (let b = 0; b < kind.length; b++) {
    const at = b * n;
    standing.giveInto(stands, at, give);
    for (let j = 0; j < n; j++) {
      const flank = standing.heldAt(stands, at, j);
      held[at + j] = flank;
      const moves = Math.abs(stands[at + j]! - (b ? stands[at - n + j]! : from[j]!)) > SAME_VALUE;
      const wanted = -give[j]! - offset[j]!;
      if (wanted !== 0 && follows(machine, j, flank, moves, kind[b] !== MoveKind.deposit, wanted)) {
        const place = stands.subarray(at, at + n);
        const isRotary = machine.joints[j]!.kind === 'rotary';
        const turns = moves && kind[b] === MoveKind.deposit && isRotary;
        if (turns || Math.abs(wanted) * (isRotary ? leverOf(machine, place, j) : 1) > tolerance) {
          offset[j]! += wanted;
        }
      }
      driven[at + j]! += offset[j]!;
    }
    tips.go(stands, at);
    if (kind[b] === MoveKind.deposit) {
      standing.lay(blocks.filament[b]! * kgPerMm, pointAt(tips.both, 0), pointAt(tips.both, 1));
    }
  }
  return { blocks: { ...blocks, joints: driven }, held };
}

/** Whether a drive may follow a change of the give in a block, mm or rad. */
function follows(
  machine: Machine,
  j: number,
  flank: HeldFlank,
  moves: boolean,
  free: boolean,
  change: number,
): boolean {
  if (moves) return true;
  const swallowed = change < 0 && flank === 0 && machine.joints[j]!.backlash > 0;
  return free && !swallowed;
}

/** The tip where the last block began and where it ends, part frame, mm. */
class TwoTips {
  readonly both = new Float64Array(6);
  readonly #machine: Machine;
  readonly #pose = new Float64Array(6);

  constructor(machine: Machine, from: Float64Array) {
    this.#machine = machine;
    this.go(from, 0);
  }

  go(joints: Float64Array, at: number): void {
    this.both.copyWithin(0, 3, 6);
    forwardInto(this.#machine, joints, at, this.#pose);
    this.both.set(this.#pose.subarray(0, 3), 3);
  }
}
