/**
 * The largest pieces that can be built along one direction on planes of one normal, found by facet
 * arithmetic alone while the plane sinks through the merge tree.
 *
 * A piece grows until it takes in more that hangs along d than is tolerated, a place that begins in the
 * air, or a point too low for the head at that tilt. On the way the plane is noted at which it gains
 * most, the last one at which it is clean, and the one at which the last facet that it relieves came
 * in, which is the smallest piece of the same use.
 */
import { next } from '../../base/mesh.js';
import { type Vec3 } from '../../base/vector.js';
import { hangingEdges } from '../../overhang/hanging-edges.js';
import { lowestPlaces } from '../../overhang/minima.js';
import { leans } from '../../overhang/overhang.js';
import { type RemainingBody, EDGE_COST } from './remaining-body.js';
import type { MergeTree } from './merge-tree.js';

export interface CandidatePlane {
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
  /** All that is above the plane is sound, so that nothing is left there for the head to meet. */
  readonly whole: boolean;
}

/** What a direction forbids, whatever the plane. */
export interface DirectionMarks {
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
export function marksOf(
  body: RemainingBody,
  d: Vec3,
  theta: number,
  floor: number,
): DirectionMarks {
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
  { mesh: { vertices }, byHeight, start, neighbours }: RemainingBody,
  floor: number,
  barred: number[],
): Pick<DirectionMarks, 'barred' | 'sinking'> {
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

/** Sums over the arcs of a merge tree, made once for a body and used for every sweep. */
export class Arcs {
  /** What each vertex brings in that hangs along d, by rank, mm2; infinite where it bars the piece. */
  readonly load: Float64Array;
  /** How low a plane may sink once a vertex is above it, by rank, mm. */
  readonly bar: Float64Array;
  readonly relieved: Float64Array;
  readonly burden: Float64Array;
  readonly area: Float64Array;
  readonly lowest: Float64Array;
  readonly seed: Uint32Array;
  /** 1 for an arc that is barred or has been reported. */
  readonly over: Uint8Array;
  /** The best piece so far on each arc, and where its last use came in. */
  readonly bestGain: Float64Array;
  readonly bestArea: Float64Array;
  readonly bestAt: Float64Array;
  readonly snug: Float64Array;
  /** Where the arc stopped being clean, and its gain and area there. */
  readonly cleanGain: Float64Array;
  readonly cleanArea: Float64Array;
  readonly cleanAt: Float64Array;
  /** The arc that stands for all that is above the plane together. */
  readonly all: number;

  constructor(vertices: number) {
    this.all = vertices;
    const numbers = (): Float64Array => new Float64Array(vertices + 1);
    this.load = numbers();
    this.bar = numbers();
    this.relieved = numbers();
    this.burden = numbers();
    this.area = numbers();
    this.lowest = numbers();
    this.seed = new Uint32Array(vertices + 1);
    this.over = new Uint8Array(vertices + 1);
    this.bestGain = numbers();
    this.bestArea = numbers();
    this.bestAt = numbers();
    this.snug = numbers();
    this.cleanGain = numbers();
    this.cleanArea = numbers();
    this.cleanAt = numbers();
  }

  begin(a: number, rank: number): void {
    this.relieved[a] = this.burden[a] = this.area[a] = this.over[a] = 0;
    this.lowest[a] = this.snug[a] = -Infinity;
    this.bestGain[a] = this.cleanGain[a] = -Infinity;
    this.bestArea[a] = 0;
    this.seed[a] = rank;
  }

  /** Adds the sums of an arc that ends to the one that begins. */
  join(a: number, c: number): void {
    this.relieved[a]! += this.relieved[c]!;
    this.burden[a]! += this.burden[c]!;
    this.area[a]! += this.area[c]!;
    this.over[a]! |= this.over[c]!;
    if (this.lowest[c]! > this.lowest[a]!) this.lowest[a] = this.lowest[c]!;
    if (this.seed[c]! < this.seed[a]!) this.seed[a] = this.seed[c]!;
  }

  /**
   * Takes in a vertex, unless that bars the piece. Only where something hanging comes in, or the piece
   * ends, can a plane be the best so far: above that a lower plane gains more.
   * @returns false if the piece ends here
   */
  take(a: number, tree: MergeTree, rank: number, tolerance: number): boolean {
    const h = tree.height[rank]!;
    const low = this.lowest[a]!;
    if (h < low) {
      this.note(a, low);
      return false;
    }
    const load = this.load[rank]!;
    if (load > 0) {
      this.note(a, h);
      if (this.burden[a]! + load > tolerance) return false;
      this.burden[a]! += load;
    }
    this.area[a]! += tree.area[rank]!;
    const relieved = tree.relieved[rank]!;
    if (relieved > 0) {
      this.relieved[a]! += relieved;
      this.snug[a] = h;
    }
    if (this.bar[rank]! > low) this.lowest[a] = this.bar[rank]!;
    return true;
  }

  /** Notes the piece above a plane at height h. */
  note(a: number, h: number): void {
    const gain = this.relieved[a]! - this.burden[a]!;
    if (this.burden[a] === 0) {
      this.cleanGain[a] = gain;
      this.cleanArea[a] = this.area[a]!;
      this.cleanAt[a] = h;
    }
    // A larger piece of the same use is worth a little.
    const worth = gain + AREA_WORTH * this.area[a]!;
    if (worth <= this.bestGain[a]! + AREA_WORTH * this.bestArea[a]!) return;
    this.bestGain[a] = gain;
    this.bestArea[a] = this.area[a]!;
    this.bestAt[a] = h;
  }
}

/** What one mm2 of a piece's skin is worth beside what it relieves, mm2. */
export const AREA_WORTH = 0.01;

/**
 * @param tolerance what may hang in a piece, mm2
 * @param least smallest gain worth a candidate, mm2
 */
export function sweep(
  body: RemainingBody,
  tree: MergeTree,
  marks: DirectionMarks,
  tolerance: number,
  least: number,
  arcs: Arcs,
  out: CandidatePlane[],
): void {
  fill(body, tree, marks, arcs);
  const ranks = tree.height.length;
  const { all, over } = arcs;
  const end = (a: number): void => {
    if (!over[a]) report(tree, marks, arcs, a, least, out);
    over[a] = 1;
  };
  arcs.begin(all, 0);
  for (let r = 0; r < ranks; r++) {
    if (arcs.take(all, tree, r, tolerance)) continue;
    end(all);
    break;
  }
  for (let r = 0; r < ranks; r++) {
    const a = tree.arc[r]!;
    if (tree.begins[r]) begin(tree, arcs, a, r, tolerance, end);
    if (!over[a] && !arcs.take(a, tree, r, tolerance)) end(a);
  }
}

/** An arc begins at a vertex; those that end there go on as it, or are reported if it is barred. */
function begin(
  tree: MergeTree,
  arcs: Arcs,
  a: number,
  rank: number,
  tolerance: number,
  end: (a: number) => void,
): void {
  const { lowest, over, burden, load } = arcs;
  const h = tree.height[rank]!;
  const [from, to] = [tree.joinStart[a]!, tree.joinStart[a + 1]!];
  arcs.begin(a, rank);
  for (let i = from; i < to; i++) {
    const c = tree.joined[i]!;
    if (!over[c]) {
      arcs.note(c, Math.max(h, lowest[c]!));
      if (h < lowest[c]!) end(c);
    }
    arcs.join(a, c);
  }
  if (burden[a]! + load[rank]! > tolerance) over[a] = 1;
  for (let i = from; over[a] && i < to; i++) end(tree.joined[i]!);
}

/** Reports the candidates of an arc: its best piece, its largest clean one, its smallest. */
function report(
  tree: MergeTree,
  marks: DirectionMarks,
  arcs: Arcs,
  a: number,
  least: number,
  out: CandidatePlane[],
): void {
  const piece = {
    direction: marks.direction,
    normal: tree.normal,
    seed: tree.vertex[arcs.seed[a]!]!,
    whole: a === arcs.all,
  };
  const gain = arcs.bestGain[a]!;
  if (gain > least) {
    const offset = arcs.bestAt[a]!;
    const area = arcs.bestArea[a]!;
    out.push({ ...piece, gain, area, offset });
    if (arcs.snug[a]! > offset) out.push({ ...piece, gain, area, offset: arcs.snug[a]! });
  }
  if (arcs.cleanGain[a]! > least && arcs.cleanAt[a]! !== arcs.bestAt[a]!) {
    out.push({
      ...piece,
      gain: arcs.cleanGain[a]!,
      area: arcs.cleanArea[a]!,
      offset: arcs.cleanAt[a]!,
    });
  }
}

/** What each vertex brings in along d, by rank, and how low a plane may sink for it. */
function fill(
  body: RemainingBody,
  tree: MergeTree,
  marks: DirectionMarks,
  { load, bar }: Arcs,
): void {
  load.fill(0);
  bar.fill(-Infinity);
  const { top, rankOf, height } = tree;
  for (const t of marks.leaning) load[top[t]!]! += body.areas[t]!;
  for (const { ends, cost } of marks.edges) {
    load[Math.min(rankOf[ends[0]]!, rankOf[ends[1]]!)]! += cost;
  }
  for (const v of marks.barred) load[rankOf[v]!] = Infinity;
  for (const { from, to, share } of marks.sinking) {
    const [r, s] = [rankOf[from]!, rankOf[to]!];
    if (s < r) continue;
    const at = height[r]! + share * (height[s]! - height[r]!);
    if (at > bar[r]!) bar[r] = at;
  }
}
