/**
 * Welds vertices at one place into one. Exact first (a hash of the coordinates), then, for vertices on
 * open edges alone, within a tolerance: fine detail elsewhere is never touched. Time grows with the
 * number of vertices.
 */

/** Vertices (packed xyz, mm) and triangles (three indices each), without any guarantee. */
export interface Facets {
  readonly vertices: Float64Array;
  readonly triangles: Uint32Array;
}

/** A power of two with room for `count` keys at half load. */
const tableSize = (count: number): number => 2 ** Math.ceil(Math.log2(Math.max(8, 2 * count)));

/** Vertices with equal coordinates become one (0 and -0 are equal); unused ones are dropped. */
export function weldExact({ vertices, triangles }: Facets): Facets {
  const size = tableSize(triangles.length);
  const mask = size - 1;
  const table = new Int32Array(size).fill(-1);
  const bits = new Uint32Array(6);
  const key = new Float64Array(bits.buffer);
  const out = new Float64Array(vertices.length);
  const welded = new Uint32Array(triangles.length);
  let count = 0;
  for (let i = 0; i < triangles.length; i++) {
    const v = 3 * triangles[i]!;
    // Adding 0 turns -0 into 0.
    key[0] = vertices[v]! + 0;
    key[1] = vertices[v + 1]! + 0;
    key[2] = vertices[v + 2]! + 0;
    let slot = hash(bits) & mask;
    let found = -1;
    while ((found = table[slot]!) >= 0) {
      const o = 3 * found;
      if (out[o] === key[0] && out[o + 1] === key[1] && out[o + 2] === key[2]) break;
      slot = (slot + 1) & mask;
    }
    if (found < 0) {
      found = table[slot] = count++;
      if (3 * count > out.length) throw new Error('more welded vertices than vertices');
      out.set(key, 3 * found);
    }
    welded[i] = found;
  }
  return { vertices: out.slice(0, 3 * count), triangles: welded };
}

/** Mixes six 32-bit words (multiplicative, as in MurmurHash3's finaliser, public domain). */
function hash(words: Uint32Array): number {
  let h = 0;
  for (let i = 0; i < 6; i++) {
    h = Math.imul(h ^ words[i]!, 0x85ebca6b);
    h ^= h >>> 13;
    h = Math.imul(h, 0xc2b2ae35);
    h ^= h >>> 16;
  }
  return h;
}

/**
 * Merges those of the `chosen` vertices that lie within `tolerance` (mm) of each other; each joins
 * the first in its neighbourhood. A grid of cells of that size is hashed, so that each vertex looks
 * at its own and 26 neighbouring cells.
 * @returns the same vertices, with triangles that use the joined ones
 */
export function weldNear(facets: Facets, chosen: Uint32Array, tolerance: number): Facets {
  const { vertices } = facets;
  const size = tableSize(chosen.length);
  const head = new Int32Array(size).fill(-1);
  const after = new Int32Array(chosen.length).fill(-1);
  const joined = new Uint32Array(vertices.length / 3);
  for (let v = 0; v < joined.length; v++) joined[v] = v;
  const cell = (v: number, c: number): number => Math.floor(vertices[3 * v + c]! / tolerance);
  const slotOf = (x: number, y: number, z: number): number =>
    (Math.imul(x, 73856093) ^ Math.imul(y, 19349663) ^ Math.imul(z, 83492791)) & (size - 1);
  const near = (v: number): number => {
    const x = cell(v, 0);
    const y = cell(v, 1);
    const z = cell(v, 2);
    for (let i = 0; i < 27; i++) {
      const slot = slotOf(
        x + (i % 3) - 1,
        y + (Math.floor(i / 3) % 3) - 1,
        z + Math.floor(i / 9) - 1,
      );
      for (let k = head[slot]!; k >= 0; k = after[k]!) {
        if (distance(vertices, v, chosen[k]!) <= tolerance) return chosen[k]!;
      }
    }
    return v;
  };
  chosen.forEach((v, k) => {
    const other = near(v);
    joined[v] = other;
    if (other !== v) return;
    const slot = slotOf(cell(v, 0), cell(v, 1), cell(v, 2));
    after[k] = head[slot]!;
    head[slot] = k;
  });
  return { vertices, triangles: facets.triangles.map((v) => joined[v]!) };
}

function distance(vertices: Float64Array, a: number, b: number): number {
  return Math.hypot(
    vertices[3 * a]! - vertices[3 * b]!,
    vertices[3 * a + 1]! - vertices[3 * b + 1]!,
    vertices[3 * a + 2]! - vertices[3 * b + 2]!,
  );
}
