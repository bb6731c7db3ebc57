/**
 * Room for a part: the widest upright cylinder on the middle of the table that the tip reaches all of, for a
 * tilt of the head over the table and whatever the azimuth. With the turning joints held, each linear joint is
 * an affine function of the place of the tip: row . p + rest. Over a cylinder of radius r and height h it goes
 * no farther than rest + r |row in the plane of the table| + h (row . z if that is positive), so the greatest r
 * is what the travel leaves, divided: a closed form for each joint and end, the least of which counts.
 */
import { inverse } from '../machine/inverse.js';
import { leastTipHeight } from '../machine/head.js';
import { linearMap } from '../machine/linear.js';
import type { Machine } from '../machine/machine.js';
import { directionAtTilt } from '../machine/reachable-directions.js';

export interface PartRoom {
  /** rad */
  readonly tilt: number;
  /** Greatest diameter of a part of the height asked for, mm; 0 where not even the middle is reached. */
  readonly across: number;
  /** Index in `Machine.joints` of the linear joint that ends it; -1 where the direction is not reached. */
  readonly endedBy: number;
  /** Least height of the tip over the table face at this tilt, for the head's sake, mm. */
  readonly tipOver: number;
}

const ROOM_AZIMUTHS = 72;

/** @param height of the part, mm; @param tilt rad */
export function partRoom(machine: Machine, tilt: number, height: number): PartRoom {
  let least: Pick<PartRoom, 'across' | 'endedBy'> = { across: Infinity, endedBy: -1 };
  // Upright every azimuth is the same direction.
  const azimuths = tilt === 0 ? 1 : ROOM_AZIMUTHS;
  for (let i = 0; i < azimuths; i++) {
    const found = roomAlong(machine, tilt, (2 * Math.PI * i) / azimuths, height);
    if (found.across < least.across) least = found;
  }
  return { tilt, ...least, tipOver: leastTipHeight(machine, tilt) };
}

/** The best of the joint solutions of one direction. */
function roomAlong(
  machine: Machine,
  tilt: number,
  azimuth: number,
  height: number,
): Pick<PartRoom, 'across' | 'endedBy'> {
  let best = { across: 0, endedBy: -1 };
  const rotary = (i: number): boolean => machine.joints[i]!.kind === 'rotary';
  for (const solution of inverse(
    machine,
    [0, 0, 0],
    directionAtTilt(tilt, azimuth),
    machine.ready,
  )) {
    if (solution.violations.some(({ joint }) => rotary(joint))) continue;
    const map = linearMap(machine, solution.joints);
    if (!map) continue;
    let own = { across: Infinity, endedBy: -1 };
    map.linear.forEach((joint, k) => {
      const [x, y, z, rest] = map.matrix.subarray(4 * k, 4 * k + 4) as unknown as number[];
      const { least, most } = machine.joints[joint]!;
      const [up, down] = [Math.max(0, z! * height), Math.max(0, -z! * height)];
      const left = Math.min(most - rest! - up, rest! - down - least);
      const level = Math.hypot(x!, y!);
      const across = left < 0 ? 0 : level > 1e-12 ? (2 * left) / level : Infinity;
      if (across < own.across) own = { across, endedBy: joint };
    });
    if (best.endedBy < 0 || own.across > best.across) best = own;
  }
  return best;
}
