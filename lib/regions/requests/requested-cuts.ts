/** Makes the cuts that the user asked for, in order, and says why any of them could not be made. */
import { DEG, dot } from '../../base/vector.js';
import { bounds } from '../../mesh/measure.js';
import { pieceHangingCost, uprightHangingCost } from '../search/remaining-body.js';
import { type CutMove, middles, siteOf, standsOnTable, takeOff } from '../search/cut-move.js';
import { type HeadTable, headMeets } from '../search/head-clearance.js';
import type { TaggedMesh } from '../../mesh/cut/section.js';
import {
  type CutPiece,
  type SearchSetting,
  type SearchState,
  easeOf,
  floorOf,
  tiltOf,
} from '../search/plan-state.js';
import type { Steer } from './steer.js';

export interface Refusal {
  /** Index of the cut in the list of requests. */
  readonly index: number;
  readonly why: string;
}

export interface RequestedCuts {
  readonly start: SearchState;
  readonly refused: readonly Refusal[];
}

type Rules = Pick<SearchSetting, 'theta' | 'foot' | 'limits' | 'most' | 'prefer'>;

export function requestedCuts(
  part: TaggedMesh,
  cuts: Steer['cuts'],
  rules: Rules,
  head: HeadTable,
): RequestedCuts {
  let rest = part;
  const pieces: CutPiece[] = [];
  const refused: Refusal[] = [];
  cuts.forEach((request, index) => {
    const made = pieceOf(rest, request, pieces.length, rules, head);
    if (typeof made === 'string') {
      refused.push({ index, why: made });
      return;
    }
    pieces.push(made.piece);
    rest = made.rest;
  });
  const upright = uprightHangingCost(rest, rules);
  const cost = upright.cost + pieces.reduce((sum, p) => sum + p.cost, 0);
  return { start: { rest, upright, pieces, cost, remainingCost: Infinity }, refused };
}

function pieceOf(
  rest: TaggedMesh,
  { point, normal, direction = normal }: Steer['cuts'][number],
  id: number,
  rules: Rules,
  head: HeadTable,
): { piece: CutPiece; rest: TaggedMesh } | string {
  const tilt = tiltOf(direction);
  if (id + 2 > rules.most) return `no more than ${rules.most} regions are allowed`;
  if (dot(direction, normal) <= 0) return 'its direction points away from its piece';
  if (!rules.limits.canReach(direction)) {
    return `its direction, tilted ${(tilt / DEG).toFixed(1)} deg, is out of reach or forbidden`;
  }
  const offset = dot(point, normal);
  const site = siteOf(rest, { point, normal });
  if (!site || site.parts.count === 0) return 'its plane passes by what is left of the part';
  const all = new Uint8Array(site.parts.count).fill(1);
  const { piece, rest: left, contact } = takeOff(rest, site, all, id);
  if (left.cut.length === 0 || !standsOnTable(left, rules.foot)) {
    return 'it would leave something that does not stand on the table';
  }
  if (rules.limits.bars(direction, piece.mesh, left.mesh)) {
    return 'its direction is forbidden to this piece';
  }
  const low = bounds(piece.mesh).least[2];
  const floor = floorOf(direction, rules);
  if (low < floor - 1e-6) {
    return `its piece comes down to ${low.toFixed(1)} mm over the table, and at that tilt the head builds from ${floor.toFixed(1)} mm on`;
  }
  const met = headMeets(piece.mesh, left.mesh, { normal, offset, direction }, head);
  if (met) {
    return `the head would meet what is printed before it near ${met.map((x) => x.toFixed(1)).join(', ')} mm`;
  }
  const move: CutMove = { direction, normal, offset, ...middles(site, all), asked: true };
  const { cost } = pieceHangingCost(piece, id, direction, rules.theta);
  const ease = easeOf(contact, direction, rules.prefer);
  return { piece: { tagged: piece, move, contact, cost, ease }, rest: left };
}
