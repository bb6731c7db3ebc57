/**
 * A search runs in a frame that turns with the part about the table normal, so that a part turned
 * together with the machine's limits gets the same regions: the candidates turn with it, and
 * coordinates are rounded in that frame, so that ties between plans are broken alike.
 */
import type { Frame } from '../../base/frame.js';
import { applyDirection, applyPoint, applyPoints, inverse } from '../../base/frame.js';
import type { Mesh } from '../../base/mesh.js';
import type { Vec2 } from '../../base/vector.js';
import { moved } from '../../mesh/build.js';
import { areaNormals } from '../../mesh/measure.js';
import type { SearchLimits } from './machine-limits.js';
import type { CutMove } from './cut-move.js';

/**
 * A heading that turns with the part: the horizontal part of the normal of the facet
 * with most area seen from the side, the first of equals.
 */
export function headingOf(mesh: Mesh): Vec2 {
  const n = areaNormals(mesh);
  let best = 0;
  let heading: Vec2 = [1, 0];
  for (let i = 0; i < n.length; i += 3) {
    const level = Math.hypot(n[i]!, n[i + 1]!);
    if (level <= best * (1 + SAME_LEVEL)) continue;
    best = level;
    heading = [n[i]! / level, n[i + 1]! / level];
  }
  return heading;
}

/** Facets whose share to the side differs by less are equal. */
const SAME_LEVEL = 1e-6;

/** Takes a heading to +X. */
export function frameAlong([c, s]: Vec2): Frame {
  return Float64Array.of(c, -s, 0, 0, s, c, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1);
}

/**
 * Steps per mm to which a turned mesh is rounded: before it is made ready for a search, and for the search.
 * The second is finer by more halvings than edges get, so that their middles lie on its grid.
 */
const ROUGH_STEPS = 2 ** 20;
const FINE_STEPS = 2 ** 30;

/** In another frame, no coordinate a negative zero. */
export const turnedMesh = (mesh: Mesh, frame: Frame, steps = FINE_STEPS): Mesh => ({
  ...mesh,
  vertices: applyPoints(frame, mesh.vertices).map((x) => Math.round(x * steps) / steps + 0),
});

/** Makes a mesh of another in the frame of its heading. */
export function inHeading(mesh: Mesh, make: (turned: Mesh) => Mesh): Mesh {
  const frame = frameAlong(headingOf(mesh));
  return moved(make(turnedMesh(mesh, frame, ROUGH_STEPS)), inverse(frame));
}

export function turnedLimits(limits: SearchLimits, frame: Frame): SearchLimits {
  const back = inverse(frame);
  return { ...limits, canReach: (d) => limits.canReach(applyDirection(back, d)) };
}

export const turnedMove = (move: CutMove, frame: Frame): CutMove => ({
  ...move,
  direction: applyDirection(frame, move.direction),
  normal: applyDirection(frame, move.normal),
  taken: move.taken.map((p) => applyPoint(frame, p)),
  left: move.left.map((p) => applyPoint(frame, p)),
});
