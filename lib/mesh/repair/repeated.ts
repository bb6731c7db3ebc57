/**
 * Drops facets that bound nothing: those that name a vertex twice, copies of a facet, and pairs of one
 * facet in both directions. None of the three changes the balance of edges, so a closed mesh stays
 * closed. Time grows with the number of facets.
 */
import { next } from '../mesh.js';

export interface Kept {
  readonly triangles: Uint32Array;
  /** Facets with two corners on one vertex. */
  readonly collapsed: number;
  /** Copies of another facet, dropped. */
  readonly copies: number;
  /** Pairs of one facet in both directions, dropped both. */
  readonly opposed: number;
  /** A vertex of the first dropped facet, or -1. */
  readonly at: number;
}

export function dropRepeated(triangles: Uint32Array): Kept {
  const facets = triangles.length / 3;
  const { leader, along, against, collapsed, at } = grouped(triangles);
  if (at < 0) return { triangles, collapsed, copies: 0, opposed: 0, at };
  let copies = 0;
  let opposed = 0;
  const out = new Uint32Array(triangles.length);
  let length = 0;
  for (let t = 0; t < facets; t++) {
    const first = leader[t]!;
    if (first < 0) continue;
    if (first === t) {
      opposed += Math.min(along[t]!, against[t]!);
      copies += Math.max(0, Math.abs(along[t]! - against[t]!) - 1);
    }
    // One facet stays, of the way round that is in the majority.
    if (along[first] === against[first]) continue;
    if (sameWay(triangles, t, first) !== along[first]! > against[first]!) continue;
    along[first] = against[first] = 0;
    out.set(triangles.subarray(3 * t, 3 * t + 3), length);
    length += 3;
  }
  return { triangles: out.slice(0, length), collapsed, copies, opposed, at };
}

interface Groups {
  /** For each facet the first one on the same three vertices; -1 when collapsed. */
  readonly leader: Int32Array;
  /** For each leader the facets that go its way round, itself included, and the others. */
  readonly along: Uint32Array;
  readonly against: Uint32Array;
  readonly collapsed: number;
  readonly at: number;
}

function grouped(triangles: Uint32Array): Groups {
  const facets = triangles.length / 3;
  const size = 2 ** Math.ceil(Math.log2(Math.max(8, 2 * facets)));
  const table = new Int32Array(size).fill(-1);
  const leader = new Int32Array(facets);
  const along = new Uint32Array(facets);
  const against = new Uint32Array(facets);
  let collapsed = 0;
  let at = -1;
  for (let t = 0; t < facets; t++) {
    const [a, b, c] = ordered(triangles, t);
    let other = -1;
    if (a === b || b === c) collapsed++;
    else {
      let slot = mix(a, b, c) & (size - 1);
      while ((other = table[slot]!) >= 0) {
        const [x, y, z] = ordered(triangles, other);
        if (x === a && y === b && z === c) break;
        slot = (slot + 1) & (size - 1);
      }
      if (other < 0) table[slot] = other = t;
      if (sameWay(triangles, t, other)) along[other]!++;
      else against[other]!++;
    }
    leader[t] = other;
    if (other !== t && at < 0) at = a;
  }
  return { leader, along, against, collapsed, at };
}

/** The vertices of a facet in rising order. */
function ordered(triangles: Uint32Array, t: number): [number, number, number] {
  let a = triangles[3 * t]!;
  let b = triangles[3 * t + 1]!;
  let c = triangles[3 * t + 2]!;
  if (a > b) [a, b] = [b, a];
  if (b > c) [b, c] = [c, b];
  if (a > b) [a, b] = [b, a];
  return [a, b, c];
}

/** Whether two facets on the same vertices go round the same way. */
function sameWay(triangles: Uint32Array, t: number, u: number): boolean {
  const a = triangles[3 * t]!;
  const b = triangles[3 * t + 1]!;
  const i = 3 * u;
  const h = triangles[i] === a ? i : triangles[i + 1] === a ? i + 1 : i + 2;
  return triangles[next(h)] === b;
}

const mix = (a: number, b: number, c: number): number => {
  let h = Math.imul(a, 0x9e3779b1) ^ Math.imul(b, 0x85ebca6b) ^ Math.imul(c, 0xc2b2ae35);
  h ^= h >>> 15;
  h = Math.imul(h, 0x2c1b3c6d);
  return h ^ (h >>> 13);
};
