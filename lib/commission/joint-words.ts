/** Joint values as people read them: mm and deg. */
import { DEG } from '../base/vector.js';
import type { Joint } from '../machine/machine.js';

/** How much of the record's unit is one of the file's: 1 mm, or 1 deg in rad. */
export const fileUnit = ({ kind }: Pick<Joint, 'kind'>): number => (kind === 'rotary' ? DEG : 1);

/** A length in mm or an angle in deg with at most one place after the point. */
export const short = (x: number): string => String(Number(x.toFixed(1)) + 0);

/** "73.2 deg" or "-12 mm". */
export const valueText = (joint: Joint, value: number): string =>
  `${short(value / fileUnit(joint))} ${joint.kind === 'rotary' ? 'deg' : 'mm'}`;

/** "-100 to 100 deg", "endless" for a joint that has no end. */
export const travelText = (joint: Joint): string =>
  Number.isFinite(joint.least)
    ? `${short(joint.least / fileUnit(joint))} to ${valueText(joint, joint.most)}`
    : 'endless';
