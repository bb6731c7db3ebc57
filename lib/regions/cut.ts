/**
 * A closed mesh and a plane go in; two closed meshes come out that share the cut face. Only what was
 * asked for is taken off: of the pieces above the plane those whose vertices are marked, so a plane
 * may cut one limb and leave another, which it also meets, whole.
 *
 * Vertices within a tolerance of the plane are on it and belong to both sides; edges that cross are
 * split once; every triangle then lies on one side. The open edges of a side are the outline of the
 * cut face, traced by turning about the vertices through the facets (so outlines that touch in a
 * vertex stay apart), and filled by earcut. One pass over the triangles.
 */
import { type Mesh, type Plane, next } from '../base/mesh.js';
import { List, float64List, int32List, uint32List } from '../base/ragged.js';
import { twinsOf } from '../base/twins.js';
import { type Vec3, cross, dot, pointAt, sub } from '../base/vector.js';
import { type Face, faceOf } from './face.js';

/** A closed mesh whose triangles say from which cut they come; -1 is skin. */
export interface Tagged {
  readonly mesh: Mesh;
  readonly cut: Int32Array;
}

export interface Cut {
  /** On the side that the normal points to. */
  readonly piece: Tagged;
  readonly rest: Tagged;
  /** Area of the cut face, mm2. */
  readonly contactArea: number;
}

/** Heights of vertices over a plane, mm. */
export function heightsOver(mesh: Mesh, plane: Plane): Float64Array {
  const v = mesh.vertices;
  const [nx, ny, nz] = plane.normal;
  const o = nx * plane.point[0] + ny * plane.point[1] + nz * plane.point[2];
  const out = new Float64Array(v.length / 3);
  for (let i = 0; i < out.length; i++)
    out[i] = nx * v[3 * i]! + ny * v[3 * i + 1]! + nz * v[3 * i + 2]! - o;
  return out;
}

/** Vertices this near to the plane are on it, mm. */
export const ON_PLANE = 1e-6;

/**
 * @param taken flag a vertex: those above the plane that are to be taken off; left out takes all
 * @param id number written on the triangles of the cut face, on both sides
 * @returns undefined if nothing or everything would be taken off, or the outline bounds no area
 */
export function cutOff(
  solid: Tagged,
  plane: Plane,
  id: number,
  taken?: Uint8Array,
  heights = heightsOver(solid.mesh, plane),
): Cut | undefined {
  const work = new Splitter(solid, plane.normal, heights, taken);
  work.split();
  if (work.piece.triangles.length === 0 || work.rest.triangles.length === 0) return undefined;
  const vertices = work.vertices.take();
  const face = faceOf(
    vertices,
    outline(vertices.length / 3, work.piece.triangles.take()),
    plane.normal,
  );
  if (!face) return undefined;
  const piece = closed(vertices, work.piece, face, id, true);
  const rest = closed(vertices, work.rest, face, id, false);
  if (piece.mesh.twins.includes(-1) || rest.mesh.twins.includes(-1)) return undefined;
  return { piece, rest, contactArea: face.area };
}

interface Side {
  readonly triangles: List<Uint32Array>;
  readonly cut: List<Int32Array>;
}

/** Deals the triangles of a solid to two sides, splitting those that cross. */
class Splitter {
  readonly vertices = float64List();
  readonly piece: Side = { triangles: uint32List(), cut: int32List() };
  readonly rest: Side = { triangles: uint32List(), cut: int32List() };
  readonly #solid: Tagged;
  readonly #heights: Float64Array;
  /** 1 above and taken, 0 on the plane, -1 below or left. */
  readonly #side: Int8Array;
  /** New vertex on the edge of a half-edge, or -1. */
  readonly #crossing: Int32Array;

  readonly #normal: Vec3;

  constructor(solid: Tagged, normal: Vec3, heights: Float64Array, taken: Uint8Array | undefined) {
    this.#solid = solid;
    this.#normal = normal;
    this.#heights = heights;
    this.#side = new Int8Array(heights.length);
    for (let v = 0; v < heights.length; v++) {
      const h = heights[v]!;
      this.#side[v] = h > ON_PLANE ? (!taken || taken[v] ? 1 : -1) : h < -ON_PLANE ? -1 : 0;
    }
    this.#crossing = new Int32Array(solid.mesh.triangles.length).fill(-1);
    this.vertices.append(solid.mesh.vertices);
  }

  split(): void {
    const { triangles } = this.#solid.mesh;
    const level: number[] = [];
    const inPiece = new Uint8Array(triangles.length / 3);
    for (let t = 0; t < triangles.length / 3; t++) {
      const [a, b, c] = [0, 1, 2].map((i) => this.#side[triangles[3 * t + i]!]!) as [
        number,
        number,
        number,
      ];
      const up = a > 0 || b > 0 || c > 0;
      const down = a < 0 || b < 0 || c < 0;
      if (!up && !down) level.push(t);
      else if (!up) this.#give(this.rest, t);
      else if (!down) {
        inPiece[t] = 1;
        this.#give(this.piece, t);
      } else this.#divide(t);
    }
    this.#dealLevel(level, inPiece);
  }

  #give(side: Side, t: number): void {
    const { triangles } = this.#solid.mesh;
    side.triangles.push3(triangles[3 * t]!, triangles[3 * t + 1]!, triangles[3 * t + 2]!);
    side.cut.push(this.#solid.cut[t]!);
  }

  /**
   * Faces in the plane belong to the side whose material they bound. One that faces down bounds
   * material above it: that of the piece, if it is connected to the piece.
   */
  #dealLevel(level: readonly number[], inPiece: Uint8Array): void {
    const { twins } = this.#solid.mesh;
    const around = (t: number): number[] => [0, 1, 2].map((i) => Math.floor(twins[3 * t + i]! / 3));
    const isLevel = new Set(level);
    const next = level.filter((t) => around(t).some((u) => inPiece[u]));
    for (let t = next.pop(); t !== undefined; t = next.pop()) {
      if (inPiece[t] || this.#levelNormal(t) >= 0) continue;
      inPiece[t] = 1;
      for (const u of around(t)) if (isLevel.has(u)) next.push(u);
    }
    for (const t of level) this.#give(inPiece[t] ? this.piece : this.rest, t);
  }

  /** Twice the area of a level face, negative where it faces against the plane's normal. */
  #levelNormal(t: number): number {
    const { vertices, triangles } = this.#solid.mesh;
    const corner = (i: number): Vec3 => pointAt(vertices, triangles[3 * t + i]!);
    const a = corner(0);
    return dot(this.#normal, cross(sub(corner(1), a), sub(corner(2), a)));
  }

  #divide(t: number): void {
    const { triangles } = this.#solid.mesh;
    const up: number[] = [];
    const down: number[] = [];
    for (let i = 0; i < 3; i++) {
      const h = 3 * t + i;
      const v = triangles[h]!;
      const s = this.#side[v]!;
      if (s >= 0) up.push(v);
      if (s <= 0) down.push(v);
      if (s * this.#side[triangles[next(h)]!]! < 0) {
        const x = this.#cross(h);
        up.push(x);
        down.push(x);
      }
    }
    this.#fan(this.piece, up, t);
    this.#fan(this.rest, down, t);
  }

  #fan(side: Side, ring: readonly number[], t: number): void {
    for (let i = 2; i < ring.length; i++) {
      side.triangles.push3(ring[0]!, ring[i - 1]!, ring[i]!);
      side.cut.push(this.#solid.cut[t]!);
    }
  }

  /** The vertex where the edge of half-edge h crosses the plane; the same for its twin. */
  #cross(h: number): number {
    const known = this.#crossing[h]!;
    if (known >= 0) return known;
    const { vertices, triangles, twins } = this.#solid.mesh;
    const a = triangles[h]!;
    const b = triangles[next(h)]!;
    const share = this.#heights[a]! / (this.#heights[a]! - this.#heights[b]!);
    const made = this.vertices.length / 3;
    for (let c = 0; c < 3; c++) {
      const p = vertices[3 * a + c]!;
      this.vertices.push(p + share * (vertices[3 * b + c]! - p));
    }
    this.#crossing[h] = made;
    if (twins[h]! >= 0) this.#crossing[twins[h]!] = made;
    return made;
  }
}

/** Loops of vertex indices along the open edges of a side. */
function outline(count: number, triangles: Uint32Array): number[][] {
  const twins = twinsOf(count, triangles);
  const seen = new Uint8Array(twins.length);
  const loops: number[][] = [];
  for (let h = 0; h < twins.length; h++) {
    if (twins[h]! >= 0 || seen[h]) continue;
    const loop: number[] = [];
    for (let g = h; !seen[g];) {
      seen[g] = 1;
      loop.push(triangles[g]!);
      g = next(g);
      while (twins[g]! >= 0) g = next(twins[g]!);
    }
    loops.push(loop);
  }
  return loops;
}

/** One side with the cut face added, unused vertices dropped. */
function closed(vertices: Float64Array, side: Side, face: Face, id: number, up: boolean): Tagged {
  const own = side.triangles.take();
  const triangles = new Uint32Array(own.length + face.triangles.length);
  triangles.set(own);
  for (let i = 0; i < face.triangles.length; i += 3) {
    const [a, b, c] = [face.triangles[i]!, face.triangles[i + 1]!, face.triangles[i + 2]!];
    triangles.set(up ? [a, c, b] : [a, b, c], own.length + i);
  }
  const cut = new Int32Array(triangles.length / 3).fill(id);
  cut.set(side.cut.take());
  return { mesh: compact(vertices, triangles), cut };
}

/** Drops vertices that no triangle names. */
function compact(vertices: Float64Array, triangles: Uint32Array): Mesh {
  const place = new Int32Array(vertices.length / 3).fill(-1);
  const kept = float64List(triangles.length);
  const out = new Uint32Array(triangles.length);
  let count = 0;
  for (let i = 0; i < triangles.length; i++) {
    const v = triangles[i]!;
    if (place[v]! < 0) {
      place[v] = count++;
      kept.push3(vertices[3 * v]!, vertices[3 * v + 1]!, vertices[3 * v + 2]!);
    }
    out[i] = place[v]!;
  }
  return { vertices: kept.take(), triangles: out, twins: twinsOf(count, out) };
}
