/** What the machine allows the search: reachable directions and the room that the head needs. */
import type { Mesh } from '../../base/mesh.js';
import { DEG, type Vec3 } from '../../base/vector.js';
import {
  type HeadMargin,
  type Frustum,
  marginsBeside,
  marginsUnder,
  leastTipHeight,
  frustaFrom,
} from '../../machine/head.js';
import type { Machine } from '../../machine/machine.js';
import { canReach } from '../../machine/reachable-directions.js';

/** A part of the head, all round its axis, and the distance that it keeps in every direction, mm. */
export interface HeadPart {
  readonly rounds: readonly Frustum[];
  readonly need: number;
}

export interface SearchLimits {
  canReach(d: Vec3): boolean;
  /** Whether this one piece, taken off this rest, is not to be built along a direction in reach. */
  bars(d: Vec3, piece: Mesh, rest: Mesh): boolean;
  /** Least tip height over the table face at a tilt (rad), mm. */
  leastTipHeight(tilt: number): number;
  /** What keeps away from what stands beside a piece, over the plane on which it is built. */
  readonly beside: readonly HeadPart[];
  /** What keeps away from what lies under that plane. */
  readonly under: readonly HeadPart[];
}

/** @param tilt largest tilt that the user allows, deg */
export function searchLimits(machine: Machine, tilt: number): SearchLimits {
  const most = Math.cos(Math.min(180, tilt + 1e-6) * DEG);
  const apart = ({ from, need }: HeadMargin): HeadPart => ({
    rounds: frustaFrom(machine, from),
    need,
  });
  return {
    canReach: (d) => d[2] >= most && canReach(machine, d),
    bars: () => false,
    leastTipHeight: (t) => leastTipHeight(machine, t),
    beside: marginsBeside(machine).map(apart),
    under: marginsUnder(machine).map(apart),
  };
}
