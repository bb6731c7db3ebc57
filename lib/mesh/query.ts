/**
 * Nearest point, ray intersection and winding number of a mesh by its bounding volume hierarchy.
 * Prepare the hierarchy once (`treeOf`), query it often.
 */
import { type Vec3, along, dot, length, pointAt, sub } from '../base/vector.js';
import type { BoxTree } from './bvh.js';

export interface NearestPoint {
  readonly distance: number;
  readonly triangle: number;
  readonly point: Vec3;
}

/** The nearest point of the surface within `within` mm; undefined when there is none. */
export function nearestPoint(tree: BoxTree, p: Vec3, within = Infinity): NearestPoint | undefined {
  const { boxes, link, leaf, order, mesh } = tree;
  if (leaf.length === 0) return undefined;
  let best = within * within;
  let found: NearestPoint | undefined;
  // Plain arrays: typed ones as deep as the deepest tree took longer to make than a short walk takes.
  const stack = [0];
  const gaps = [boxGap(boxes, 0, p)];
  let top = 1;
  while (top > 0) {
    const node = stack[--top]!;
    if (gaps[top]! > best) continue;
    if (leaf[node]! > 0) {
      for (let i = link[node]!; i < link[node]! + leaf[node]!; i++) {
        const point = nearestOnTriangle(mesh.vertices, mesh.triangles, order[i]!, p);
        const d = sub(point, p);
        const squared = d[0] * d[0] + d[1] * d[1] + d[2] * d[2];
        if (squared > best || (squared === best && found)) continue;
        best = squared;
        found = { distance: Math.sqrt(squared), triangle: order[i]!, point };
      }
      continue;
    }
    // The nearer child is looked at first, so it goes on top.
    const near = boxGap(boxes, node + 1, p);
    const far = boxGap(boxes, link[node]!, p);
    const leftFirst = near <= far;
    stack[top] = leftFirst ? link[node]! : node + 1;
    gaps[top++] = leftFirst ? far : near;
    stack[top] = leftFirst ? node + 1 : link[node]!;
    gaps[top++] = leftFirst ? near : far;
  }
  return found;
}

/** Squared distance from a point to a node's box. */
function boxGap(boxes: Float64Array, node: number, p: Vec3): number {
  let sum = 0;
  for (let c = 0; c < 3; c++) {
    const gap = Math.max(boxes[6 * node + c]! - p[c]!, p[c]! - boxes[6 * node + 3 + c]!, 0);
    sum += gap * gap;
  }
  return sum;
}

/** Ericson, Real-Time Collision Detection (2005), section 5.1.5: by the region the point lies in. */
function nearestOnTriangle(v: Float64Array, t: Uint32Array, facet: number, p: Vec3): Vec3 {
  const a = pointAt(v, t[3 * facet]!);
  const b = pointAt(v, t[3 * facet + 1]!);
  const c = pointAt(v, t[3 * facet + 2]!);
  const ab = sub(b, a);
  const ac = sub(c, a);
  const d = (u: Vec3, from: Vec3): number =>
    u[0] * (p[0] - from[0]) + u[1] * (p[1] - from[1]) + u[2] * (p[2] - from[2]);
  const d1 = d(ab, a);
  const d2 = d(ac, a);
  if (d1 <= 0 && d2 <= 0) return a;
  const d3 = d(ab, b);
  const d4 = d(ac, b);
  if (d3 >= 0 && d4 <= d3) return b;
  const d5 = d(ab, c);
  const d6 = d(ac, c);
  if (d6 >= 0 && d5 <= d6) return c;
  const mix = (s: number, r: number): Vec3 => [
    a[0] + s * ab[0] + r * ac[0],
    a[1] + s * ab[1] + r * ac[1],
    a[2] + s * ab[2] + r * ac[2],
  ];
  const vc = d1 * d4 - d3 * d2;
  // Where a and b are one place both are 0, and the side from a to c decides.
  if (vc <= 0 && d1 >= 0 && d3 <= 0 && d1 > d3) return mix(d1 / (d1 - d3), 0);
  const vb = d5 * d2 - d1 * d6;
  if (vb <= 0 && d2 >= 0 && d6 <= 0) return mix(0, d2 / (d2 - d6));
  const va = d3 * d6 - d5 * d4;
  if (va <= 0 && d4 - d3 >= 0 && d5 - d6 >= 0) {
    const r = (d4 - d3) / (d4 - d3 + d5 - d6);
    return mix(1 - r, r);
  }
  const sum = va + vb + vc;
  if (sum > LEAST_AREA_SHARE * dot(ab, ab) * dot(ac, ac)) return mix(vb / sum, vc / sum);
  // Without area the weights above are rounding alone; one of the sides is nearest.
  const sides = [onSegment(p, a, b), onSegment(p, b, c), onSegment(p, c, a)];
  return sides.reduce((best, q) => (length(sub(q, p)) < length(sub(best, p)) ? q : best));
}

/** Facets whose squared area is less than this share of that of two sides have only sides. */
const LEAST_AREA_SHARE = 1e-20;

function onSegment(p: Vec3, a: Vec3, b: Vec3): Vec3 {
  const side = sub(b, a);
  const size = dot(side, side);
  return along(a, side, size > 0 ? Math.min(1, Math.max(0, dot(sub(p, a), side) / size)) : 0);
}

export interface RayHit {
  /** Distance along the ray in lengths of its direction. */
  readonly distance: number;
  readonly triangle: number;
  /** -1 where the ray enters material, +1 where it leaves. */
  readonly side: -1 | 1;
}

/** The first facet that a ray meets between `from` and `to` lengths of its direction. */
export function firstHit(
  tree: BoxTree,
  origin: Vec3,
  direction: Vec3,
  from = 0,
  to = Infinity,
): RayHit | undefined {
  let best: RayHit | undefined;
  walkRay(tree, origin, direction, from, to, (hit) => {
    if (!best || hit.distance < best.distance) best = hit;
    return best.distance;
  });
  return best;
}

/**
 * Every facet that a ray meets, in no order. `visit` returns the distance beyond which nothing is
 * wanted any more. A ray through an edge or a corner may meet one, two or no facet there.
 * @param slack weights of the corners may be this much below 0: facets that the ray misses by so little
 *   are visited too, and the second argument of `visit` is negative
 */
export function walkRay(
  tree: BoxTree,
  origin: Vec3,
  direction: Vec3,
  from: number,
  to: number,
  visit: (hit: RayHit, edge: number) => number,
  slack = 0,
): void {
  const { boxes, link, leaf, order, mesh } = tree;
  if (leaf.length === 0) return;
  const inverse: Vec3 = [1 / direction[0], 1 / direction[1], 1 / direction[2]];
  const stack: number[] = [];
  const enters: number[] = [];
  let top = 0;
  let limit = to;
  const push = (node: number, enter: number): void => {
    if (!(enter <= limit)) return;
    stack[top] = node;
    enters[top++] = enter;
  };
  push(0, enterBox(boxes, 0, origin, inverse, from, limit, slack));
  while (top > 0) {
    const node = stack[--top]!;
    if (enters[top]! > limit) continue;
    if (leaf[node]! > 0) {
      for (let i = link[node]!; i < link[node]! + leaf[node]!; i++) {
        limit = Math.min(
          limit,
          meet(mesh, order[i]!, origin, direction, from, limit, visit, slack),
        );
      }
      continue;
    }
    const left = enterBox(boxes, node + 1, origin, inverse, from, limit, slack);
    const right = enterBox(boxes, link[node]!, origin, inverse, from, limit, slack);
    if (left <= right) {
      push(link[node]!, right);
      push(node + 1, left);
    } else {
      push(node + 1, left);
      push(link[node]!, right);
    }
  }
}

/** Where the ray enters a node's box; NaN when it misses it between `from` and `to`. */
function enterBox(
  boxes: Float64Array,
  node: number,
  origin: Vec3,
  inverse: Vec3,
  from: number,
  to: number,
  slack: number,
): number {
  let enter = from;
  let leave = to;
  for (let c = 0; c < 3; c++) {
    const low = boxes[6 * node + c]! - origin[c]!;
    const high = boxes[6 * node + 3 + c]! - origin[c]!;
    const k = inverse[c]!;
    if (k === Infinity || k === -Infinity) {
      if (low > 0 || high < 0) return NaN;
      continue;
    }
    const a = k < 0 ? high * k : low * k;
    const b = k < 0 ? low * k : high * k;
    if (a > enter) enter = a;
    if (b < leave) leave = b;
  }
  // Rounding must not lose a facet that lies in the face of its box.
  return enter <= leave * (1 + 4e-16 + slack) + 1e-300 ? enter : NaN;
}

/** Moeller and Trumbore, Fast, Minimum Storage Ray/Triangle Intersection (1997). */
function meet(
  { vertices: v, triangles: t }: BoxTree['mesh'],
  facet: number,
  o: Vec3,
  d: Vec3,
  from: number,
  to: number,
  visit: (hit: RayHit, edge: number) => number,
  slack: number,
): number {
  const a = 3 * t[3 * facet]!;
  const b = 3 * t[3 * facet + 1]!;
  const c = 3 * t[3 * facet + 2]!;
  const ax = v[a]!;
  const ay = v[a + 1]!;
  const az = v[a + 2]!;
  const ux = v[b]! - ax;
  const uy = v[b + 1]! - ay;
  const uz = v[b + 2]! - az;
  const wx = v[c]! - ax;
  const wy = v[c + 1]! - ay;
  const wz = v[c + 2]! - az;
  const px = d[1] * wz - d[2] * wy;
  const py = d[2] * wx - d[0] * wz;
  const pz = d[0] * wy - d[1] * wx;
  const det = ux * px + uy * py + uz * pz;
  if (det === 0) return to;
  const sx = o[0] - ax;
  const sy = o[1] - ay;
  const sz = o[2] - az;
  const r = (sx * px + sy * py + sz * pz) / det;
  if (!(r >= -slack && r <= 1 + slack)) return to;
  const qx = sy * uz - sz * uy;
  const qy = sz * ux - sx * uz;
  const qz = sx * uy - sy * ux;
  const s = (d[0] * qx + d[1] * qy + d[2] * qz) / det;
  if (!(s >= -slack && r + s <= 1 + slack)) return to;
  const distance = (wx * qx + wy * qy + wz * qz) / det;
  if (!(distance >= from && distance <= to)) return to;
  // det is minus the direction along the normal: positive means against the normal, so going in.
  return visit({ distance, triangle: facet, side: det > 0 ? -1 : 1 }, Math.min(r, s, 1 - r - s));
}

/** Directions along which no ordinary part has faces or edges; several, in case one fails. */
const ODD: readonly Vec3[] = [
  [0.5377, 0.6191, 0.5724],
  [-0.4283, 0.3871, 0.8165],
  [0.2917, -0.8313, 0.4731],
  [-0.7129, -0.2513, -0.6547],
  [0.1931, 0.4637, -0.8647],
];

/** A ray that passes an edge this near (weight of the corner opposite) is not trusted. */
const NEAR_EDGE = 1e-9;

/**
 * How often each group of facets winds round a point, counted by the facets that one ray leaves and
 * enters through. `group` numbers the facets (0 for all gives the winding number of the whole mesh).
 */
export function windingNumbers(
  tree: BoxTree,
  p: Vec3,
  group: (triangle: number) => number = () => 0,
): Map<number, number> {
  let counts = new Map<number, number>();
  for (const direction of ODD) {
    counts = new Map();
    let nearEdge = false;
    const count = (hit: RayHit, edge: number): number => {
      if (edge < NEAR_EDGE) nearEdge = true;
      if (edge < 0) return Infinity;
      const g = group(hit.triangle);
      counts.set(g, (counts.get(g) ?? 0) + hit.side);
      return Infinity;
    };
    // Rounding may let a ray through between two facets: what it misses by so little counts as an edge.
    walkRay(tree, p, direction, 0, Infinity, count, NEAR_EDGE);
    if (!nearEdge) break;
  }
  return counts;
}
