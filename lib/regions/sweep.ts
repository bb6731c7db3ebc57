/**
 * One plane normal m and one build direction d go in; the largest pieces that can be built along d
 * on a plane square to m come out, by facet arithmetic alone.
 *
 * The plane sinks from the top. What is above it falls into components, which grow vertex by vertex
 * and merge, as in a merge tree (Carr, Snoeyink and Axen 2003), with a union-find. A component is
 * clean until it takes in the top of a facet that hangs along d, a place that begins in the air, or
 * a vertex too low for the head at that tilt. Just above that height it is a candidate. Vertices are
 * ordered by counting sort on 2^16 heights, so a sweep takes time linear in the vertices.
 *
 * The roof of a hollow is a top of the surface as well, but the material over it belongs to a
 * component that is there already: a ray upwards finds it (`roofLinks`).
 */
import { type Vec3, pointAt } from '../base/vector.js';
import { firstHit } from '../mesh/query.js';
import { startsInAir } from '../overhang/minima.js';
import { leans } from '../overhang/overhang.js';
import type { Solid } from './solid.js';

export interface Candidate {
  readonly direction: Vec3;
  readonly normal: Vec3;
  /** The plane is the points x with x.normal = offset, mm. */
  readonly offset: number;
  /** A vertex of the piece, its highest along the normal. */
  readonly seed: number;
  /** Area that hangs upright now and lies in the piece, less what hangs in the piece, mm2. */
  readonly resolved: number;
  /** Surface of the piece, mm2. */
  readonly area: number;
}

export interface SweepRules {
  /** Steepest self-supporting angle, rad. */
  readonly theta: number;
  /** Area that may hang in a piece, mm2; 0 is strict. */
  readonly tolerance: number;
  /** Least height over the table of what is built along d, mm. */
  readonly floor: number;
}

/** What a direction forbids: weight of each vertex as a facet's top is added per normal. */
interface Marks {
  /** Flag a facet: hangs along d. */
  readonly facets: Uint8Array;
  /** Flag a vertex: begins in the air along d. */
  readonly islands: Uint8Array;
}

/** Everything about direction d that does not depend on the plane normal. */
export function marksOf(solid: Solid, d: Vec3, theta: number): Marks {
  const sine = Math.sin(theta);
  const facets = new Uint8Array(solid.areas.length);
  for (let t = 0; t < facets.length; t++) facets[t] = leans(solid, t, d, sine) ? 1 : 0;
  const islands = new Uint8Array(solid.vertexNormals.length / 3);
  const none = new Uint8Array(solid.areas.length);
  for (const v of startsInAir(solid, d, none).islands) islands[v] = 1;
  return { facets, islands };
}

export function sweep(
  solid: Solid,
  m: Vec3,
  d: Vec3,
  marks: Marks,
  rules: SweepRules,
): Candidate[] {
  const height = heightsAlong(solid, m);
  const weights = weigh(solid, height, marks);
  const order = descending(height);
  const links = roofLinks(solid, m, height);
  const forest = new Forest(height.length);
  const out: Candidate[] = [];
  const { vertices } = solid.mesh;
  const done = new Uint8Array(height.length);
  for (const v of order) {
    const near: number[] = [];
    for (let i = solid.start[v]!; i < solid.start[v + 1]!; i++) {
      const w = solid.neighbours[i]!;
      if (done[w]) pushNew(near, forest.find(w));
    }
    const link = links.get(v);
    if (link !== undefined && done[link]) pushNew(near, forest.find(link));
    const barred = marks.islands[v] === 1 || vertices[3 * v + 2]! < rules.floor;
    let dirt = weights.dirt[v]!;
    for (const r of near) dirt += forest.dirt[r]!;
    const spoils = barred || dirt > rules.tolerance;
    for (const r of near) {
      if (!spoils || forest.dirt[r]! > rules.tolerance || forest.area[r] === 0) continue;
      out.push({
        direction: d,
        normal: m,
        offset: height[v]!,
        seed: forest.seed[r]!,
        resolved: forest.gain[r]! - forest.dirt[r]!,
        area: forest.area[r]!,
      });
    }
    forest.add(v, near, weights.gain[v]!, spoils ? Infinity : dirt, weights.area[v]!);
    done[v] = 1;
  }
  return out;
}

function heightsAlong(solid: Solid, m: Vec3): Float64Array {
  const v = solid.mesh.vertices;
  const out = new Float64Array(v.length / 3);
  for (let i = 0; i < out.length; i++)
    out[i] = v[3 * i]! * m[0] + v[3 * i + 1]! * m[1] + v[3 * i + 2]! * m[2];
  return out;
}

interface Weights {
  readonly gain: Float64Array;
  readonly dirt: Float64Array;
  readonly area: Float64Array;
}

/** Facet areas, written on the highest vertex of each facet. */
function weigh(solid: Solid, height: Float64Array, marks: Marks): Weights {
  const gain = new Float64Array(height.length);
  const dirt = new Float64Array(height.length);
  const area = new Float64Array(height.length);
  const { triangles } = solid.mesh;
  const upright = solid.upright.facets;
  for (let t = 0; t < solid.areas.length; t++) {
    const [a, b, c] = [triangles[3 * t]!, triangles[3 * t + 1]!, triangles[3 * t + 2]!];
    const ab = height[a]! >= height[b]! ? a : b;
    const top = height[ab]! >= height[c]! ? ab : c;
    area[top]! += solid.areas[t]!;
    if (upright[t]) gain[top]! += solid.areas[t]!;
    if (marks.facets[t]) dirt[top]! += solid.areas[t]!;
  }
  return { gain, dirt, area };
}

/** Vertices from the highest to the lowest, in bins of 2^-16 of the extent. */
function descending(height: Float64Array): Uint32Array {
  let least = Infinity;
  let most = -Infinity;
  for (const h of height) {
    if (h < least) least = h;
    if (h > most) most = h;
  }
  const bins = 65536;
  const scale = most > least ? (bins - 1) / (most - least) : 0;
  const start = new Uint32Array(bins + 1);
  const bin = new Uint16Array(height.length);
  for (let v = 0; v < height.length; v++) {
    bin[v] = Math.floor((most - height[v]!) * scale);
    start[bin[v]! + 1]!++;
  }
  for (let b = 0; b < bins; b++) start[b + 1]! += start[b]!;
  const out = new Uint32Array(height.length);
  for (let v = 0; v < height.length; v++) out[start[bin[v]!]!++] = v;
  return out;
}

/** From the highest vertex of each hollow's roof to a vertex of the skin that lies over it. */
export function roofLinks(solid: Solid, m: Vec3, height: Float64Array): Map<number, number> {
  const links = new Map<number, number>();
  const n = solid.vertexNormals;
  for (let v = 0; v < height.length; v++) {
    if (n[3 * v]! * m[0] + n[3 * v + 1]! * m[1] + n[3 * v + 2]! * m[2] >= 0) continue;
    let top = solid.start[v + 1]! > solid.start[v]!;
    for (let i = solid.start[v]!; top && i < solid.start[v + 1]!; i++) {
      if (height[solid.neighbours[i]!]! > height[v]!) top = false;
    }
    if (!top) continue;
    const hit = firstHit(solid.tree, pointAt(solid.mesh.vertices, v), m, 1e-6);
    if (!hit) continue;
    const corners = [0, 1, 2].map((c) => solid.mesh.triangles[3 * hit.triangle + c]!);
    links.set(
      v,
      corners.reduce((a, b) => (height[a]! >= height[b]! ? a : b)),
    );
  }
  return links;
}

/** Flags the vertices above a plane that hang together with the seed. */
export function takenFrom(
  solid: Solid,
  seed: number,
  height: Float64Array,
  offset: number,
  m: Vec3,
): Uint8Array {
  const taken = new Uint8Array(height.length);
  const links = roofLinks(solid, m, height);
  const back = new Map<number, number[]>();
  for (const [roof, skin] of links) back.set(skin, [...(back.get(skin) ?? []), roof]);
  const stack = [seed];
  const reach = (v: number): void => {
    if (taken[v] || !(height[v]! > offset)) return;
    taken[v] = 1;
    stack.push(v);
  };
  reach(seed);
  for (let v = stack.pop(); v !== undefined; v = stack.pop()) {
    for (let i = solid.start[v]!; i < solid.start[v + 1]!; i++) reach(solid.neighbours[i]!);
    const skin = links.get(v);
    if (skin !== undefined) reach(skin);
    for (const roof of back.get(v) ?? []) reach(roof);
  }
  return taken;
}

function pushNew(list: number[], value: number): void {
  if (!list.includes(value)) list.push(value);
}

/** Components above the plane, with sums at their roots. */
class Forest {
  readonly seed: Int32Array;
  readonly gain: Float64Array;
  readonly dirt: Float64Array;
  readonly area: Float64Array;
  readonly #parent: Int32Array;

  constructor(count: number) {
    this.#parent = Int32Array.from({ length: count }, (_, v) => v);
    this.seed = Int32Array.from(this.#parent);
    this.gain = new Float64Array(count);
    this.dirt = new Float64Array(count);
    this.area = new Float64Array(count);
  }

  find(v: number): number {
    const p = this.#parent;
    while (p[v] !== v) v = p[v] = p[p[v]!]!;
    return v;
  }

  /** Joins v and the components beside it; `dirt` is that of all of them together. */
  add(v: number, near: readonly number[], gain: number, dirt: number, area: number): void {
    this.gain[v] = gain;
    this.area[v] = area;
    for (const r of near) {
      this.#parent[r] = v;
      this.gain[v]! += this.gain[r]!;
      this.area[v]! += this.area[r]!;
    }
    if (near.length > 0) this.seed[v] = this.seed[near[0]!]!;
    this.dirt[v] = dirt;
  }
}
