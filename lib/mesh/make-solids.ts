/**
 * Closed solids, facing outwards, made by turning, extruding and bending an outline in float64: every
 * vertex lies on the surface that it approximates. Millimetres, radians.
 */
import earcut from 'earcut';
import { compose, shift, turn } from '../base/frame.js';
import { DEG, type Vec2, type Vec3 } from '../base/vector.js';
import { meshFrom, moved } from './build.js';
import type { Mesh } from './mesh.js';

/** Cosine and sine of step k of n in a full turn; exact at the quarters. */
export function step(k: number, n: number): Vec2 {
  const quarter = (4 * k) / n;
  if (Number.isInteger(quarter)) {
    const i = ((quarter % 4) + 4) % 4;
    return [[1, 0, -1, 0][i]!, [0, 1, 0, -1][i]!];
  }
  const a = (2 * Math.PI * k) / n;
  return [Math.cos(a), Math.sin(a)];
}

/** Corners of a regular n-gon on a circle, counter-clockwise. */
export const circle = (radius: number, n: number, centre: Vec2 = [0, 0]): Vec2[] =>
  Array.from({ length: n }, (_, k) => {
    const [c, s] = step(k, n);
    return [centre[0] + radius * c, centre[1] + radius * s];
  });

/** Vertices and triangles as they are gathered. */
class Gathered {
  readonly vertices: number[] = [];
  readonly triangles: number[] = [];

  vertex(x: number, y: number, z: number): number {
    this.vertices.push(x, y, z);
    return this.vertices.length / 3 - 1;
  }

  triangle(a: number, b: number, c: number): void {
    if (a !== b && b !== c && c !== a) this.triangles.push(a, b, c);
  }

  mesh(): Mesh {
    return meshFrom(Float64Array.from(this.vertices), Uint32Array.from(this.triangles));
  }
}

/**
 * Turned about Z. Each outline is a loop of (radius, height), counter-clockwise in that half plane;
 * points of radius 0 lie on the axis, and a side between two of them is not a surface. A cavity is
 * an outline of its own that runs clockwise.
 */
export function revolved(outlines: readonly (readonly Vec2[])[], n: number): Mesh {
  const out = new Gathered();
  for (const outline of outlines) {
    const rings = outline.map(([r, z]) => {
      if (r === 0) return new Array<number>(n).fill(out.vertex(0, 0, z));
      return circle(r, n).map(([x, y]) => out.vertex(x, y, z));
    });
    rings.forEach((ring, i) => {
      const after = rings[(i + 1) % rings.length]!;
      for (let k = 0; k < n; k++) {
        const l = (k + 1) % n;
        out.triangle(ring[k]!, ring[l]!, after[l]!);
        out.triangle(ring[k]!, after[l]!, after[k]!);
      }
    });
  }
  return out.mesh();
}

/**
 * From z = 0 to `height` over a polygon: outer loops counter-clockwise, holes clockwise, first loop
 * outer; no three neighbouring corners in a line.
 */
export function extruded(loops: readonly (readonly Vec2[])[], height: number): Mesh {
  const out = new Gathered();
  const points = loops.flat();
  for (const z of [0, height]) for (const [x, y] of points) out.vertex(x, y, z);
  const n = points.length;
  let first = 0;
  const holes: number[] = [];
  for (const loop of loops) {
    if (first > 0) holes.push(first);
    loop.forEach((_, i) => {
      const a = first + i;
      const b = first + ((i + 1) % loop.length);
      out.triangle(a, b, n + b);
      out.triangle(a, n + b, n + a);
    });
    first += loop.length;
  }
  const flat = earcut(points.flat(), holes);
  for (let i = 0; i < flat.length; i += 3) {
    const [a, p, q] = [flat[i]!, flat[i + 1]!, flat[i + 2]!];
    const [b, c] = cornerArea(points[a]!, points[p]!, points[q]!) < 0 ? [q, p] : [p, q];
    out.triangle(n + a, n + b, n + c);
    out.triangle(a, c, b);
  }
  return out.mesh();
}

const cornerArea = (a: Vec2, b: Vec2, c: Vec2): number =>
  (b[0] - a[0]) * (c[1] - a[1]) - (c[0] - a[0]) * (b[1] - a[1]);

/**
 * A pipe bent in the XZ plane: its axis leaves the origin along +Z, follows a circle of radius
 * `bend` about (bend, 0, 0) and has turned towards +X by `sweep`. With `bore` 0 it is solid. Flat
 * ends, square to the axis.
 * @param around corners of the section
 * @param pieces pieces along the bend
 */
export function bent(
  bend: number,
  radius: number,
  bore: number,
  sweep: number,
  around: number,
  pieces: number,
): Mesh {
  const out = new Gathered();
  const full = (2 * Math.PI) / sweep;
  const wall = (r: number): number[][] =>
    Array.from({ length: pieces + 1 }, (_, k) => {
      const [c, s] = step(k, pieces * full);
      return circle(r, around).map(([u, v]) =>
        out.vertex(bend - (bend + u) * c, -v, (bend + u) * s),
      );
    });
  const outer = wall(radius);
  const inner = bore > 0 ? wall(bore) : undefined;
  for (const [rings, outwards] of [
    [outer, true],
    [inner, false],
  ] as const) {
    for (let k = 0; rings && k < pieces; k++) band(out, rings[k]!, rings[k + 1]!, outwards);
  }
  if (inner) {
    band(out, inner[0]!, outer[0]!, true);
    band(out, outer[pieces]!, inner[pieces]!, true);
  } else {
    const end: Vec3 = [
      bend - bend * step(pieces, pieces * full)[0],
      0,
      bend * step(pieces, pieces * full)[1],
    ];
    band(out, new Array<number>(around).fill(out.vertex(0, 0, 0)), outer[0]!, true);
    band(out, outer[pieces]!, new Array<number>(around).fill(out.vertex(...end)), true);
  }
  return out.mesh();
}

/** The strip between two rings of equal length; faces outwards if the first is ccw seen from the second. */
function band(out: Gathered, ring: number[], after: number[], outwards: boolean): void {
  ring.forEach((a, i) => {
    const j = (i + 1) % ring.length;
    const [b, c, d] = [ring[j]!, after[j]!, after[i]!];
    if (outwards) {
      out.triangle(a, b, c);
      out.triangle(a, c, d);
    } else {
      out.triangle(a, c, b);
      out.triangle(a, d, c);
    }
  });
}

/** A round rod about the Z axis. */
export const rod = (radius: number, from: number, to: number, n: number): Mesh =>
  moved(extruded([circle(radius, n)], to - from), shift([0, 0, from]));

/** A mesh that stands along +Z, leaned by `lean` deg towards `azimuth` deg about its origin, lifted to z. */
export const leaned = (mesh: Mesh, lean: number, azimuth: number, z: number): Mesh =>
  moved(
    mesh,
    compose(shift([0, 0, z]), compose(turn([0, 0, 1], azimuth * DEG), turn([0, 1, 0], lean * DEG))),
  );
