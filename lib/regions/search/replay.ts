/**
 * A plan found on a simplified mesh is made again on the full one and measured there, as regions in
 * printing order. What was taken off last is printed first, after the rest on the table.
 */
import { DEG, type Vec3, scale } from '../../base/vector.js';
import { bounds, massOf } from '../../mesh/measure.js';
import type { Mesh } from '../../base/mesh.js';
import {
  type CarriedFacets,
  type HangingFacets,
  type PreparedMesh,
  hanging,
  prepare,
} from '../../overhang/overhang.js';
import { type TableRules, madeBy, pieceHangingCost, uprightHangingCost } from './remaining-body.js';
import { capsOf } from '../../mesh/cut/caps.js';
import { carriedUpright } from './ceilings.js';
import type { Halves } from '../../mesh/cut/cut.js';
import { type PlaneCut, cutsFace } from '../requests/uncut-faces.js';
import { type CutMove, redo, standsOnTable } from './cut-move.js';
import { type RefineRules, refinedDirections } from './refine-directions.js';
import type { Region } from '../region.js';
import { headTable } from './head-clearance.js';
import type { SearchLimits } from './machine-limits.js';
import type { RegionRules } from '../rules.js';
import { type CutPiece, type Plan, easeOf, tiltOf } from './plan-state.js';
import { steered } from '../requests/steer.js';
import { type TaggedMesh, sectionOf } from '../../mesh/cut/section.js';
import { grazes } from './grazing-planes.js';

/** Moves to make on a full mesh: plain data, so that it may run on another thread. */
export interface ReplaySpec {
  /** On the table. */
  readonly full: TaggedMesh;
  readonly moves: readonly CutMove[];
  /** Corners of faces that no cut may go through, packed xyz. */
  readonly faces: readonly Float64Array[];
  /** The requests among them are those for the part in its pose. */
  readonly setting: { readonly rules: RegionRules };
}

/** Makes moves on a full mesh. A pure function of the spec and the limits. */
export function replayed({ full, moves, faces, setting }: ReplaySpec, limits: SearchLimits): Plan {
  const { overhang, foot, lean, steer } = setting.rules;
  return replay(full, moves, {
    theta: overhang * DEG,
    foot,
    lean: lean * DEG,
    limits: steered(limits, steer),
    prefer: steer.prefer,
    faces,
  });
}

/**
 * Makes the moves one after another and refines their directions; a move that takes nothing off, or
 * the rest off the table, or that the head cannot build so near to the table, is left out.
 */
function replay(full: TaggedMesh, moves: readonly CutMove[], rules: ReplayRules): Plan {
  const head = headTable(rules.limits);
  let rest = full;
  const pieces: CutPiece[] = [];
  for (const move of moves) {
    const id = pieces.length;
    const done = move.asked ? asIs(rest, move, id) : redoRaised(rest, move, id, rules);
    if (!done || !standsOnTable(done.halves.rest, rules.foot)) continue;
    const { halves } = done;
    if (cutsFace(rules.faces, cuttingOf(rest, done.move, halves)) && !move.asked) continue;
    const { cost } = pieceHangingCost(halves.piece, id, move.direction, rules.theta);
    const ease = easeOf(halves.contact, move.direction, rules.prefer);
    const piece = { tagged: halves.piece, move: done.move, contact: halves.contact, cost, ease };
    pieces.push(move.asked ? piece : refinedDirections(piece, halves.rest, id, rules, head));
    rest = halves.rest;
  }
  const upright = uprightHangingCost(rest, rules);
  const cost = upright.cost + pieces.reduce((sum, p) => sum + p.cost, 0);
  return { rest, upright, pieces, cost };
}

function asIs(
  rest: TaggedMesh,
  move: CutMove,
  id: number,
): { halves: Halves; move: CutMove } | undefined {
  const halves = redo(rest, move, id);
  return halves && { halves, move };
}

/** The cut, to judge whether it divides a face: what is taken is no longer in the rest. */
function cuttingOf(before: TaggedMesh, { normal, offset }: CutMove, { rest }: Halves): PlaneCut {
  const { vertices } = before.mesh;
  let left: Set<string> | undefined;
  const key = (v: Float64Array, i: number): string => `${v[3 * i]} ${v[3 * i + 1]} ${v[3 * i + 2]}`;
  const taken = (v: number): boolean => {
    left ??= new Set(
      Array.from({ length: rest.mesh.vertices.length / 3 }, (_, i) => key(rest.mesh.vertices, i)),
    );
    return !left.has(key(vertices, v));
  };
  return { vertices, normal, offset, taken };
}

/** How far a plane is raised at most, and by how much at a time, mm: what simplifying may have hidden. */
const RAISE = 1.5;
const RAISE_STEP = 0.15;

/**
 * The move on the full mesh, its plane raised until the piece keeps the floor of its tilt and, if that
 * can be, until the plane grazes no ceiling.
 */
function redoRaised(
  rest: TaggedMesh,
  move: CutMove,
  id: number,
  { limits, theta }: ReplayRules,
): { halves: Halves; move: CutMove } | undefined {
  const floor = limits.leastTipHeight(tiltOf(move.direction));
  let first: { halves: Halves; move: CutMove } | undefined;
  for (let raise = 0; raise <= RAISE; raise += RAISE_STEP) {
    const raised = { ...move, offset: move.offset + raise };
    const grazing = grazes(rest.mesh, raised, theta);
    if (first && grazing) continue;
    const halves = redo(rest, raised, id);
    if (!halves) break;
    if (bounds(halves.piece.mesh).least[2] < floor - 1e-6) continue;
    if (!grazing) return { halves, move: raised };
    first ??= { halves, move: raised };
  }
  return first;
}

interface ReplayRules extends TableRules, RefineRules {
  readonly prefer?: Vec3 | undefined;
  /** Corners of faces that no cut may go through, packed xyz. */
  readonly faces: readonly Float64Array[];
}

export interface BuiltRegions {
  readonly regions: readonly Region[];
  /** For each region a flag per triangle: 1 where it hangs. */
  readonly hanging: readonly Uint8Array[];
  /** What hangs of each triangle of each region, mm2. */
  readonly areas: readonly Float64Array[];
}

export function regionsOf(plan: Plan, { theta, foot }: TableRules): BuiltRegions {
  const carried = carriedUpright(plan.rest, foot);
  const flags: Uint8Array[] = [];
  const areas: Float64Array[] = [];
  const hangs = (mesh: Mesh, d: Vec3, base: CarriedFacets): number => {
    const p = prepare(mesh);
    const found = hanging(p, d, theta, base);
    flags.push(found.facets);
    areas.push(areasOf(p, found));
    return found.area;
  };
  const regions: Region[] = [
    {
      mesh: plan.rest.mesh,
      cut: plan.rest.cut,
      baseCut: -1,
      direction: [0, 0, 1],
      base: { point: [0, 0, 0], normal: [0, 0, 1] },
      standsOn: [],
      volume: massOf(plan.rest.mesh).volume,
      contactArea: tableContact(plan.rest, foot),
      unsupportedArea: hangs(plan.rest.mesh, [0, 0, 1], carried),
    },
  ];
  for (let id = plan.pieces.length - 1; id >= 0; id--) {
    const { tagged, move, contact } = plan.pieces[id]!;
    regions.push({
      mesh: tagged.mesh,
      cut: tagged.cut,
      baseCut: id,
      direction: move.direction,
      base: { point: scale(move.normal, move.offset), normal: move.normal },
      standsOn: regions.flatMap((region, i) => (region.cut.includes(id) ? [i] : [])),
      volume: massOf(tagged.mesh).volume,
      contactArea: contact,
      unsupportedArea: hangs(tagged.mesh, move.direction, madeBy(tagged, id)),
    });
  }
  return { regions, hanging: flags, areas };
}

/** What hangs of each triangle, mm2. */
const areasOf = (p: PreparedMesh, { facets, parts }: HangingFacets): Float64Array =>
  p.areas.map((area, t) => parts.get(t) ?? (facets[t] ? area : 0));

/** Area of the section just below the foot height: what the first layer lays on the table, mm2. */
export function tableContact(tagged: TaggedMesh, foot: number): number {
  const z = Math.max(foot, 1e-3) * (1 - 1e-6);
  const section = sectionOf(tagged.mesh, { point: [0, 0, z], normal: [0, 0, 1] });
  return section ? capsOf(section).reduce((sum, cap) => sum + cap.area, 0) : 0;
}
