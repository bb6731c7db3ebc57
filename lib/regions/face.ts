/**
 * The face that closes a cut: loops of vertices in a plane go in, triangles over exactly these
 * vertices come out, facing along the normal. earcut does the filling; it leaves out vertices that
 * lie straight between their neighbours, which would open the mesh there, so such triangles are
 * split again at the vertices that they pass over.
 */
import earcut from 'earcut';
import { type Vec3, cross, square } from '../base/vector.js';

export interface Face {
  /** Three vertex indices each, counter-clockwise seen against the normal. */
  readonly triangles: Uint32Array;
  /** mm2 */
  readonly area: number;
}

interface Loop {
  readonly ring: readonly number[];
  /** Packed u, v in the plane. */
  readonly flat: Float64Array;
  readonly area: number;
}

/**
 * @param vertices packed xyz, mm
 * @param rings vertex indices; outer loops counter-clockwise seen against the normal, holes clockwise
 * @returns undefined if the loops bound no area or the filling misses a piece of outline
 */
export function faceOf(
  vertices: Float64Array,
  rings: readonly number[][],
  normal: Vec3,
): Face | undefined {
  const u = square(normal);
  const v = cross(normal, u);
  const loops = rings.map((ring) => loopOf(vertices, ring, u, v));
  const outers = loops.filter((l) => l.area > 0);
  const holes = loops.filter((l) => l.area <= 0);
  if (outers.length === 0) return undefined;
  const holesOf = new Map<Loop, Loop[]>(outers.map((o) => [o, []]));
  for (const hole of holes) {
    const outer = around(hole, outers);
    if (!outer) return undefined;
    holesOf.get(outer)!.push(hole);
  }
  const triangles: number[] = [];
  for (const [outer, inner] of holesOf) {
    const filled = fill([outer, ...inner]);
    if (!filled) return undefined;
    for (const i of filled) triangles.push(i);
  }
  return {
    triangles: Uint32Array.from(triangles),
    area: loops.reduce((sum, l) => sum + l.area, 0),
  };
}

function loopOf(vertices: Float64Array, ring: readonly number[], u: Vec3, v: Vec3): Loop {
  const flat = new Float64Array(2 * ring.length);
  const o = 3 * ring[0]!;
  for (let i = 0; i < ring.length; i++) {
    const at = 3 * ring[i]!;
    const [x, y, z] = [0, 1, 2].map((c) => vertices[at + c]! - vertices[o + c]!) as [
      number,
      number,
      number,
    ];
    flat[2 * i] = x * u[0] + y * u[1] + z * u[2];
    flat[2 * i + 1] = x * v[0] + y * v[1] + z * v[2];
  }
  let twice = 0;
  for (let i = 0, j = ring.length - 1; i < ring.length; j = i++) {
    twice += flat[2 * j]! * flat[2 * i + 1]! - flat[2 * i]! * flat[2 * j + 1]!;
  }
  // Back to plane coordinates that all loops share.
  const base = [0, 1, 2].map((c) => vertices[o + c]!) as [number, number, number];
  const bu = base[0] * u[0] + base[1] * u[1] + base[2] * u[2];
  const bv = base[0] * v[0] + base[1] * v[1] + base[2] * v[2];
  for (let i = 0; i < ring.length; i++) {
    flat[2 * i]! += bu;
    flat[2 * i + 1]! += bv;
  }
  return { ring, flat, area: twice / 2 };
}

/** The smallest outer loop around a hole. */
function around(hole: Loop, outers: readonly Loop[]): Loop | undefined {
  if (outers.length === 1) return outers[0];
  const [x, y] = [hole.flat[0]!, hole.flat[1]!];
  return outers
    .filter((o) => o.area >= -hole.area && inside(o.flat, x, y))
    .sort((a, b) => a.area - b.area)[0];
}

function inside(flat: Float64Array, x: number, y: number): boolean {
  let odd = false;
  for (let i = 0, j = flat.length - 2; i < flat.length; j = i, i += 2) {
    const [yi, yj] = [flat[i + 1]!, flat[j + 1]!];
    if (yi > y !== yj > y && x < flat[i]! + ((y - yi) / (yj - yi)) * (flat[j]! - flat[i]!))
      odd = !odd;
  }
  return odd;
}

/** Fills an outer loop with holes; triangles as vertex indices, or undefined if outline is missing. */
function fill(loops: readonly Loop[]): number[] | undefined {
  const total = loops.reduce((n, l) => n + l.ring.length, 0);
  const flat = new Float64Array(2 * total);
  const index: number[] = [];
  const holes: number[] = [];
  const rings: number[][] = [];
  for (const loop of loops) {
    const from = index.length;
    if (from > 0) holes.push(from);
    flat.set(loop.flat, 2 * from);
    rings.push(loop.ring.map((v, i) => (index.push(v), from + i)));
  }
  const local = earcut(flat as unknown as number[], holes, 2);
  const whole = withSkipped(local, rings, total);
  return whole?.map((i) => index[i]!);
}

/** Splits triangles (counter-clockwise, as earcut always gives them) at the outline vertices that they pass over. */
function withSkipped(
  triangles: number[],
  rings: readonly number[][],
  total: number,
): number[] | undefined {
  const out = [...triangles];
  const edges = new Map<number, number>();
  const key = (a: number, b: number): number => a * total + b;
  const note = (t: number): void => {
    for (let c = 0; c < 3; c++) edges.set(key(out[t + c]!, out[t + ((c + 1) % 3)]!), t);
  };
  for (let t = 0; t < out.length; t += 3) note(t);
  for (const ring of rings) {
    const n = ring.length;
    for (let i = 0; i < n;) {
      const a = ring[i]!;
      let span = 1;
      while (span < n && !edges.has(key(a, ring[(i + span) % n]!))) span++;
      if (span === n) return undefined;
      const end = ring[(i + span) % n]!;
      for (let k = 1; k < span; k++) {
        const from = ring[(i + k - 1) % n]!;
        const mid = ring[(i + k) % n]!;
        const t = edges.get(key(from, end))!;
        const apex = out[t]! + out[t + 1]! + out[t + 2]! - from - end;
        out[t] = from;
        out[t + 1] = mid;
        out[t + 2] = apex;
        note(t);
        out.push(mid, end, apex);
        note(out.length - 3);
      }
      i += span;
    }
  }
  return out;
}
