/**
 * Weights go with the axes on which they hang. A calibration finds an axis a millimetre from where it is drawn;
 * what it carries is mounted on it and so lies a millimetre off too. Left where it is drawn its lever about the
 * measured axis would be wrong by that millimetre, which is some percent of the load.
 */
import { type Vec3, add, along, dot, sub } from '../base/vector.js';
import type { DrivesFile } from '../machine/drives.js';
import type { Joint, Machine } from '../machine/machine.js';

/** The bodies of a file, in machine coordinates with all joints at zero, each with its axis. */
export function movedBodies(
  bodies: DrivesFile['bodies'],
  drawn: Machine,
  moved: Machine,
): DrivesFile['bodies'] {
  return bodies.map((body) => {
    const j = axisUnder(drawn.joints, body.carriedBy);
    if (j < 0) return body;
    const { point, axis } = drawn.joints[j]!;
    const near = along(point, axis, dot(sub(drawn.origin, point), axis));
    const by = sub(moved.joints[j]!.point, near);
    const shifted = (p: Vec3): [number, number, number] =>
      add(p, by).map((c) => Number(c.toFixed(4))) as [number, number, number];
    const { solid } = body;
    return { ...body, solid: { ...solid, from: shifted(solid.from), to: shifted(solid.to) } };
  });
}

/** The rotary joint that carries a joint of some letter, or is it, the nearest one; -1: none. */
function axisUnder(joints: readonly Joint[], letter: string): number {
  const carrier = joints.findIndex((j) => j.letter === letter);
  const side = joints[carrier]!.carriesTable;
  return joints.findLastIndex(
    (j, i) => i <= carrier && j.carriesTable === side && j.kind === 'rotary',
  );
}
