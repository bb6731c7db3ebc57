/**
 * Crowded edges, where more than two facets meet, are paired so that each pair encloses material:
 * solids that touch along an edge are separated there. Around the edge, seen along it, material lies
 * clockwise of a facet whose half-edge runs forwards and counter-clockwise of one that runs backwards;
 * so a backward facet opens a wedge of material and the next forward one closes it, as brackets do.
 */
import { type Vec3, along, cross, dot, pointAt, square, sub, unit } from '../../base/vector.js';
import { type BadEdges, splitFans } from './edge-faults.js';
import { meshFrom } from '../build.js';
import { type Mesh, next, previous } from '../mesh.js';

/**
 * Pairs every crowded edge that has as many forward as backward facets, and gives the surfaces that
 * touched there vertices of their own.
 * @returns the mesh and the number of edges paired; edges that cannot be paired stay crowded
 */
export function pairCrowded(mesh: Mesh, bad: BadEdges): { mesh: Mesh; paired: number } {
  const twins = mesh.twins.slice();
  let paired = 0;
  for (let i = 0; i + 1 < bad.crowdedStart.length; i++) {
    const group = bad.crowded.subarray(bad.crowdedStart[i], bad.crowdedStart[i + 1]);
    if (pairGroup(mesh, group, twins)) paired++;
  }
  if (paired === 0) return { mesh, paired };
  const apart = splitFans({ ...mesh, twins }).mesh;
  return { mesh: meshFrom(apart.vertices, apart.triangles), paired };
}

function pairGroup(mesh: Mesh, group: Uint32Array, twins: Int32Array): boolean {
  const { vertices, triangles } = mesh;
  const a = Math.min(triangles[group[0]!]!, triangles[next(group[0]!)]!);
  const b = Math.max(triangles[group[0]!]!, triangles[next(group[0]!)]!);
  const origin = pointAt(vertices, a);
  const axis = unit(sub(pointAt(vertices, b), origin));
  const x = square(axis);
  const y = cross(axis, x);
  const spokes = Array.from(group, (h) => ({
    h,
    closes: triangles[h] === a,
    angle: around(sub(pointAt(vertices, triangles[previous(h)]!), origin), axis, x, y),
  }));
  if (spokes.filter((s) => s.closes).length * 2 !== spokes.length) return false;
  // At one angle a wedge closes before the next opens.
  spokes.sort((s, t) => s.angle - t.angle || Number(t.closes) - Number(s.closes));
  const open: number[] = [];
  // Twice around, so that a wedge over the seam of the circle finds its end.
  for (const { h, closes } of [...spokes, ...spokes]) {
    if (twins[h]! >= 0) continue;
    if (!closes) {
      if (!open.includes(h)) open.push(h);
    } else if (open.length > 0) {
      const g = open.pop()!;
      twins[g] = h;
      twins[h] = g;
    }
  }
  return true;
}

function around(p: Vec3, axis: Vec3, x: Vec3, y: Vec3): number {
  const flat = along(p, axis, -dot(p, axis));
  return Math.atan2(dot(flat, y), dot(flat, x));
}
