/**
 * What a job asks of the joints, block by block, with the least time that each may take: from a
 * planned motion or from a program that was read. Joint values mm and rad, as `Machine.joints`.
 */
import type { Machine } from '../machine/machine.js';
import { type Motion, MoveKind } from '../motion/motion.js';
import type { MotionRules } from '../motion/rules.js';
import { BlockFlag, type Program } from '../program/read.js';

export interface JointPath {
  readonly jointCount: number;
  /** Before the first block. */
  readonly from: Float64Array;
  /** Block b ends at `joints[b * jointCount ..]`. */
  readonly joints: Float64Array;
  /** Least time of the block, s: that of the feed asked for, joints left aside where it is known. */
  readonly least: Float64Array;
  /** Filament laid during the block, mm; what is drawn back and primed counts as nothing. */
  readonly filament: Float64Array;
  /** Line of the program, or number of the block, from one. */
  readonly line: Uint32Array;
  /** What `line` counts. */
  readonly counts: 'line' | 'block';
  /** True if joints made faster would be used: the feed asked for is known apart from their limits. */
  readonly free: boolean;
}

/** Beads keep their planned feed; links and transfers ask for the speed of the rules. */
export function pathOfMotion(motion: Motion, rules: Pick<MotionRules, 'speed'>): JointPath {
  const blocks = motion.kind.length;
  const least = motion.seconds.slice();
  const filament = new Float64Array(blocks);
  for (let b = 0; b < blocks; b++) {
    const kind = motion.kind[b]!;
    if (kind === MoveKind.deposit) filament[b] = Math.max(0, motion.filament[b]!);
    if (kind === MoveKind.link) least[b] = motion.length[b]! / rules.speed.link;
    if (kind === MoveKind.transfer) least[b] = motion.length[b]! / rules.speed.transfer;
  }
  return {
    jointCount: motion.jointCount,
    from: motion.from,
    joints: motion.joints,
    least,
    filament,
    line: Uint32Array.from({ length: blocks }, (_, b) => b + 1),
    counts: 'block',
    free: true,
  };
}

/**
 * Stated feeds count as they are. What comes before the first known place is left out; a joint that
 * no block has placed yet stands where the machine file has it ready.
 */
export function pathOfProgram(program: Program, machine: Machine): JointPath {
  const n = program.jointCount;
  const joints = program.joints.slice();
  const from = program.from.map((v, j) => (Number.isNaN(v) ? machine.ready[j]! : v));
  for (let i = 0; i < joints.length; i++) {
    if (Number.isNaN(joints[i]!)) joints[i] = i < n ? from[i]! : joints[i - n]!;
  }
  const blocks = program.seconds.length;
  const least = new Float64Array(blocks);
  const filament = new Float64Array(blocks);
  let drawn = 0;
  for (let b = 0; b < blocks; b++) {
    const seconds = program.seconds[b]!;
    const unknown = (program.flags[b]! & BlockFlag.fromUnknown) !== 0 || Number.isNaN(seconds);
    least[b] = unknown ? 0 : seconds;
    const net = program.filament[b]! - drawn;
    drawn = Math.max(0, -net);
    filament[b] = Math.max(0, net);
  }
  return {
    jointCount: n,
    from,
    joints,
    least,
    filament,
    line: program.line,
    counts: 'line',
    free: false,
  };
}
