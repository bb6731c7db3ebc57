/** How the part lies while a region is built: where gravity pulls, seen from the part. */
import { applyDirection, inverse as inverted } from '../base/frame.js';
import type { Vec3 } from '../base/vector.js';
import { machineFromPart } from '../machine/joint-chain.js';
import { solveRotaries } from '../machine/inverse.js';
import type { Machine } from '../machine/machine.js';

/**
 * The directions in which gravity may pull (unit, part frame) while the head builds along d: one for
 * each solution of the joints inside their travel, for which of them the motion takes is not known yet.
 * With a table that tilts it is -d; under a head that tilts the part never leans.
 */
export function gravityAlong(machine: Machine, d: Vec3): Vec3[] {
  const solutions = solveRotaries(machine, d, machine.ready);
  const sound = solutions.filter(({ violations }) => violations.length === 0);
  return (sound.length > 0 ? sound : solutions).map(({ joints }) =>
    applyDirection(inverted(machineFromPart(machine, joints)), [0, 0, -1]),
  );
}
