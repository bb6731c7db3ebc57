/**
 * The faces that close a cut: triangulation of the loops of a section over exactly their nodes, facing
 * along the plane's normal, with twins.
 *
 * Runs of crossings that fall on one vertex are one node. Loops that run clockwise are holes of the
 * smallest loop around them. earcut fills each outline; it leaves out nodes that lie straight between
 * their neighbours, which would open the mesh there, so triangles that pass over such nodes are split
 * at them. A self-intersecting skin gives loops that cross: what earcut cannot fill whole is filled by
 * fans, which may overlap but are closed, and whose signed area is that of the outline.
 */
import earcut from 'earcut';
import { type Vec3, cross, square } from '../../base/vector.js';
import { next } from '../../base/mesh.js';
import { twinsOf } from '../../base/half-edge-twins.js';
import type { MeshSection } from './section.js';

export interface Cap {
  /** Loops of the section, the outer one first. */
  readonly loops: readonly number[];
  /** Nodes, as the first point of each run; outlines one after another. */
  readonly nodes: Uint32Array;
  /** For each node the last point of its run, whose triangle holds the edge to the next node. */
  readonly last: Uint32Array;
  /** Indices into `nodes`. */
  readonly triangles: Uint32Array;
  /** -1 on the outline, at the edge from a node to the next. */
  readonly twins: Int32Array;
  /** mm2, signed: negative for a hole that nothing surrounds. */
  readonly area: number;
  /** Centre of the area inside the outer loop, mm. */
  readonly middle: Vec3;
}

/** What is filled of a section. */
export type Outlines = Pick<MeshSection, 'normal' | 'points' | 'start' | 'at'>;

interface Loop {
  readonly index: number;
  readonly nodes: number[];
  readonly last: number[];
  /** Packed u, v in the plane. */
  readonly flat: Float64Array;
  readonly area: number;
  readonly box: readonly [number, number, number, number];
}

/** One cap for each outer loop; loops of fewer than three nodes bound nothing and have none. */
export function capsOf(section: Outlines): Cap[] {
  const u = square(section.normal);
  const v = cross(section.normal, u);
  const loops: Loop[] = [];
  for (let i = 0; i + 1 < section.start.length; i++) {
    const loop = loopOf(section, i, u, v);
    if (loop.nodes.length > 2) loops.push(loop);
  }
  const outers = loops.filter((l) => l.area > 0);
  const inner = new Map<Loop, Loop[]>(outers.map((o) => [o, []]));
  const lone: Loop[] = [];
  for (const hole of loops) {
    if (hole.area > 0) continue;
    const outer = around(hole, outers);
    if (outer) inner.get(outer)!.push(hole);
    else lone.push(hole);
  }
  return [
    ...[...inner].map(([outer, holes]) => capOf(section, [outer, ...holes])),
    ...lone.map((hole) => capOf(section, [hole])),
  ];
}

function loopOf(section: Outlines, index: number, u: Vec3, v: Vec3): Loop {
  const { points, at } = section;
  const [from, to] = [section.start[index]!, section.start[index + 1]!];
  const nodes: number[] = [];
  const last: number[] = [];
  for (let i = from; i < to; i++) {
    if (nodes.length > 0 && at[i]! >= 0 && at[i] === at[i - 1]) last[last.length - 1] = i;
    else {
      nodes.push(i);
      last.push(i);
    }
  }
  // A run may go over the seam of the loop.
  if (nodes.length > 1 && at[from]! >= 0 && at[from] === at[to - 1]) {
    nodes[0] = nodes.pop()!;
    last.pop();
  }
  const flat = new Float64Array(2 * nodes.length);
  const box: [number, number, number, number] = [Infinity, Infinity, -Infinity, -Infinity];
  nodes.forEach((p, i) => {
    const [x, y, z] = [points[3 * p]!, points[3 * p + 1]!, points[3 * p + 2]!];
    const a = (flat[2 * i] = x * u[0] + y * u[1] + z * u[2]);
    const b = (flat[2 * i + 1] = x * v[0] + y * v[1] + z * v[2]);
    box[0] = Math.min(box[0], a);
    box[1] = Math.min(box[1], b);
    box[2] = Math.max(box[2], a);
    box[3] = Math.max(box[3], b);
  });
  return { index, nodes, last, flat, area: areaOf(flat), box };
}

/** Signed area, taken about the first point to keep digits. */
function areaOf(flat: Float64Array): number {
  const [x, y] = [flat[0]!, flat[1]!];
  let twice = 0;
  for (let i = 2; i + 3 < flat.length; i += 2) {
    twice += (flat[i]! - x) * (flat[i + 3]! - y) - (flat[i + 2]! - x) * (flat[i + 1]! - y);
  }
  return twice / 2;
}

/** The smallest outer loop around a hole. */
function around(hole: Loop, outers: readonly Loop[]): Loop | undefined {
  let best: Loop | undefined;
  for (const outer of outers) {
    if (best && best.area <= outer.area) continue;
    const [a, b] = [outer.box, hole.box];
    if (a[0] > b[0] || a[1] > b[1] || a[2] < b[2] || a[3] < b[3]) continue;
    if (inside(outer.flat, hole.flat[0]!, hole.flat[1]!)) best = outer;
  }
  return best;
}

function inside(flat: Float64Array, x: number, y: number): boolean {
  let odd = false;
  for (let i = 0, j = flat.length - 2; i < flat.length; j = i, i += 2) {
    const [yi, yj] = [flat[i + 1]!, flat[j + 1]!];
    if (yi > y === yj > y) continue;
    if (x < flat[i]! + ((y - yi) / (yj - yi)) * (flat[j]! - flat[i]!)) odd = !odd;
  }
  return odd;
}

function capOf(section: Outlines, loops: readonly Loop[]): Cap {
  const nodes = Uint32Array.from(loops.flatMap((l) => l.nodes));
  const ends: number[] = [];
  let count = 0;
  for (const loop of loops) ends.push((count += loop.nodes.length));
  const triangles = filled(loops, ends) ?? fans(ends);
  const twins = twinsOf(nodes.length, triangles);
  return {
    loops: loops.map((l) => l.index),
    nodes,
    last: Uint32Array.from(loops.flatMap((l) => l.last)),
    triangles,
    twins,
    area: loops.reduce((sum, l) => sum + l.area, 0),
    middle: middleOf(section, loops[0]!),
  };
}

/** Centre of the area inside a loop; it does not depend on how finely the loop is divided. */
function middleOf({ points }: Outlines, { nodes, flat }: Loop): Vec3 {
  const [x, y] = [flat[0]!, flat[1]!];
  const origin = 3 * nodes[0]!;
  const sum: [number, number, number] = [0, 0, 0];
  let twice = 0;
  for (let i = 1; i + 1 < nodes.length; i++) {
    const part =
      (flat[2 * i]! - x) * (flat[2 * i + 3]! - y) - (flat[2 * i + 2]! - x) * (flat[2 * i + 1]! - y);
    twice += part;
    for (let c = 0; c < 3; c++) {
      const from = points[origin + c]!;
      sum[c]! +=
        (part * (points[3 * nodes[i]! + c]! + points[3 * nodes[i + 1]! + c]! - 2 * from)) / 3;
    }
  }
  return sum.map((s, c) => points[origin + c]! + (twice === 0 ? 0 : s / twice)) as unknown as Vec3;
}

/** Triangles of the outlines, or undefined if what earcut gives does not end on them. */
function filled(loops: readonly Loop[], ends: readonly number[]): Uint32Array | undefined {
  if (loops[0]!.area <= 0) return undefined;
  const flat = new Float64Array(2 * ends.at(-1)!);
  loops.forEach((l, i) => flat.set(l.flat, 2 * (ends[i]! - l.nodes.length)));
  const given = earcut(flat, ends.slice(0, -1), 2);
  const triangles = Uint32Array.from(withSkipped(given, ends));
  return endsOn(triangles, ends) ? triangles : undefined;
}

/** True if the open edges of the triangles are exactly those from each node to the next. */
function endsOn(triangles: Uint32Array, ends: readonly number[]): boolean {
  const count = ends.at(-1)!;
  const twins = twinsOf(count, triangles);
  const after = afterOf(ends);
  let open = 0;
  for (let h = 0; h < twins.length; h++) {
    if (twins[h]! >= 0) continue;
    if (after[triangles[h]!] !== triangles[next(h)]) return false;
    open++;
  }
  return open === count;
}

/** The node after each node of the outlines. */
function afterOf(ends: readonly number[]): Uint32Array {
  const after = Uint32Array.from({ length: ends.at(-1)! }, (_, i) => i + 1);
  let from = 0;
  for (const end of ends) {
    after[end - 1] = from;
    from = end;
  }
  return after;
}

/** Splits triangles at the outline nodes that they pass over. */
function withSkipped(triangles: number[], ends: readonly number[]): number[] {
  const count = ends.at(-1)!;
  const used = new Uint8Array(count);
  for (const v of triangles) used[v] = 1;
  if (!used.includes(0)) return triangles;
  const out = [...triangles];
  const edges = new Map<number, number>();
  const note = (t: number): void => {
    for (let c = 0; c < 3; c++) edges.set(out[t + c]! * count + out[t + ((c + 1) % 3)]!, t);
  };
  for (let t = 0; t < out.length; t += 3) note(t);
  const after = afterOf(ends);
  for (let from = 0; from < count; from++) {
    if (!used[from] || used[after[from]!]) continue;
    let to = after[from]!;
    while (!used[to]) to = after[to]!;
    let t = edges.get(from * count + to);
    for (let a = from; t !== undefined && after[a] !== to; a = after[a]!) {
      const middle = after[a]!;
      const apex = out[t]! + out[t + 1]! + out[t + 2]! - a - to;
      out.splice(t, 3, a, middle, apex);
      note(t);
      t = out.push(middle, to, apex) - 3;
      note(t);
    }
  }
  return out;
}

/** A fan over each outline: closed whatever its shape, and exact in signed area. */
function fans(ends: readonly number[]): Uint32Array {
  const out: number[] = [];
  let from = 0;
  for (const end of ends) {
    for (let i = from + 1; i + 1 < end; i++) out.push(from, i, i + 1);
    from = end;
  }
  return Uint32Array.from(out);
}
