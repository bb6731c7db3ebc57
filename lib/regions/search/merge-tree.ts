/**
 * How a body divides under a sinking plane of normal m, and in one linear pass all that any build
 * direction needs to know about planes square to m.
 *
 * The plane sinks from the top. What is above it is a number of pieces, which grow vertex by vertex and
 * merge: a merge tree (Carr, Snoeyink and Axen, Computing contour trees in all dimensions, 2003), made
 * once for each m with a union-find over its arcs. The roof of a hollow begins no piece of its own: a
 * ray upwards finds the skin over it.
 *
 * The arrays of a tree are made once for a body and filled again for each normal, and vertices are put
 * in order by two counting passes over 2^22 heights: new arrays and the library's sort took three times
 * as long.
 */
import { type Vec3, pointAt } from '../../base/vector.js';
import { firstHit } from '../../mesh/query.js';
import type { RemainingBody } from './remaining-body.js';

const KEY_BITS = 11;
const BINS = 1 << KEY_BITS;

/** Arrays are by rank: the vertices in the order in which the plane meets them. */
export class MergeTree {
  normal: Vec3 = [0, 0, 1];
  readonly vertex: Uint32Array;
  readonly rankOf: Uint32Array;
  /** Height along the normal, mm, falling to within 2^-22 of the extent. */
  readonly height: Float64Array;
  /** The arc to which each vertex belongs; arcs are numbered as they begin. */
  readonly arc: Uint32Array;
  /** 1 for a vertex that begins an arc. */
  readonly begins: Uint8Array;
  /** Arcs that end where arc a begins: `joined[joinStart[a] .. joinStart[a + 1]]`. */
  readonly joinStart: Uint32Array;
  readonly joined: Uint32Array;
  /** Rank of the highest vertex of each facet. */
  readonly top: Uint32Array;
  /** mm2 of facets that lie wholly above once this vertex does. */
  readonly area: Float64Array;
  /** Of these, the worth of what hangs along the table normal now, mm2. */
  readonly relieved: Float64Array;

  readonly #body: RemainingBody;
  readonly #worth: Float64Array;
  readonly #along: Float64Array;
  readonly #keys: Uint32Array;
  readonly #halfway: Uint32Array;
  readonly #bins = new Uint32Array(BINS + 1);
  readonly #parent: Uint32Array;

  /** @param worth of relieving each facet, mm2 */
  constructor(body: RemainingBody, worth: Float64Array) {
    const count = body.start.length - 1;
    this.#body = body;
    this.#worth = worth;
    this.vertex = new Uint32Array(count);
    this.rankOf = new Uint32Array(count);
    this.height = new Float64Array(count);
    this.arc = new Uint32Array(count);
    this.begins = new Uint8Array(count);
    this.joinStart = new Uint32Array(count + 1);
    this.joined = new Uint32Array(count);
    this.top = new Uint32Array(body.areas.length);
    this.area = new Float64Array(count);
    this.relieved = new Float64Array(count);
    this.#along = new Float64Array(count);
    this.#keys = new Uint32Array(count);
    this.#halfway = new Uint32Array(count);
    this.#parent = new Uint32Array(count);
  }

  /** Fills the tree for another normal. */
  sink(normal: Vec3): void {
    this.normal = normal;
    this.#order(normal);
    this.#link(normal);
    this.#weigh();
  }

  #order([x, y, z]: Vec3): void {
    const v = this.#body.mesh.vertices;
    const along = this.#along;
    let least = Infinity;
    let most = -Infinity;
    for (let i = 0, j = 0; i < along.length; i++, j += 3) {
      const h = v[j]! * x + v[j + 1]! * y + v[j + 2]! * z;
      along[i] = h;
      if (h < least) least = h;
      if (h > most) most = h;
    }
    const scale = most > least ? (BINS * BINS - 1) / (most - least) : 0;
    const keys = this.#keys;
    for (let i = 0; i < along.length; i++) keys[i] = (most - along[i]!) * scale;
    this.#deal(undefined, this.#halfway, 0);
    this.#deal(this.#halfway, this.vertex, KEY_BITS);
    for (let r = 0; r < this.vertex.length; r++) {
      const i = this.vertex[r]!;
      this.rankOf[i] = r;
      this.height[r] = along[i]!;
    }
  }

  /** One stable counting pass over `KEY_BITS` bits of the keys. */
  #deal(from: Uint32Array | undefined, to: Uint32Array, shift: number): void {
    const keys = this.#keys;
    const bins = this.#bins.fill(0);
    const mask = BINS - 1;
    for (let i = 0; i < keys.length; i++) bins[((keys[i]! >>> shift) & mask) + 1]!++;
    for (let b = 0; b < BINS; b++) bins[b + 1]! += bins[b]!;
    for (let i = 0; i < keys.length; i++) {
      const k = from ? from[i]! : i;
      to[bins[(keys[k]! >>> shift) & mask]!++] = k;
    }
  }

  #link(normal: Vec3): void {
    const { start, neighbours } = this.#body;
    const { vertex, rankOf, arc, begins, joinStart, joined } = this;
    const parent = this.#parent;
    let arcs = 0;
    let ends = 0;
    const find = (a: number): number => {
      while (parent[a] !== a) a = parent[a] = parent[parent[a]!]!;
      return a;
    };
    for (let r = 0; r < vertex.length; r++) {
      const v = vertex[r]!;
      let first = -1;
      const from = ends;
      for (let i = start[v]!; i < start[v + 1]!; i++) {
        const s = rankOf[neighbours[i]!]!;
        if (s >= r) continue;
        const a = find(arc[s]!);
        if (first < 0) first = a;
        else if (a !== first && !holds(joined, from, ends, a)) joined[ends++] = a;
      }
      if (first < 0) {
        const skin = this.#skinOver(v, normal);
        if (skin < r) first = find(arc[skin]!);
      }
      begins[r] = 0;
      if (first >= 0 && ends === from) {
        arc[r] = first;
        continue;
      }
      if (first >= 0) joined[ends++] = first;
      parent[arcs] = arcs;
      for (let i = from; i < ends; i++) parent[joined[i]!] = arcs;
      begins[r] = 1;
      joinStart[arcs] = from;
      arc[r] = arcs++;
      joinStart[arcs] = ends;
    }
  }

  /** Rank of a vertex of the skin that lies over the roof of a hollow at v; Infinity if v is no roof. */
  #skinOver(v: number, m: Vec3): number {
    const { vertexNormals: n, tree, mesh } = this.#body;
    if (n[3 * v]! * m[0] + n[3 * v + 1]! * m[1] + n[3 * v + 2]! * m[2] >= 0) return Infinity;
    const hit = firstHit(tree, pointAt(mesh.vertices, v), m, 1e-6);
    if (!hit) return Infinity;
    const h = 3 * hit.triangle;
    const { rankOf } = this;
    return Math.min(
      rankOf[mesh.triangles[h]!]!,
      rankOf[mesh.triangles[h + 1]!]!,
      rankOf[mesh.triangles[h + 2]!]!,
    );
  }

  #weigh(): void {
    const { mesh, areas } = this.#body;
    const { triangles } = mesh;
    const { rankOf, top } = this;
    const area = this.area.fill(0);
    const relieved = this.relieved.fill(0);
    const worth = this.#worth;
    for (let t = 0, h = 0; t < areas.length; t++, h += 3) {
      const a = rankOf[triangles[h]!]!;
      const b = rankOf[triangles[h + 1]!]!;
      const c = rankOf[triangles[h + 2]!]!;
      top[t] = a < b ? (a < c ? a : c) : b < c ? b : c;
      const low = a > b ? (a > c ? a : c) : b > c ? b : c;
      area[low]! += areas[t]!;
      if (worth[t]! > 0) relieved[low]! += worth[t]!;
    }
  }
}

function holds(list: Uint32Array, from: number, to: number, value: number): boolean {
  for (let i = from; i < to; i++) if (list[i] === value) return true;
  return false;
}
