/**
 * How far the columns of a pedestal reach into the part where they have to carry it. A part that stands
 * on a point or an edge is no stronger on a pedestal than on the table: the column under a tip is as
 * thin as the tip. So the columns enclose its lowest millimetres, up to the height at which its section
 * bears the head's push and its own weight lying on its side (`base-strength.ts`), and are cut away
 * around it later.
 */
import type { Mesh } from '../../base/mesh.js';
import { bounds, massOf } from '../../mesh/measure.js';
import { capsOf } from '../../mesh/cut/caps.js';
import { type HoldRules, baseStress } from './base-strength.js';
import { sectionOf } from '../../mesh/cut/section.js';

/** Steps in which the height is sought, mm. */
const HEIGHT_STEP = 0.1;
/** Share of the part's height that columns enclose at most. */
const MOST_ENCLOSED = 1 / 3;
/** Share of what the material bears that is used: weight off the middle is not in the formula. */
const USED = 0.8;

/**
 * @param part on the table
 * @param column height of the columns under the part, mm
 * @param least the least that they reach into it, mm
 * @param contact least area of the columns, mm2
 * @returns mm; `least` where no height within a third of the part will do
 */
export function gripOf(
  part: Mesh,
  column: number,
  least: number,
  contact: number,
  hold: HoldRules,
): number {
  const low = bounds(part).least[2];
  const height = bounds(part).most[2] - low;
  const { volume } = massOf(part);
  for (let z = least; z <= height * MOST_ENCLOSED; z += HEIGHT_STEP) {
    const section = sectionOf(part, { point: [0, 0, low + z], normal: [0, 0, 1] });
    if (!section) continue;
    const caps = capsOf(section);
    const area = caps.reduce((sum, cap) => sum + cap.area, 0);
    const stress = baseStress(section, caps, height + column, volume, hold);
    if (area >= contact && stress <= USED * hold.stress) return z;
  }
  return least;
}
