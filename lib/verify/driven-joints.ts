/**
 * Where joints with play really stand: the joint values of the driven sides, from those that a program
 * commands. A drive that reverses passes its play before the driven side follows; a value reached from
 * below is the one at which the joint stands (as at the touches of a calibration).
 */
import type { Machine } from '../machine/machine.js';
import { BlockFlag, type Program } from '../program/read-program.js';

/** @returns the program's own values where the machine has no play or its controller makes up for it */
export function drivenJoints(program: Program, machine: Machine): Float64Array {
  const { dialect, joints } = machine;
  const plays = joints.map((j) => j.backlash);
  const counts = dialect.play === 'program' || dialect.play === 'nobody';
  if (!counts || plays.every((p) => p === 0)) return program.joints;
  const n = program.jointCount;
  const out = program.joints.slice();
  const at = program.from.slice();
  for (let b = 0; b < program.flags.length; b++) {
    const lost = (program.flags[b]! & BlockFlag.fromUnknown) !== 0;
    for (let j = 0; j < n; j++) {
      const commanded = out[b * n + j]!;
      const known = !lost && !Number.isNaN(at[j]!);
      at[j] = known ? Math.min(Math.max(at[j]!, commanded), commanded + plays[j]!) : commanded;
      out[b * n + j] = at[j]!;
    }
  }
  return out;
}
