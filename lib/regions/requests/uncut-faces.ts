/**
 * Whether a cut would divide a face that is to stay whole. A face that does not lie on both sides of
 * the plane is never cut; one that does is cut if what of it lies above is taken off.
 */
import { type Vec3, dot } from '../../base/vector.js';

/** Corners nearer to the plane than this are on neither side, mm. */
const ON_PLANE = 0.05;
/** A corner farther than this from all that is left went with an earlier piece, mm. */
const CORNER_GONE = 2;

export interface PlaneCut {
  readonly vertices: Float64Array;
  readonly normal: Vec3;
  readonly offset: number;
  /** A flag per vertex: 1 if it is above and taken off. */
  readonly taken: (vertex: number) => boolean;
}

/** @param faces corners of each, packed xyz */
export function cutsFace(faces: readonly Float64Array[], cutting: PlaneCut): boolean {
  return faces.some((face) => {
    const { normal, offset, vertices, taken } = cutting;
    let below = false;
    const above: Vec3[] = [];
    for (let i = 0; i < face.length; i += 3) {
      const p: Vec3 = [face[i]!, face[i + 1]!, face[i + 2]!];
      const h = dot(p, normal) - offset;
      if (h > ON_PLANE) above.push(p);
      else if (h < -ON_PLANE) below = true;
    }
    if (!below) return false;
    return above.some((p) => {
      const v = nearest(vertices, p);
      return v >= 0 && taken(v);
    });
  });
}

/** The vertex nearest to a point; -1 if none is near. */
function nearest(v: Float64Array, [x, y, z]: Vec3): number {
  let best = -1;
  let least = CORNER_GONE * CORNER_GONE;
  for (let i = 0; i < v.length; i += 3) {
    const far = (v[i]! - x) ** 2 + (v[i + 1]! - y) ** 2 + (v[i + 2]! - z) ** 2;
    if (far < least) [best, least] = [i / 3, far];
  }
  return best;
}
