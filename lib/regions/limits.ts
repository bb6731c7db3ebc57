/** What the machine allows the search: reachable directions and the room that the head needs. */
import { DEG, type Vec3 } from '../base/vector.js';
import { headRadius, headTop, leastTipHeight } from '../machine/head.js';
import type { Machine } from '../machine/machine.js';
import { canReach } from '../machine/reach.js';

export interface SearchLimits {
  canReach(d: Vec3): boolean;
  /** Least tip height over the table face at a tilt (rad), mm. */
  leastTipHeight(tilt: number): number;
  /** How far from the head's axis the part must stay at a height over the tip, mm. */
  keepAway(above: number): number;
  /** Height of the head's top over the tip, mm; 0 without a head. */
  readonly headTop: number;
}

/**
 * The full clearance is asked of the part only from this many clearances over the tip: a wall that
 * stands 35 deg from square to the layers rises at 55 deg from the head's axis, and the nozzle must
 * come near to what it prints on.
 */
const FULL_AT = 8;

/** @param tilt largest tilt that the user allows, deg */
export function searchLimits(machine: Machine, tilt: number): SearchLimits {
  const most = Math.cos(Math.min(180, tilt + 1e-6) * DEG);
  return {
    canReach: (d) => d[2] >= most && canReach(machine, d),
    leastTipHeight: (t) => leastTipHeight(machine, t),
    keepAway: (above) => headRadius(machine, above) + Math.min(machine.clearance, above / FULL_AT),
    headTop: headTop(machine),
  };
}

/**
 * Limits without a head: every direction up to a tilt, nothing to run into. What a part would need
 * of a machine with a head like a needle.
 * @param tilt deg
 */
export function openLimits(tilt: number): SearchLimits {
  const most = Math.cos(Math.min(180, tilt + 1e-6) * DEG);
  return {
    canReach: (d) => d[2] >= most,
    leastTipHeight: () => 0,
    keepAway: () => 0,
    headTop: 0,
  };
}
