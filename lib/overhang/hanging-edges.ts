/**
 * Edges that hang although the two facets beside them do not. A layer's outline has a corner where a
 * sharp edge crosses it, and the corner runs outwards as the edge leans: on the lowest edge of a bar
 * that lies on its edge like an upturned roof, every facet leans by 45 deg, yet the first layer is a
 * thread in the air.
 *
 * Rule: material under a point within the self-supporting angle carries it. Near an edge the material
 * is a wedge, and the direction in it that is nearest to straight down is straight down itself, its
 * projection on one of the facets (which the facet rule judges), or the edge. With a = -n.d for the two
 * facets and k = n1.n2, it is the edge iff a1 > k a2 and a2 > k a1; the edge then hangs if it leans by
 * more than theta from the build direction.
 */
import { type Mesh, next } from '../base/mesh.js';
import type { Vec3 } from '../base/vector.js';
import { type CarriedFacets, type PreparedMesh, leans } from './facets.js';

export interface ConvexEdges {
  /** One half-edge of each edge that stands out of the material. */
  readonly half: Uint32Array;
  /** The facet on its other side, slivers between passed over. */
  readonly other: Uint32Array;
  /** mm */
  readonly length: Float64Array;
  /** Packed unit vectors along the edges. */
  readonly along: Float64Array;
  /** n1.n2 of the facets beside each. */
  readonly bend: Float64Array;
}

/** Edges that bend outwards by less than this hang no more than their facets, rad. */
const FLAT_BEND = 0.02;
/** An edge may lean this much more than theta: simplified skins are rough, rad. */
const LEAN_SLACK = 0.035;

export function edgesOf(p: PreparedMesh): ConvexEdges {
  const { triangles, twins } = p.mesh;
  const half: number[] = [];
  const other: number[] = [];
  for (let h = 0; h < twins.length; h++) {
    const across = acrossFrom(p, h);
    if (across === undefined || !outward(p, h, across)) continue;
    half.push(h);
    other.push(across.facet);
  }
  const out: ConvexEdges = {
    half: Uint32Array.from(half),
    other: Uint32Array.from(other),
    length: new Float64Array(half.length),
    along: new Float64Array(3 * half.length),
    bend: new Float64Array(half.length),
  };
  half.forEach((h, e) => {
    const [a, b] = [3 * triangles[h]!, 3 * triangles[next(h)]!];
    const v = p.mesh.vertices;
    const [x, y, z] = [v[b]! - v[a]!, v[b + 1]! - v[a + 1]!, v[b + 2]! - v[a + 2]!];
    const size = Math.hypot(x, y, z);
    out.length[e] = size;
    const k = size > 0 ? 1 / size : 0;
    out.along.set([x * k, y * k, z * k], 3 * e);
    out.bend[e] = bendOf(p, Math.floor(h / 3), other[e]!);
  });
  return out;
}

interface Across {
  readonly facet: number;
  /** Its corner off the edge. */
  readonly corner: number;
}

/** A triangle lower than this over its longest edge is a sliver, with no slope of its own, mm. */
const SLIVER_HEIGHT = 1e-5;
/** Slivers passed over at most: cuts leave one or two side by side. */
const SLIVERS = 4;

/**
 * The facet across a half-edge. Each edge is judged from one side: that of the lower half-edge, or, with
 * slivers between, that of the lower facet.
 */
function acrossFrom(p: PreparedMesh, h: number): Across | undefined {
  const { triangles, twins } = p.mesh;
  const own = Math.floor(h / 3);
  let g = twins[h]!;
  if (!sliver(p, Math.floor(g / 3))) {
    if (g < h || sliver(p, own)) return undefined;
    return { facet: Math.floor(g / 3), corner: triangles[next(next(g))]! };
  }
  if (sliver(p, own)) return undefined;
  for (let i = 0; i < SLIVERS; i++) {
    const [a, b] = [next(g), next(next(g))];
    g = twins[reach(p.mesh, a) >= reach(p.mesh, b) ? a : b]!;
    const facet = Math.floor(g / 3);
    if (sliver(p, facet)) continue;
    return facet > own ? { facet, corner: triangles[next(next(g))]! } : undefined;
  }
  return undefined;
}

function sliver({ areas, mesh }: PreparedMesh, t: number): boolean {
  // For most triangles the area alone decides.
  if (areas[t]! > SLIVER_HEIGHT) return false;
  const h = 3 * t;
  const longest = Math.max(reach(mesh, h), reach(mesh, h + 1), reach(mesh, h + 2));
  return areas[t]! <= (SLIVER_HEIGHT / 2) * longest;
}

function reach({ vertices: v, triangles }: Mesh, h: number): number {
  const [a, b] = [3 * triangles[h]!, 3 * triangles[next(h)]!];
  return Math.hypot(v[b]! - v[a]!, v[b + 1]! - v[a + 1]!, v[b + 2]! - v[a + 2]!);
}

function bendOf({ normals: n, areas }: PreparedMesh, s: number, t: number): number {
  const dot = n[3 * s]! * n[3 * t]! + n[3 * s + 1]! * n[3 * t + 1]! + n[3 * s + 2]! * n[3 * t + 2]!;
  return dot / (areas[s]! * areas[t]!);
}

/** True if the far corner of the other facet lies behind this facet, clearly. */
function outward(p: PreparedMesh, h: number, { facet, corner }: Across): boolean {
  const { vertices: v, triangles } = p.mesh;
  const t = Math.floor(h / 3);
  if (!(bendOf(p, t, facet) < Math.cos(FLAT_BEND))) return false;
  const far = 3 * corner;
  const at = 3 * triangles[h]!;
  let off = 0;
  for (let c = 0; c < 3; c++) off += (v[far + c]! - v[at + c]!) * p.normals[3 * t + c]!;
  return off < 0;
}

/** Indices of the edges that hang along d; edges of carried facets do not. */
export function hangingEdges(
  p: PreparedMesh,
  edges: ConvexEdges,
  d: Vec3,
  theta: number,
  carried?: CarriedFacets,
): number[] {
  const { normals: n, areas } = p;
  const steep = Math.cos(theta + LEAN_SLACK);
  const sine = Math.sin(theta);
  const out: number[] = [];
  for (let e = 0; e < edges.half.length; e++) {
    const lean =
      edges.along[3 * e]! * d[0] + edges.along[3 * e + 1]! * d[1] + edges.along[3 * e + 2]! * d[2];
    if (lean > steep || lean < -steep) continue;
    const h = edges.half[e]!;
    const s = (h - (h % 3)) / 3;
    const t = edges.other[e]!;
    const a = -(n[3 * s]! * d[0] + n[3 * s + 1]! * d[1] + n[3 * s + 2]! * d[2]) / areas[s]!;
    const b = -(n[3 * t]! * d[0] + n[3 * t + 1]! * d[1] + n[3 * t + 2]! * d[2]) / areas[t]!;
    const k = edges.bend[e]!;
    if (a <= k * b || b <= k * a || carried?.[s] || carried?.[t]) continue;
    if (!leans(p, s, d, sine) && !leans(p, t, d, sine)) out.push(e);
  }
  return out;
}

/** The two ends of edge e. */
export function endsOf(mesh: Mesh, edges: ConvexEdges, e: number): [number, number] {
  const h = edges.half[e]!;
  return [mesh.triangles[h]!, mesh.triangles[next(h)]!];
}
