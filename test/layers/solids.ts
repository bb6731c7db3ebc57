/** Small closed solids for the layer tests, and regions made of them. Millimetres. */
import { type Frame, applyDirection, applyPoint } from '../../lib/base/frame.js';
import type { Vec3 } from '../../lib/base/vector.js';
import { meshFrom, moved } from '../../lib/mesh/build.js';
import { massOf } from '../../lib/mesh/measure.js';
import type { Mesh } from '../../lib/mesh/mesh.js';
import type { Region } from '../../lib/regions/region.js';

/** A prism over a counter-clockwise convex outline. Triangles: bottom and top fans, then the sides. */
export function prism(
  outline: readonly (readonly [number, number])[],
  from: number,
  to: number,
): Mesh {
  const n = outline.length;
  const vertices = [from, to].flatMap((z) => outline.flatMap(([x, y]) => [x, y, z]));
  const triangles: number[] = [];
  for (let i = 1; i + 1 < n; i++) triangles.push(0, i + 1, i, n, n + i, n + i + 1);
  for (let i = 0; i < n; i++) {
    const j = (i + 1) % n;
    triangles.push(i, j, n + j, i, n + j, n + i);
  }
  return meshFrom(Float64Array.from(vertices), Uint32Array.from(triangles));
}

export function box([x0, y0, z0]: Vec3, [x1, y1, z1]: Vec3): Mesh {
  const outline = [
    [x0, y0],
    [x1, y0],
    [x1, y1],
    [x0, y1],
  ] as const;
  return prism(outline, z0, z1);
}

export const circle = (radius: number, sides: number): [number, number][] =>
  Array.from({ length: sides }, (_, i) => {
    const a = (2 * Math.PI * i) / sides;
    return [radius * Math.cos(a), radius * Math.sin(a)];
  });

/**
 * A surface of revolution about Z: `profile` gives radius and height from the lowest point to the
 * highest; a radius of 0 at an end closes it in a point, else a flat fan closes it.
 */
export function revolved(profile: readonly (readonly [number, number])[], sides: number): Mesh {
  const vertices: number[] = [];
  const ring = profile.map(([r, z]) => {
    const first = vertices.length / 3;
    if (r === 0) vertices.push(0, 0, z);
    else for (const [x, y] of circle(r, sides)) vertices.push(x, y, z);
    return { first, round: r !== 0 };
  });
  const triangles: number[] = [];
  const at = (k: number, i: number): number =>
    ring[k]!.round ? ring[k]!.first + (i % sides) : ring[k]!.first;
  for (let k = 0; k + 1 < ring.length; k++) {
    for (let i = 0; i < sides; i++) {
      if (ring[k]!.round) triangles.push(at(k, i), at(k, i + 1), at(k + 1, i));
      if (ring[k + 1]!.round) triangles.push(at(k, i + 1), at(k + 1, i + 1), at(k + 1, i));
    }
  }
  const last = ring.length - 1;
  for (let i = 1; i + 1 < sides; i++) {
    if (ring[0]!.round) triangles.push(at(0, 0), at(0, i + 1), at(0, i));
    if (ring[last]!.round) triangles.push(at(last, 0), at(last, i), at(last, i + 1));
  }
  return meshFrom(Float64Array.from(vertices), Uint32Array.from(triangles));
}

/** Centre at the origin, poles on Z. */
export function sphere(radius: number, sides: number, rings: number): Mesh {
  const profile = Array.from({ length: rings + 1 }, (_, k): [number, number] => {
    const a = (Math.PI * k) / rings;
    return [k === 0 || k === rings ? 0 : radius * Math.sin(a), -radius * Math.cos(a)];
  });
  return revolved(profile, sides);
}

/** Axis along Z, centre at the origin. */
export function torus(major: number, minor: number, around: number, across: number): Mesh {
  const vertices: number[] = [];
  const triangles: number[] = [];
  for (let i = 0; i < around; i++) {
    const u = (2 * Math.PI * i) / around;
    for (let j = 0; j < across; j++) {
      const v = (2 * Math.PI * j) / across;
      const r = major + minor * Math.cos(v);
      vertices.push(r * Math.cos(u), r * Math.sin(u), minor * Math.sin(v));
      const a = i * across + j;
      const b = ((i + 1) % around) * across + j;
      const c = ((i + 1) % around) * across + ((j + 1) % across);
      const d = i * across + ((j + 1) % across);
      triangles.push(a, b, c, a, c, d);
    }
  }
  return meshFrom(Float64Array.from(vertices), Uint32Array.from(triangles));
}

/** Several bodies as one mesh; nothing is joined. */
export function together(...meshes: readonly Mesh[]): Mesh {
  const vertices = meshes.flatMap((m) => [...m.vertices]);
  let base = 0;
  const triangles = meshes.flatMap((m) => {
    const shifted = [...m.triangles].map((v) => v + base);
    base += m.vertices.length / 3;
    return shifted;
  });
  return meshFrom(Float64Array.from(vertices), Uint32Array.from(triangles));
}

export function turnedInsideOut({ vertices, triangles }: Mesh): Mesh {
  const back = triangles.slice();
  for (let h = 0; h < back.length; h += 3)
    [back[h + 1], back[h + 2]] = [triangles[h + 2]!, triangles[h + 1]!];
  return meshFrom(vertices, back);
}

/** A region on the table unless `rest` says otherwise; base at the mesh's lowest point. */
export function regionOf(mesh: Mesh, rest: Partial<Region> = {}): Region {
  let low = Infinity;
  for (let i = 2; i < mesh.vertices.length; i += 3) low = Math.min(low, mesh.vertices[i]!);
  return {
    mesh,
    cut: new Int32Array(mesh.triangles.length / 3).fill(-1),
    baseCut: -1,
    direction: [0, 0, 1],
    base: { point: [0, 0, low], normal: [0, 0, 1] },
    standsOn: [],
    volume: massOf(mesh).volume,
    contactArea: 1,
    unsupportedArea: 0,
    ...rest,
  };
}

/** The same region moved by a rigid frame, direction and base with it. */
export function movedRegion(region: Region, frame: Frame): Region {
  return {
    ...region,
    mesh: moved(region.mesh, frame),
    direction: applyDirection(frame, region.direction),
    base: {
      point: applyPoint(frame, region.base.point),
      normal: applyDirection(frame, region.base.normal),
    },
  };
}
