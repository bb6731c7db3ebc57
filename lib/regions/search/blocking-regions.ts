/**
 * What stands in the head's way may be printed later, if it can be built along the table normal from
 * some height on: such a blocking region is taken off first, and the cut that the head could not make
 * is tried again on what is left.
 */
import type { Vec3 } from '../../base/vector.js';
import { type SearchTools, attemptCut } from './attempt.js';
import { type RemainingBody, bodyFrom } from './remaining-body.js';
import { planeOf, siteOf } from './cut-move.js';
import { type Plan, type SearchState, floorOf } from './plan-state.js';
import { Arcs, type CandidatePlane, marksOf, sweep } from './plane-sweep.js';
import { MergeTree } from './merge-tree.js';

const UP: Vec3 = [0, 0, 1];

/** The largest pieces of a body that can be built along the table normal, lowest plane first. */
export function blockingRegions(body: RemainingBody, { setting }: SearchTools): CandidatePlane[] {
  const out: CandidatePlane[] = [];
  const tree = new MergeTree(body, new Float64Array(body.areas.length));
  tree.sink(UP);
  const marks = marksOf(body, UP, setting.theta, floorOf(UP, setting));
  // No facet is worth anything here, so every clean piece gains 0, and the largest are reported.
  sweep(body, tree, marks, 0, -1, new Arcs(body.start.length - 1), out);
  return out.sort((a, b) => a.offset - b.offset || a.seed - b.seed);
}

/**
 * Takes off the blocking region that holds a point and makes the cut on what is left.
 * @param met a point of the body that the head met
 */
export function cutAfterBlocking(
  plan: Plan,
  body: RemainingBody,
  blocking: readonly CandidatePlane[],
  candidate: CandidatePlane,
  met: Vec3,
  tools: SearchTools,
): SearchState | undefined {
  if (plan.pieces.length + 2 >= tools.setting.most) return undefined;
  const at = nearestVertex(body.mesh.vertices, met);
  for (const region of blocking) {
    if (region.whole || region.offset >= body.mesh.vertices[3 * at + 2]!) continue;
    const site = siteOf(body.tagged, planeOf(region));
    if (!site || site.parts.of[at] !== site.parts.of[region.seed]) continue;
    const lower = attemptCut(plan, body, region, tools, false);
    if (!lower || 'met' in lower) continue;
    const rest = bodyFrom(lower.rest, tools.setting);
    const seed = nearestVertex(rest.mesh.vertices, vertexAt(body, candidate.seed));
    const made = attemptCut(lower, rest, { ...candidate, seed }, tools);
    if (made && !('met' in made) && made.cost <= plan.cost - tools.setting.worth) return made;
  }
  return undefined;
}

const vertexAt = ({ mesh: { vertices: v } }: RemainingBody, i: number): Vec3 => [
  v[3 * i]!,
  v[3 * i + 1]!,
  v[3 * i + 2]!,
];

function nearestVertex(v: Float64Array, [x, y, z]: Vec3): number {
  let best = 0;
  let least = Infinity;
  for (let i = 0; i < v.length; i += 3) {
    const far = (v[i]! - x) ** 2 + (v[i + 1]! - y) ** 2 + (v[i + 2]! - z) ** 2;
    if (far < least) [best, least] = [i / 3, far];
  }
  return best;
}
