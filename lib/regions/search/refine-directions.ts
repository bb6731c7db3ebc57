/**
 * Local refinement of the build directions at the end: each is turned by 7 deg, then 3.5 and 1.7 in
 * eight azimuths, where that leaves less hanging, within reach, over the table and clear of the rest.
 */
import { type Vec3, cross, dot, square, unit } from '../../base/vector.js';
import { bounds } from '../../mesh/measure.js';
import { edgesOf } from '../../overhang/hanging-edges.js';
import { prepare } from '../../overhang/overhang.js';
import { hangingCost, madeBy } from './remaining-body.js';
import type { SearchLimits } from './machine-limits.js';
import { headMeets, type HeadTable } from './head-clearance.js';
import type { CutPiece } from './plan-state.js';
import type { TaggedMesh } from '../../mesh/cut/section.js';

export interface RefineRules {
  readonly theta: number;
  readonly limits: SearchLimits;
  /** How far the base plane may lean against the direction, rad. */
  readonly lean: number;
}

/** Steps by which directions are turned, rad, and the ways to turn. */
const TURN_STEPS = [7, 3.5, 1.75].map((x) => (x * Math.PI) / 180);
const TURN_AZIMUTHS = 8;
/** Less than this is not worth a turn, mm2. */
const LEAST_GAIN = 1e-3;

/**
 * @param rest what is there while the piece is printed
 * @param id the cut on which the piece stands
 */
export function refinedDirections(
  piece: CutPiece,
  rest: TaggedMesh,
  id: number,
  rules: RefineRules,
  head: HeadTable,
): CutPiece {
  if (piece.cost <= LEAST_GAIN) return piece;
  const p = prepare(piece.tagged.mesh);
  const edges = edgesOf(p);
  const carried = madeBy(piece.tagged, id);
  const costOf = (d: Vec3): number => hangingCost(p, edges, d, rules.theta, carried).cost;
  const { normal } = piece.move;
  const low = bounds(piece.tagged.mesh).least[2];
  // A plan may hold a direction that leans as far as allowed, or a little more by rounding.
  const least = Math.min(Math.cos(rules.lean), dot(piece.move.direction, normal));
  const allowed = (d: Vec3): boolean =>
    dot(d, normal) >= least - 1e-9 &&
    rules.limits.canReach(d) &&
    low >= rules.limits.leastTipHeight(Math.acos(Math.max(-1, Math.min(1, d[2])))) - 1e-6;
  let best = piece.move.direction;
  let cost = piece.cost;
  for (const step of TURN_STEPS) {
    for (let moved = true; moved;) {
      moved = false;
      for (const d of around(best, step)) {
        if (!allowed(d)) continue;
        const c = costOf(d);
        if (c >= cost - LEAST_GAIN) continue;
        if (rules.limits.bars(d, piece.tagged.mesh, rest.mesh)) continue;
        const base = { ...piece.move, direction: d };
        if (headMeets(piece.tagged.mesh, rest.mesh, base, head)) continue;
        [best, cost, moved] = [d, c, true];
      }
    }
  }
  return { ...piece, cost, move: { ...piece.move, direction: best } };
}

function around(d: Vec3, by: number): Vec3[] {
  const u = Math.hypot(d[0], d[1]) > 0 ? unit([-d[1], d[0], 0]) : square(d);
  const v = cross(d, u);
  const [c, s] = [Math.cos(by), Math.sin(by)];
  return Array.from({ length: TURN_AZIMUTHS }, (_, i) => {
    const a = (2 * Math.PI * i) / TURN_AZIMUTHS;
    const [x, y] = [s * Math.cos(a), s * Math.sin(a)];
    return unit([0, 1, 2].map((k) => d[k]! * c + u[k]! * x + v[k]! * y) as unknown as Vec3);
  });
}
