/**
 * A closed mesh as a solid, or what of it lies between two heights: signed distance and skin. The
 * nearest facet comes from the hierarchy of three-mesh-bvh; inside is where a ray leaves more often than
 * it enters, so shells may reach into one another and hold cavities. Where they do, depths are those
 * to the nearest facet and not to the outside.
 */
import { BufferAttribute, BufferGeometry, DoubleSide, Ray, Vector3 } from 'three';
import { MeshBVH } from 'three-mesh-bvh';
import type { FileMesh, Vec } from './chain.js';
import { SPACING, type Solid } from './solids.js';

type Triangle = readonly [Vec, Vec, Vec];

/** Along no edge or face of a drawing. */
const ASKEW = new Vector3(0.5377, 0.3188, 0.7806).normalize();

export function meshSolid(mesh: FileMesh, from = -Infinity, to = Infinity): Solid {
  const all = mesh.triangles.map((t) => t.map((v) => mesh.vertices[v]!) as unknown as Triangle);
  const between = all.flatMap((t) => clipped(t, from, to));
  if (between.length === 0) return { skin: new Float64Array(0), distance: () => Infinity };
  const holds = inside(all);
  const nearest = skinDistance(between);
  const caps = [from, to].filter(Number.isFinite).map((z) => capAt(between, z, holds));
  const exact = (x: number, y: number, z: number): number => {
    const level = Math.min(to, Math.max(from, z));
    const cap = caps[level === from ? 0 : caps.length - 1];
    // Straight over or under a cut the cut itself is nearest.
    if (level !== z) return cap!.holds(x, y) ? Math.abs(z - level) : nearest(x, y, z);
    const d = nearest(x, y, z);
    return holds(x, y, z) ? -Math.min(d, z - from, to - z) : d;
  };
  const field = new Field(exact, rangesOf(between));
  return {
    skin: Float64Array.from([...between.flatMap(pointsOn), ...caps.flatMap((c) => c.points)]),
    distance(x, y, z) {
      const known = z >= from && z <= to && field.look(x, y, z);
      if (!known || Math.abs(field.value) <= field.off) return exact(x, y, z);
      // As far from the skin as that it is on the same side of it.
      const d = nearest(x, y, z, Math.abs(field.value) + field.off);
      return field.value > 0 ? d : -Math.min(d, z - from, to - z);
    },
    atLeast: (x, y, z) => (field.look(x, y, z) ? field.value - field.off : field.aside(x, y, z)),
  };
}

/** Side of the cells in whose middle a distance is kept, mm, and how far around a mesh they reach. */
const CELL = 1;
const AROUND = 20;
/** Distances are kept in float32. */
const KEPT = 1e-4;

/**
 * Distances change by no more than the way between two places, so one that is known tells how small
 * those around it can be, and whether they are inside. Without it the recount of a head of 480 facets deep in
 * a post, 55,000 steps, took more than 120 s of processor time, with it 15 s (busy
 * machine).
 */
class Field {
  /** What `look` found: the distance in the middle of the cell, and how much the place's may differ. */
  value = 0;
  off = 0;
  readonly #exact: Solid['distance'];
  readonly #least: readonly number[];
  readonly #most: readonly number[];
  readonly #low: readonly number[];
  readonly #count: readonly number[];
  readonly #known: Float32Array;

  constructor(exact: Solid['distance'], [least, most]: [number[], number[]]) {
    this.#exact = exact;
    this.#least = least;
    this.#most = most;
    this.#low = least.map((v) => v - AROUND);
    this.#count = most.map((v, c) => Math.ceil((v + AROUND - this.#low[c]!) / CELL));
    this.#known = new Float32Array(this.#count.reduce((a, b) => a * b, 1)).fill(NaN);
  }

  /** False beyond the cells. */
  look(x: number, y: number, z: number): boolean {
    const [lx, ly, lz] = this.#low as [number, number, number];
    const [nx, ny, nz] = this.#count as [number, number, number];
    const i = Math.floor((x - lx) / CELL);
    const j = Math.floor((y - ly) / CELL);
    const k = Math.floor((z - lz) / CELL);
    if (i < 0 || j < 0 || k < 0 || i >= nx || j >= ny || k >= nz) return false;
    const at = (k * ny + j) * nx + i;
    const u = lx + (i + 0.5) * CELL;
    const v = ly + (j + 0.5) * CELL;
    const w = lz + (k + 0.5) * CELL;
    if (Number.isNaN(this.#known[at]!)) this.#known[at] = this.#exact(u, v, w);
    this.value = this.#known[at]!;
    this.off = Math.sqrt((x - u) ** 2 + (y - v) ** 2 + (z - w) ** 2) + KEPT;
    return true;
  }

  /** To the box around it. */
  aside(x: number, y: number, z: number): number {
    const beyond = (v: number, c: number): number =>
      Math.max(0, this.#least[c]! - v, v - this.#most[c]!);
    return Math.hypot(beyond(x, 0), beyond(y, 1), beyond(z, 2));
  }
}

/** The part of a triangle between two heights, as triangles. */
function clipped(t: Triangle, from: number, to: number): Triangle[] {
  const kept = under(under(t, to, 1), -from, -1);
  return kept.slice(2).map((p, i) => [kept[0]!, kept[i + 1]!, p]);
}

/** What of a polygon has sign z of at most a height. */
function under(polygon: readonly Vec[], most: number, sign: number): Vec[] {
  return polygon.flatMap((p, i) => {
    const q = polygon[(i + 1) % polygon.length]!;
    const [a, b] = [most - sign * p[2], most - sign * q[2]];
    const out = a >= 0 ? [p] : [];
    if (a >= 0 === b >= 0) return out;
    const k = a / (a - b);
    return [...out, [p[0] + k * (q[0] - p[0]), p[1] + k * (q[1] - p[1]), sign * most] as Vec];
  });
}

function bvhOf(triangles: readonly Triangle[]): MeshBVH {
  const geometry = new BufferGeometry();
  geometry.setAttribute('position', new BufferAttribute(Float32Array.from(triangles.flat(2)), 3));
  return new MeshBVH(geometry);
}

/** Distance of the skin, if it is not known to be more than `most`; Infinity then. */
function skinDistance(
  triangles: readonly Triangle[],
): (x: number, y: number, z: number, most?: number) => number {
  const bvh = bvhOf(triangles);
  const at = new Vector3();
  const hit = { point: new Vector3(), distance: 0, faceIndex: 0 };
  return (x, y, z, most = Infinity) =>
    bvh.closestPointToPoint(at.set(x, y, z), hit, 0, most)?.distance ?? Infinity;
}

function inside(triangles: readonly Triangle[]): (x: number, y: number, z: number) => boolean {
  const bvh = bvhOf(triangles);
  const [least, most] = rangesOf(triangles);
  const ray = new Ray(new Vector3(), ASKEW);
  return (x, y, z) => {
    if ([x, y, z].some((v, c) => v < least[c]! || v > most[c]!)) return false;
    ray.origin.set(x, y, z);
    let leaves = 0;
    for (const { face } of bvh.raycast(ray, DoubleSide))
      leaves += Math.sign(face!.normal.dot(ASKEW));
    return leaves > 0;
  };
}

/** The cut at a height: points all over it, and whether a place lies in it. */
function capAt(
  triangles: readonly Triangle[],
  z: number,
  holds: (x: number, y: number, z: number) => boolean,
): { readonly points: number[]; holds(x: number, y: number): boolean } {
  const rim = triangles.filter((t) => t.some((p) => p[2] === z));
  const [least, most] = rangesOf(rim.map((t) => t.filter((p) => p[2] === z)));
  const within = (x: number, y: number): boolean =>
    x >= least[0]! && x <= most[0]! && y >= least[1]! && y <= most[1]! && holds(x, y, z);
  const points: number[] = [];
  for (let x = least[0]!; x <= most[0]!; x += SPACING) {
    for (let y = least[1]!; y <= most[1]!; y += SPACING) if (within(x, y)) points.push(x, y, z);
  }
  return { points, holds: within };
}

function rangesOf(lists: readonly (readonly Vec[])[]): [number[], number[]] {
  const [least, most] = [
    [Infinity, Infinity, Infinity],
    [-Infinity, -Infinity, -Infinity],
  ];
  for (const p of lists.flat()) {
    p.forEach((v, c) => {
      least[c] = Math.min(least[c]!, v);
      most[c] = Math.max(most[c]!, v);
    });
  }
  return [least, most];
}

/** Points of the edges, and of the inside in rows across the longest of them. */
function pointsOn(t: Triangle): number[] {
  const size = (i: number): number => Math.hypot(...t[i]!.map((v, c) => t[(i + 1) % 3]![c]! - v));
  const longest = [0, 1, 2].reduce((a, b) => (size(b) > size(a) ? b : a));
  const [a, b, c] = [0, 1, 2].map((k) => t[(longest + k) % 3]!) as [Vec, Vec, Vec];
  const along = b.map((v, k) => v - a[k]!);
  const square = along.reduce((sum, v) => sum + v * v, 0);
  // Where on the longest edge the third corner stands.
  const foot = square > 0 ? along.reduce((s, v, k) => s + v * (c[k]! - a[k]!), 0) / square : 0;
  const out = [a, b, c].flatMap((p, i) => pointsBetween(p, [b, c, a][i]!));
  const rows = Math.ceil(Math.sqrt(square) / SPACING);
  for (let i = 1; i < rows; i++) {
    const k = i / rows;
    const other = k < foot ? mix(a, c, k / foot) : mix(b, c, (1 - k) / (1 - foot));
    out.push(...pointsBetween(mix(a, b, k), other));
  }
  return out;
}

/** From p on, up to but not including q. */
function pointsBetween(p: Vec, q: Vec): number[] {
  const count = Math.max(1, Math.ceil(Math.hypot(...p.map((v, c) => q[c]! - v)) / SPACING));
  return Array.from({ length: count }, (_, i) => mix(p, q, i / count)).flat();
}

const mix = (p: Vec, q: Vec, k: number): [number, number, number] => [
  p[0] + k * (q[0] - p[0]),
  p[1] + k * (q[1] - p[1]),
  p[2] + k * (q[2] - p[2]),
];
