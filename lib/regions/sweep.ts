/**
 * One tree of a sinking plane and one build direction go in; the largest pieces that can be built
 * along the direction on such a plane come out, by facet arithmetic alone.
 *
 * A piece is sound until it takes in the top of a facet or edge that hangs along d beyond what is
 * tolerated, a place that begins in the air, or a point too low for the head at that tilt. Just above
 * that height it is a candidate, and once more at the height where the last facet that it relieves
 * came in, which is the smallest piece of the same use.
 */
import { next } from '../base/mesh.js';
import { type Vec3 } from '../base/vector.js';
import { hangingEdges } from '../overhang/edges.js';
import { lowestPlaces } from '../overhang/minima.js';
import { leans } from '../overhang/overhang.js';
import { type Body, EDGE_COST } from './body.js';
import type { SinkTree } from './tree.js';

export interface Candidate {
  readonly direction: Vec3;
  readonly normal: Vec3;
  /** The plane is the points x with x.normal = offset, mm. */
  readonly offset: number;
  /** The highest vertex of the piece along the normal. */
  readonly seed: number;
  /** mm2 of what hangs along the table normal and lies in the piece, less what hangs in the piece. */
  readonly gain: number;
  /** Surface of the piece, mm2. */
  readonly area: number;
}

/** What a direction forbids, whatever the plane. */
export interface Marks {
  readonly direction: Vec3;
  /** Facets that hang along d. */
  readonly leaning: Uint32Array;
  /** Edges that do, as their two ends, and what each costs. */
  readonly edges: readonly { readonly ends: readonly [number, number]; readonly cost: number }[];
  /** Vertices that begin in the air or are too low for the head. */
  readonly barred: Uint32Array;
  /** Where edges of the skin sink below what the head can reach: both ends and the share of the way. */
  readonly sinking: readonly {
    readonly from: number;
    readonly to: number;
    readonly share: number;
  }[];
}

/**
 * @param floor least height over the table of what is built along d, mm
 */
export function marksOf(body: Body, d: Vec3, theta: number, floor: number): Marks {
  const sine = Math.sin(theta);
  const leaning = new Uint32Array(body.areas.length);
  let count = 0;
  for (let t = 0; t < body.areas.length; t++) if (leans(body, t, d, sine)) leaning[count++] = t;
  const { triangles } = body.mesh;
  const { half, length } = body.edges;
  const edges = hangingEdges(body, body.edges, d, theta).map((e) => ({
    ends: [triangles[half[e]!]!, triangles[next(half[e]!)]!] as const,
    cost: EDGE_COST * length[e]!,
  }));
  const islands = lowestPlaces(body, d).map((place) => place[0]!);
  return {
    direction: d,
    leaning: leaning.slice(0, count),
    edges,
    ...below(body, floor, islands),
  };
}

/** Vertices under the floor, and where edges cross it. */
function below(
  { mesh: { vertices }, byHeight, start, neighbours }: Body,
  floor: number,
  barred: number[],
): Pick<Marks, 'barred' | 'sinking'> {
  const sinking: { from: number; to: number; share: number }[] = [];
  for (const w of byHeight) {
    const low = vertices[3 * w + 2]!;
    if (low >= floor) break;
    barred.push(w);
    for (let i = start[w]!; i < start[w + 1]!; i++) {
      const v = neighbours[i]!;
      const z = vertices[3 * v + 2]!;
      if (z >= floor) sinking.push({ from: v, to: w, share: (z - floor) / (z - low) });
    }
  }
  return { barred: Uint32Array.from(barred), sinking };
}

/** Arrays that every sweep of a body uses again. */
export class Scratch {
  readonly left: Float64Array;
  readonly bar: Float64Array;
  readonly relief: Float64Array;
  readonly burden: Float64Array;
  readonly area: Float64Array;
  readonly lowest: Float64Array;
  readonly snug: Float64Array;
  readonly seed: Uint32Array;
  readonly dead: Uint8Array;

  constructor(vertices: number) {
    this.left = new Float64Array(vertices);
    this.bar = new Float64Array(vertices);
    this.relief = new Float64Array(vertices);
    this.burden = new Float64Array(vertices);
    this.area = new Float64Array(vertices);
    this.lowest = new Float64Array(vertices);
    this.snug = new Float64Array(vertices);
    this.seed = new Uint32Array(vertices);
    this.dead = new Uint8Array(vertices);
  }
}

/**
 * @param tolerance what may hang in a piece, mm2
 * @param least smallest gain worth a candidate, mm2
 */
export function sweep(
  body: Body,
  tree: SinkTree,
  marks: Marks,
  tolerance: number,
  least: number,
  scratch: Scratch,
  out: Candidate[],
): void {
  const { left, bar, relief, burden, area, lowest, snug, seed, dead } = scratch;
  fill(body, tree, marks, left, bar);
  const emit = (a: number, offset: number): void => {
    const gain = relief[a]! - burden[a]!;
    if (dead[a] || !(gain > least)) return;
    const piece = {
      direction: marks.direction,
      normal: tree.normal,
      seed: tree.vertex[seed[a]!]!,
      gain,
      area: area[a]!,
    };
    out.push({ ...piece, offset });
    if (snug[a]! > offset) out.push({ ...piece, offset: snug[a]! });
  };
  for (let r = 0; r < tree.height.length; r++) {
    const a = tree.arc[r]!;
    const h = tree.height[r]!;
    if (tree.begins[r]) {
      relief[a] = burden[a] = area[a] = dead[a] = 0;
      lowest[a] = snug[a] = -Infinity;
      seed[a] = r;
      for (let i = tree.joinStart[a]!; i < tree.joinStart[a + 1]!; i++) {
        const c = tree.joined[i]!;
        if (h < lowest[c]!) {
          emit(c, lowest[c]!);
          dead[c] = 1;
        }
        relief[a]! += relief[c]!;
        burden[a]! += burden[c]!;
        area[a]! += area[c]!;
        dead[a]! |= dead[c]!;
        if (lowest[c]! > lowest[a]!) lowest[a] = lowest[c]!;
        if (seed[c]! < seed[a]!) seed[a] = seed[c]!;
      }
      snug[a] = -Infinity;
      if (burden[a]! + left[r]! > tolerance) dead[a] = 1;
      if (dead[a]) {
        for (let i = tree.joinStart[a]!; i < tree.joinStart[a + 1]!; i++) {
          emit(tree.joined[i]!, h);
        }
        continue;
      }
    }
    if (dead[a]) continue;
    if (h < lowest[a]!) {
      emit(a, lowest[a]!);
      dead[a] = 1;
      continue;
    }
    if (burden[a]! + left[r]! > tolerance) {
      emit(a, h);
      dead[a] = 1;
      continue;
    }
    burden[a]! += left[r]!;
    area[a]! += tree.area[r]!;
    if (tree.relief[r]! > 0) {
      relief[a]! += tree.relief[r]!;
      snug[a] = h;
    }
    if (bar[r]! > lowest[a]!) lowest[a] = bar[r]!;
  }
}

/** What each vertex brings in along d, by rank, and how low a plane may sink for it. */
function fill(
  body: Body,
  tree: SinkTree,
  marks: Marks,
  left: Float64Array,
  bar: Float64Array,
): void {
  left.fill(0);
  bar.fill(-Infinity);
  const { top, rankOf, height } = tree;
  for (const t of marks.leaning) left[top[t]!]! += body.areas[t]!;
  for (const { ends, cost } of marks.edges) {
    left[Math.min(rankOf[ends[0]]!, rankOf[ends[1]]!)]! += cost;
  }
  for (const v of marks.barred) left[rankOf[v]!] = Infinity;
  for (const { from, to, share } of marks.sinking) {
    const [r, s] = [rankOf[from]!, rankOf[to]!];
    if (s < r) continue;
    const at = height[r]! + share * (height[s]! - height[r]!);
    if (at > bar[r]!) bar[r] = at;
  }
}
