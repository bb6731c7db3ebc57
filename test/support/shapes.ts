/**
 * Closed solids for tests, named for what they are; each faces outwards and has twins throughout.
 * Those here are meshed in float64 with every vertex on its surface, so areas and volumes of flat
 * faces are exact and those of round ones follow from the polygon formulas. Solids that need
 * booleans come from `loadShapes` (limbs.ts) and are rounded to float32 once. Millimetres, radians.
 * Unless said otherwise a solid stands on z = 0 over the origin.
 */
import { bent, circle, extruded, revolved, step } from '../../lib/mesh/make-solids.js';
import { type Frame, compose, shift, turn } from '../../lib/base/frame.js';
import { type Vec2, type Vec3, angle, cross, square, unit } from '../../lib/base/vector.js';
import { meshFrom, moved } from '../../lib/mesh/build.js';
import { bounds } from '../../lib/mesh/measure.js';
import type { Mesh } from '../../lib/mesh/mesh.js';

export { type Limbs, loadShapes } from './limbs.js';
export { circle } from '../../lib/mesh/make-solids.js';

/** The mesh turned and moved by a rigid frame. */
export const rotated = (mesh: Mesh, frame: Frame): Mesh => moved(mesh, frame);

/** Moved along Z alone, so that the lowest vertex is on z = 0. */
export const standing = (mesh: Mesh): Mesh => moved(mesh, shift([0, 0, -bounds(mesh).least[2]]));

/** The frame that takes +Z at the origin to a direction at a place. */
export function frameAlong(axis: Vec3, at: Vec3 = [0, 0, 0]): Frame {
  const z: Vec3 = [0, 0, 1];
  const about = cross(z, axis);
  const size = Math.hypot(...about);
  const by = turn(size > 0 ? unit(about) : square(z), angle(z, axis));
  return compose(shift(at), by);
}

/** Several closed meshes as one with several shells; they must not touch. */
export function together(...meshes: readonly Mesh[]): Mesh {
  let base = 0;
  const triangles = meshes.map((m) => {
    const moved = m.triangles.map((v) => v + base);
    base += m.vertices.length / 3;
    return [...moved];
  });
  return meshFrom(
    Float64Array.from(meshes.flatMap((m) => [...m.vertices])),
    Uint32Array.from(triangles.flat()),
  );
}

/** @param at middle of the base */
export function cuboid([x, y, z]: Vec3, at: Vec3 = [0, 0, 0]): Mesh {
  const corners: Vec2[] = [
    [-x / 2, -y / 2],
    [x / 2, -y / 2],
    [x / 2, y / 2],
    [-x / 2, y / 2],
  ];
  return moved(extruded([corners], z), shift(at));
}

/**
 * An n-gon prism whose corners lie on the circle of radius r.
 * @param axis from the base, whose middle is `at`
 */
export const cylinder = (
  r: number,
  length: number,
  n = 64,
  axis: Vec3 = [0, 0, 1],
  at: Vec3 = [0, 0, 0],
): Mesh => moved(extruded([circle(r, n)], length), frameAlong(axis, at));

/** A pipe along Z with open ends. */
export const pipe = (r: number, bore: number, length: number, n = 64): Mesh =>
  extruded([circle(r, n), circle(bore, n).reverse()], length);

/** @param lower radius at z = 0, 0 for a tip @param upper radius at z = height, 0 for a tip */
export const frustum = (lower: number, upper: number, height: number, n = 64): Mesh =>
  revolved(
    [
      [
        [0, 0],
        ...(lower > 0 ? ([[lower, 0]] as Vec2[]) : []),
        ...(upper > 0 ? ([[upper, height]] as Vec2[]) : []),
        [0, height],
      ],
    ],
    n,
  );

export const cone = (r: number, height: number, n = 64): Mesh => frustum(r, 0, height, n);

export const coneOnTip = (r: number, height: number, n = 64): Mesh => frustum(0, r, height, n);

const halfCircle = (r: number, rings: number): Vec2[] =>
  Array.from({ length: rings + 1 }, (_, k) => {
    const [c, s] = step(k, 2 * rings);
    return [r * s, -r * c];
  });

/** Centre at the origin, poles on Z, n meridians and n / 2 bands. */
export const sphere = (r: number, n = 64): Mesh => revolved([halfCircle(r, n / 2)], n);

/** A cap of a ball of radius R, `height` high, on a plate as wide as it. */
export function dome(R: number, height: number, plate: number, n = 360, bands = 60): Mesh {
  const half = Math.acos(1 - height / R);
  const cap = Array.from({ length: bands + 1 }, (_, k): Vec2 => {
    const phi = half * (1 - k / bands);
    return [k === bands ? 0 : R * Math.sin(phi), plate + height - R * (1 - Math.cos(phi))];
  });
  return revolved([[[0, 0], [R * Math.sin(half), 0], ...cap]], n);
}

/** Centre at the origin; 20 * 4^level triangles of nearly even size, no preferred axis. */
export function icosphere(r: number, level: number): Mesh {
  const g = (1 + Math.sqrt(5)) / 2;
  // prettier-ignore
  const corners: Vec3[] = [
    [-1, g, 0], [1, g, 0], [-1, -g, 0], [1, -g, 0], [0, -1, g], [0, 1, g],
    [0, -1, -g], [0, 1, -g], [g, 0, -1], [g, 0, 1], [-g, 0, -1], [-g, 0, 1],
  ];
  const points = corners.map(unit);
  // prettier-ignore
  let triangles = [
    0, 11, 5, 0, 5, 1, 0, 1, 7, 0, 7, 10, 0, 10, 11, 1, 5, 9, 5, 11, 4, 11, 10, 2, 10, 7, 6, 7, 1, 8,
    3, 9, 4, 3, 4, 2, 3, 2, 6, 3, 6, 8, 3, 8, 9, 4, 9, 5, 2, 4, 11, 6, 2, 10, 8, 6, 7, 9, 8, 1,
  ];
  for (let i = 0; i < level; i++) triangles = split(points, triangles);
  const vertices = Float64Array.from(points.flatMap((p) => p.map((x) => x * r)));
  return meshFrom(vertices, Uint32Array.from(triangles));
}

/** Every triangle of the unit sphere becomes four; `points` grows by the new ones. */
function split(points: Vec3[], triangles: readonly number[]): number[] {
  const middles = new Map<number, number>();
  const middle = (a: number, b: number): number => {
    const key = a < b ? a * 1e7 + b : b * 1e7 + a;
    let m = middles.get(key);
    if (m === undefined) {
      const [p, q] = [points[a]!, points[b]!];
      m = points.push(unit([p[0] + q[0], p[1] + q[1], p[2] + q[2]])) - 1;
      middles.set(key, m);
    }
    return m;
  };
  const out: number[] = [];
  for (let i = 0; i < triangles.length; i += 3) {
    const [a, b, c] = [triangles[i]!, triangles[i + 1]!, triangles[i + 2]!];
    const [ab, bc, ca] = [middle(a, b), middle(b, c), middle(c, a)];
    out.push(a, ab, ca, ab, b, bc, ca, bc, c, ab, bc, ca);
  }
  return out;
}

/** A ball of radius R with a sealed cavity of radius r, centre at the origin. */
export const hollowSphere = (R: number, r: number, n = 64): Mesh =>
  revolved([halfCircle(R, n / 2), halfCircle(r, n / 2).reverse()], n);

/**
 * Axis along Z, centre at the origin.
 * @param around corners of the ring @param section corners of its section
 */
export const torus = (R: number, r: number, around = 96, section = 48): Mesh =>
  revolved([circle(r, section, [R, 0])], around);

/** A torus that lies on the table. */
export const ringLying = (R: number, r: number, around = 96, section = 48): Mesh =>
  standing(torus(R, r, around, section));

/** A torus that stands on its rim, axis along Y. */
export function ringStanding(R: number, r: number, around = 96, section = 48): Mesh {
  const lying = torus(R, r, around, section);
  const v = lying.vertices;
  // A quarter turn about X in exact numbers.
  const up = Float64Array.from(v, (_, i) => [v[i]!, -v[i + 1]!, v[i - 1]!][i % 3]!);
  return standing({ ...lying, vertices: up });
}

/**
 * A quarter bend in the XZ plane: from +Z at the origin to +X at (bend, 0, bend). The base face is on
 * z = 0. With a bore it is a pipe.
 */
export const elbow = (bend: number, r: number, bore = 0, around = 64, pieces = 64): Mesh =>
  bent(bend, r, bore, Math.PI / 2, around, pieces);

/** A polygon in the XZ plane, counter-clockwise seen from -Y, extruded along Y, middle on y = 0. */
export function upright(outline: readonly Vec2[], depth: number): Mesh {
  const flat = extruded([outline], depth);
  const v = flat.vertices;
  // (x, y, z) becomes (x, depth / 2 - z, y): a proper turn.
  const out = Float64Array.from(v, (x, i) => [x, depth / 2 - v[i + 1]!, v[i - 1]!][i % 3]!);
  return { ...flat, vertices: out };
}

/** A post of square section with an arm towards +X at its top, an L upside down. */
export const postWithArm = (side = 20, height = 40, arm = 30, thick = 20): Mesh =>
  upright(
    [
      [-side / 2, 0],
      [side / 2, 0],
      [side / 2, height - thick],
      [side / 2 + arm, height - thick],
      [side / 2 + arm, height],
      [-side / 2, height],
    ],
    side,
  );

/** An L on its long foot: nothing hangs as it stands; turned over, it is a post with an arm. */
export const lShape = (length = 50, height = 40, thick = 20, depth = 20): Mesh =>
  upright(
    [
      [0, 0],
      [length, 0],
      [length, thick],
      [thick, thick],
      [thick, height],
      [0, height],
    ],
    depth,
  );

/** A T on its foot: a post with an arm to each side at its top. */
export const tShape = (side = 20, height = 40, arm = 25, thick = 15, depth = 20): Mesh =>
  upright(
    [
      [-side / 2, 0],
      [side / 2, 0],
      [side / 2, height - thick],
      [side / 2 + arm, height - thick],
      [side / 2 + arm, height],
      [-side / 2 - arm, height],
      [-side / 2 - arm, height - thick],
      [-side / 2, height - thick],
    ],
    depth,
  );

/** A disc on a stem. */
export const mushroom = (stem = 6, stemHeight = 30, cap = 20, capHeight = 8, n = 64): Mesh =>
  revolved(
    [
      [
        [0, 0],
        [stem, 0],
        [stem, stemHeight],
        [cap, stemHeight],
        [cap, stemHeight + capHeight],
        [0, stemHeight + capHeight],
      ],
    ],
    n,
  );

/** A block with a round opening: two feet, a half circle of radius r over legs of height `legs`. */
export function arch(r = 20, wall = 10, legs = 15, depth = 20, pieces = 48): Mesh {
  const opening = Array.from({ length: pieces + 1 }, (_, k): Vec2 => {
    const [c, s] = step(k, 2 * pieces);
    return [-r * c, legs + r * s];
  });
  const [side, top] = [r + wall, legs + r + wall];
  const feet: Vec2[] = [
    [r, 0],
    [side, 0],
    [side, top],
    [-side, top],
    [-side, 0],
    [-r, 0],
  ];
  return upright([...feet, ...opening], depth);
}

/** A cube with its space diagonal upright, lowest corner at the origin. */
export function cubeOnCorner(edge = 20): Mesh {
  const about = unit(cross([1, 1, 1], [0, 0, 1]));
  const frame = turn(about, angle([1, 1, 1], [0, 0, 1]));
  return moved(cuboid([edge, edge, edge], [edge / 2, edge / 2, 0]), frame);
}

/** A gearwheel that lies, stood on the ends of two teeth. */
export const gearOnEdge = (lying: Mesh): Mesh => standing(rotated(lying, frameAlong([0, 1, 0])));
