/**
 * Makes one candidate cut on the search mesh and judges it exactly: either the plan has one more piece,
 * or the place is known where the head would meet what is left.
 */
import type { Vec3 } from '../../base/vector.js';
import { massOf } from '../../mesh/measure.js';
import { prepare } from '../../overhang/overhang.js';
import { type RemainingBody, uprightHangingCost } from './remaining-body.js';
import { cutsFace } from '../requests/uncut-faces.js';
import { baseStress } from './base-strength.js';
import { type PieceAreas, pieceAreas } from './piece-areas.js';
import { type CutSite, middles, planeOf, siteOf, standsOnTable, takeOff } from './cut-move.js';
import { type FreeingDirections, STAYS, weightedAreas } from './remaining-cost.js';
import { type HeadTable, headMeets } from './head-clearance.js';
import {
  LEAST_COST,
  type Plan,
  type SearchSetting,
  type SearchState,
  easeOf,
  floorOf,
} from './plan-state.js';
import type { TaggedMesh } from '../../mesh/cut/section.js';
import type { CandidatePlane } from './plane-sweep.js';

export interface SearchTools {
  readonly setting: SearchSetting;
  readonly head: HeadTable;
  readonly freeing: FreeingDirections;
}

/** Why a cut that is sound otherwise cannot be made: a point of the rest that the head meets. */
export interface HeadMet {
  readonly met: Vec3;
}

/**
 * Of the pieces above the plane first those are taken that relieve something; where the head then
 * meets one that was left, all that are sound.
 * @param gains whether the cut has to relieve something
 */
export function attemptCut(
  plan: Plan,
  body: RemainingBody,
  candidate: CandidatePlane,
  tools: SearchTools,
  gains = true,
): SearchState | HeadMet | undefined {
  const { setting } = tools;
  const site = siteOf(body.tagged, planeOf(candidate));
  if (!site) return undefined;
  const { direction } = candidate;
  const shares = pieceAreas(body, site.section, site.parts, site.caps, direction, setting.theta);
  const floor = floorOf(direction, setting);
  const sound = shares.map(
    (s) =>
      !s.island &&
      s.lowest >= floor - 1e-6 &&
      s.burden <= setting.tolerance + LEAST_COST &&
      s.contact >= setting.contact,
  );
  const seed = site.parts.of[candidate.seed]!;
  if (seed < 0 || !sound[seed]) return undefined;
  const useful = shares.map(
    (s, i) => sound[i]! && (i === seed || candidate.whole || s.relieved > s.burden + setting.worth),
  );
  const work = { plan, body, candidate, site, shares, tools, gains };
  const first = withPiecesTaken(useful, work);
  if (!first || !('met' in first) || sound.every((flag, i) => flag === useful[i])) return first;
  return withPiecesTaken(sound, work) ?? first;
}

interface CutAttempt {
  readonly plan: Plan;
  readonly body: RemainingBody;
  readonly candidate: CandidatePlane;
  readonly site: CutSite;
  readonly shares: readonly PieceAreas[];
  readonly tools: SearchTools;
  readonly gains: boolean;
}

function withPiecesTaken(
  flags: readonly boolean[],
  work: CutAttempt,
): SearchState | HeadMet | undefined {
  const { plan, body, candidate, site, shares, tools } = work;
  const { setting, head, freeing } = tools;
  const { direction, normal, offset } = candidate;
  const chosen = Uint8Array.from(flags, (flag) => (flag ? 1 : 0));
  if (
    cutsFace(setting.faces, { ...facing(body, candidate), taken: (v) => takes(site, chosen, v) })
  ) {
    return undefined;
  }
  const halves = takeOff(body.tagged, site, chosen, plan.pieces.length);
  if (!standsOnTable(halves.rest, setting.foot)) return undefined;
  if (setting.limits.bars(direction, halves.piece.mesh, halves.rest.mesh)) return undefined;
  if (!holds(site, chosen, halves.piece, setting)) return undefined;
  const upright = uprightHangingCost(halves.rest, setting);
  const hangs = shares.reduce((sum, s, i) => sum + chosen[i]! * s.burden, 0);
  const move = { direction, normal, offset, ...middles(site, chosen) };
  const ease = easeOf(halves.contact, direction, setting.prefer);
  const piece = { tagged: halves.piece, move, contact: halves.contact, cost: hangs, ease };
  const pieces = [...plan.pieces, piece];
  const stays = pieces.reduce((sum, p) => sum + p.cost, 0);
  const cost = upright.cost + stays;
  if (cost > plan.cost - (work.gains ? setting.worth : -LEAST_COST)) return undefined;
  // With nothing left above the plane the head passes clear of what is below it (`HeadTable.lean`).
  if (flags.includes(false)) {
    const met = headMeets(halves.piece.mesh, halves.rest.mesh, candidate, head);
    if (met) return { met };
  }
  const todo = weightedAreas(prepare(halves.rest.mesh), upright.facets, freeing);
  const remaining = todo.reduce((a, b) => a + b, 0) + STAYS * stays;
  return { rest: halves.rest, upright, pieces, cost, remainingCost: remaining };
}

const facing = (
  body: RemainingBody,
  { normal, offset }: CandidatePlane,
): { vertices: Float64Array; normal: Vec3; offset: number } => ({
  vertices: body.mesh.vertices,
  normal,
  offset,
});

const takes = ({ parts }: CutSite, chosen: Uint8Array, v: number): boolean =>
  parts.of[v]! >= 0 && chosen[parts.of[v]!] === 1;

/** Whether every piece that is taken off holds on to its own caps. */
function holds(
  { section, caps, parts }: CutSite,
  chosen: Uint8Array,
  piece: TaggedMesh,
  { hold }: SearchSetting,
): boolean {
  const volume = massOf(piece.mesh).volume;
  const heights = new Float64Array(parts.count);
  parts.of.forEach((part, v) => {
    if (part >= 0) heights[part] = Math.max(heights[part]!, section.height[v]!);
  });
  return heights.every((height, part) => {
    if (!chosen[part]) return true;
    const own = caps.filter((_, i) => parts.ofCap[i] === part);
    return baseStress(section, own, height, volume, hold) <= hold.stress;
  });
}
