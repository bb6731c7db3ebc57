/** What the machine allows the search: reachable directions and the room that the head needs. */
import { DEG, type Vec3 } from '../base/vector.js';
import { headPoints, headRadius, headTop, leastTipHeight } from '../machine/head.js';
import type { Machine } from '../machine/machine.js';
import { canReach } from '../machine/reach.js';

export interface SearchLimits {
  canReach(d: Vec3): boolean;
  /** Least tip height over the table face at a tilt (rad), mm. */
  leastTipHeight(tilt: number): number;
  /** Radius of the head at a height over the tip, clearance included, mm. */
  headRadius(above: number): number;
  /** Height of the head's top and its greatest radius with clearance, mm. */
  readonly headTop: number;
  readonly headMost: number;
}

/** @param tilt largest tilt that the user allows, deg */
export function searchLimits(machine: Machine, tilt: number): SearchLimits {
  const most = Math.cos(Math.min(180, tilt + 1e-6) * DEG);
  return {
    canReach: (d) => d[2] >= most && canReach(machine, d),
    leastTipHeight: (t) => leastTipHeight(machine, t),
    headRadius: (above) => headRadius(machine, above) + machine.clearance,
    headTop: headTop(machine),
    headMost: Math.max(...headPoints(machine).map((p) => p.radius)) + machine.clearance,
  };
}
