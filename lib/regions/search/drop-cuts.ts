/**
 * Drops cuts that are not needed, since later cuts often do what an earlier one did: moves are left out
 * greedily as long as no more hangs.
 */
import { bounds } from '../../mesh/measure.js';
import { redo, standsOnTable } from './cut-move.js';
import { type CutMove } from './cut-move.js';
import { pieceHangingCost, uprightHangingCost } from './remaining-body.js';
import { headMeets, type HeadTable } from './head-clearance.js';
import {
  LEAST_COST,
  type CutPiece,
  type Plan,
  type SearchSetting,
  easeOf,
  floorOf,
} from './plan-state.js';
import type { TaggedMesh } from '../../mesh/cut/section.js';

/** Makes moves one after another, each held to all that the search asks of a cut; undefined if one fails. */
export function remake(
  part: TaggedMesh,
  moves: readonly CutMove[],
  setting: SearchSetting,
  head: HeadTable,
): Plan | undefined {
  let rest = part;
  const pieces: CutPiece[] = [];
  for (const move of moves) {
    const id = pieces.length;
    const halves = redo(rest, move, id);
    if (!halves || (halves.contact < setting.contact && !move.asked)) return undefined;
    if (!standsOnTable(halves.rest, setting.foot)) return undefined;
    if (bounds(halves.piece.mesh).least[2] < floorOf(move.direction, setting) - 1e-6)
      return undefined;
    const burden = pieceHangingCost(halves.piece, id, move.direction, setting.theta);
    if (burden.islands.length > 0 && !move.asked) return undefined;
    if (setting.limits.bars(move.direction, halves.piece.mesh, halves.rest.mesh)) return undefined;
    if (headMeets(halves.piece.mesh, halves.rest.mesh, move, head)) return undefined;
    const ease = easeOf(halves.contact, move.direction, setting.prefer);
    pieces.push({ tagged: halves.piece, move, contact: halves.contact, cost: burden.cost, ease });
    rest = halves.rest;
  }
  const upright = uprightHangingCost(rest, setting);
  const cost = upright.cost + pieces.reduce((sum, p) => sum + p.cost, 0);
  return { rest, upright, pieces, cost };
}

/** Leaves out one move after another, the first cut first, as long as nothing gets worse. */
export function withoutNeedlessCuts(
  part: TaggedMesh,
  plan: Plan,
  setting: SearchSetting,
  head: HeadTable,
): Plan {
  let best = plan;
  for (let i = 0; i < best.pieces.length;) {
    if (best.pieces[i]!.move.asked) {
      i++;
      continue;
    }
    const moves = best.pieces.filter((_, j) => j !== i).map((p) => p.move);
    const fewer = remake(part, moves, setting, head);
    if (fewer && fewer.cost <= best.cost + LEAST_COST) best = fewer;
    else i++;
  }
  return best;
}
