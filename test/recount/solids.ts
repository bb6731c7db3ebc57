/**
 * Solids by their signed distance, mm, negative inside, and points all over their skin. Boxes,
 * cylinders and outlines turned about a vertical axis in closed form, exact outside and inside; meshes
 * have a file of their own.
 */
import type { File, FileSolid, Vec } from './chain.js';
import { meshSolid } from './mesh.js';

export interface Solid {
  distance(x: number, y: number, z: number): number;
  /** At most the distance, where that costs less to tell. */
  atLeast?(x: number, y: number, z: number): number;
  /** Packed xyz, corners and edges among them. */
  readonly skin: Float64Array;
}

/** Points of a skin are at most so far apart, mm. */
export const SPACING = 1;

export function solidOf(s: FileSolid): Solid {
  switch (s.shape) {
    case 'box':
      return box(s.from, s.to);
    case 'cylinder':
      return cylinder(s.from, s.to, s.radius);
    case 'mesh':
      return meshSolid(s);
  }
}

export function box(from: Vec, to: Vec): Solid {
  const [cx, cy, cz] = [0, 1, 2].map((c) => (from[c]! + to[c]!) / 2) as [number, number, number];
  const [hx, hy, hz] = [0, 1, 2].map((c) => (to[c]! - from[c]!) / 2) as [number, number, number];
  const steps = (c: number): number[] => {
    const count = Math.max(1, Math.ceil((to[c]! - from[c]!) / SPACING));
    return Array.from(
      { length: count + 1 },
      (_, i) => from[c]! + ((to[c]! - from[c]!) * i) / count,
    );
  };
  const [xs, ys, zs] = [steps(0), steps(1), steps(2)] as const;
  const skin: number[] = [];
  for (const x of xs) for (const y of ys) skin.push(x, y, from[2], x, y, to[2]);
  for (const x of xs) for (const z of zs) skin.push(x, from[1], z, x, to[1], z);
  for (const y of ys) for (const z of zs) skin.push(from[0], y, z, to[0], y, z);
  return {
    skin: Float64Array.from(skin),
    distance(x, y, z) {
      const [u, v, w] = [Math.abs(x - cx) - hx, Math.abs(y - cy) - hy, Math.abs(z - cz) - hz];
      const most = Math.max(u, v, w);
      if (most <= 0) return most;
      const [a, b, c] = [Math.max(0, u), Math.max(0, v), Math.max(0, w)];
      return Math.sqrt(a * a + b * b + c * c);
    },
  };
}

/** A cylinder along any axis: an outline of two steps, turned into place. */
function cylinder(from: Vec, to: Vec, radius: number): Solid {
  const axis = to.map((x, c) => x - from[c]!) as [number, number, number];
  const height = Math.hypot(...axis);
  const up = axis.map((x) => x / height) as [number, number, number];
  const least = up.map(Math.abs).indexOf(Math.min(...up.map(Math.abs)));
  const across = cross(up, [0, 1, 2].map((c) => (c === least ? 1 : 0)) as unknown as Vec);
  const size = Math.hypot(...across);
  const e = across.map((x) => x / size) as unknown as Vec;
  const f = cross(up, e);
  const own = turned([
    { above: 0, radius },
    { above: height, radius },
  ]);
  const skin = new Float64Array(own.skin.length);
  for (let i = 0; i < skin.length; i += 3) {
    const [x, y, z] = own.skin.subarray(i, i + 3) as unknown as Vec;
    for (let c = 0; c < 3; c++) skin[i + c] = from[c]! + x * e[c]! + y * f[c]! + z * up[c]!;
  }
  return {
    skin,
    distance(x, y, z) {
      const [u, v, w] = [x - from[0], y - from[1], z - from[2]];
      return own.distance(
        u * e[0] + v * e[1] + w * e[2],
        u * f[0] + v * f[1] + w * f[2],
        u * up[0] + v * up[1] + w * up[2],
      );
    },
  };
}

const cross = (a: Vec, b: Vec): Vec => [
  a[1] * b[2] - a[2] * b[1],
  a[2] * b[0] - a[0] * b[2],
  a[0] * b[1] - a[1] * b[0],
];

type Outline = NonNullable<File['head']['stack']>;

/** An outline of heights and radii turned about Z, flat at both ends. */
export function turned(outline: Outline): Solid {
  const [bottom, top] = [outline[0]!, outline.at(-1)!];
  // The section with r >= 0: flat end, flanks, flat end. The axis is no edge.
  const edges: [number, number, number, number][] = [
    [0, bottom.above, bottom.radius, bottom.above],
    [0, top.above, top.radius, top.above],
  ];
  for (let i = 0; i + 1 < outline.length; i++) {
    const [a, b] = [outline[i]!, outline[i + 1]!];
    edges.push([a.radius, a.above, b.radius, b.above]);
  }
  const flat = Float64Array.from(edges.flat());
  const inside = (r: number, s: number): boolean => {
    for (let i = 8; i < flat.length; i += 4) {
      const [r0, s0, r1, s1] = [flat[i]!, flat[i + 1]!, flat[i + 2]!, flat[i + 3]!];
      if (s < s0 || s > s1 || s0 === s1) continue;
      if (r <= r0 + ((s - s0) / (s1 - s0)) * (r1 - r0)) return true;
    }
    return false;
  };
  return {
    skin: Float64Array.from(edges.flatMap(([r0, s0, r1, s1]) => rings(r0, s0, r1, s1))),
    distance(x, y, z) {
      const r = Math.sqrt(x * x + y * y);
      let least = Infinity;
      for (let i = 0; i < flat.length; i += 4) {
        const [r0, s0] = [flat[i]!, flat[i + 1]!];
        const [dr, ds] = [flat[i + 2]! - r0, flat[i + 3]! - s0];
        const size = dr * dr + ds * ds;
        let t = size > 0 ? ((r - r0) * dr + (z - s0) * ds) / size : 0;
        t = t < 0 ? 0 : t > 1 ? 1 : t;
        const [u, v] = [r - r0 - t * dr, z - s0 - t * ds];
        const square = u * u + v * v;
        if (square < least) least = square;
      }
      return inside(r, z) ? -Math.sqrt(least) : Math.sqrt(least);
    },
  };
}

function rings(r0: number, s0: number, r1: number, s1: number): number[] {
  const out: number[] = [];
  const count = Math.max(1, Math.ceil(Math.hypot(r1 - r0, s1 - s0) / SPACING));
  for (let i = 0; i <= count; i++) {
    const r = r0 + ((r1 - r0) * i) / count;
    const s = s0 + ((s1 - s0) * i) / count;
    const around = Math.max(1, 4 * Math.ceil((Math.PI * r) / (2 * SPACING)));
    for (let k = 0; k < around; k++) {
      const a = (2 * Math.PI * k) / around;
      out.push(r * Math.cos(a), r * Math.sin(a), s);
    }
  }
  return out;
}

/** All of them as one, each shifted by the same. */
export function joined(solids: readonly Solid[], [dx, dy, dz]: Vec): Solid {
  const skin = Float64Array.from(solids.flatMap((s) => [...s.skin]));
  for (let i = 0; i < skin.length; i += 3) {
    skin[i]! += dx;
    skin[i + 1]! += dy;
    skin[i + 2]! += dz;
  }
  const bounds = solids.map((s) => s.atLeast ?? s.distance);
  return {
    skin,
    distance(x, y, z) {
      let least = Infinity;
      for (const s of solids) least = Math.min(least, s.distance(x - dx, y - dy, z - dz));
      return least;
    },
    atLeast(x, y, z) {
      let least = Infinity;
      for (const bound of bounds) least = Math.min(least, bound(x - dx, y - dy, z - dz));
      return least;
    },
  };
}

/** What of an outline lies over a height, or under it. */
export function cut(outline: Outline, height: number, above: boolean): Outline {
  const kept = outline.filter((p) => (above ? p.above > height : p.above < height));
  const after = outline.findIndex((p) => p.above > height);
  const [a, b] = [outline[after - 1]!, outline[after]!];
  const share = (height - a.above) / (b.above - a.above);
  const edge = { above: height, radius: a.radius + share * (b.radius - a.radius) };
  return above ? [edge, ...kept] : [...kept, edge];
}
