/**
 * Round solids as closed meshes, counter-clockwise seen from outside: an outline turned about +Z,
 * and pipe bends. Float64 coordinates straight from sines and cosines, millimetres; every ring has
 * its corners on the true circle, so a solid of n sides is a little smaller than the round one
 * (its area factor is (n / 2 pi) sin(2 pi / n)).
 */
import { type Frame, compose, shift, turn } from '../lib/base/frame.js';
import { DEG } from '../lib/base/vector.js';
import { meshFrom, moved } from '../lib/mesh/build.js';
import type { Mesh } from '../lib/mesh/mesh.js';

/** Radius and height of a corner of an outline, mm. */
export type Corner = readonly [radius: number, z: number];

/**
 * An outline turned about +Z. It runs with the material on its left: from the axis at the bottom,
 * outwards, up, and back to the axis at the top; or, if it does not touch the axis, once around a ring.
 * Only the first and the last corner may lie on the axis.
 */
export function lathe(outline: readonly Corner[], sides: number): Mesh {
  const vertices: number[] = [];
  const rows = outline.map(([r, z]) => {
    const first = vertices.length / 3;
    if (r === 0) {
      vertices.push(0, 0, z);
      return { first, count: 1 };
    }
    for (let i = 0; i < sides; i++) {
      const a = (2 * Math.PI * i) / sides;
      vertices.push(r * Math.cos(a), r * Math.sin(a), z);
    }
    return { first, count: sides };
  });
  const open = rows[0]!.count === 1 && rows.at(-1)!.count === 1;
  const triangles: number[] = [];
  const at = (row: { first: number; count: number }, i: number): number =>
    row.first + (row.count === 1 ? 0 : i % sides);
  for (let k = 0; k < rows.length - (open ? 1 : 0); k++) {
    const low = rows[k]!;
    const high = rows[(k + 1) % rows.length]!;
    for (let i = 0; i < sides; i++) {
      const [a, b, c, d] = [at(low, i), at(low, i + 1), at(high, i + 1), at(high, i)];
      if (a !== b) triangles.push(a, b, c);
      if (c !== d) triangles.push(a, c, d);
    }
  }
  return meshFrom(Float64Array.from(vertices), Uint32Array.from(triangles));
}

/** Stands on z = `from` with its axis on +Z. */
export const cylinder = (radius: number, from: number, to: number, sides: number): Mesh =>
  lathe(
    [
      [0, from],
      [radius, from],
      [radius, to],
      [0, to],
    ],
    sides,
  );

/**
 * A bend of a pipe: the circle about the origin in the plane z = 0 is led around the line x = `bend`,
 * z = 0 (parallel to Y), from rising along +Z to running along +X after `arc` radians = pi / 2.
 * @param radii outer radius, and inner one if the pipe is hollow, mm
 * @param steps pieces along the bend; @param sides of the circle
 */
export function pipeBend(
  bend: number,
  radii: readonly [outer: number, inner?: number],
  arc: number,
  steps: number,
  sides: number,
): Mesh {
  const vertices: number[] = [];
  const ring = (radius: number, k: number): number => {
    const first = vertices.length / 3;
    const w = (arc * k) / steps;
    for (let i = 0; i < sides; i++) {
      const a = (2 * Math.PI * i) / sides;
      const out = bend - radius * Math.cos(a);
      vertices.push(bend - out * Math.cos(w), radius * Math.sin(a), out * Math.sin(w));
    }
    return first;
  };
  const triangles: number[] = [];
  const band = (a: number, b: number): void => {
    for (let i = 0; i < sides; i++) {
      const j = (i + 1) % sides;
      triangles.push(a + i, a + j, b + j, a + i, b + j, b + i);
    }
  };
  const [outer, inner] = radii;
  const outerRings = Array.from({ length: steps + 1 }, (_, k) => ring(outer, k));
  for (let k = 0; k < steps; k++) band(outerRings[k]!, outerRings[k + 1]!);
  if (inner !== undefined) {
    const innerRings = Array.from({ length: steps + 1 }, (_, k) => ring(inner, k));
    for (let k = 0; k < steps; k++) band(innerRings[k + 1]!, innerRings[k]!);
    band(innerRings[0]!, outerRings[0]!);
    band(outerRings[steps]!, innerRings[steps]!);
  } else {
    const centre = (k: number): number => {
      const w = (arc * k) / steps;
      vertices.push(bend - bend * Math.cos(w), 0, bend * Math.sin(w));
      return vertices.length / 3 - 1;
    };
    const [start, end] = [centre(0), centre(steps)];
    for (let i = 0; i < sides; i++) {
      const j = (i + 1) % sides;
      triangles.push(start, outerRings[0]! + j, outerRings[0]! + i);
      triangles.push(end, outerRings[steps]! + i, outerRings[steps]! + j);
    }
  }
  return meshFrom(Float64Array.from(vertices), Uint32Array.from(triangles));
}

/** Turns what stands along +Z so that it leans by `lean` degrees towards `azimuth` degrees, and lifts it. */
export function leaning(mesh: Mesh, lean: number, azimuth: number, z: number): Mesh {
  const frame: Frame = compose(
    shift([0, 0, z]),
    compose(turn([0, 0, 1], azimuth * DEG), turn([0, 1, 0], lean * DEG)),
  );
  return moved(mesh, frame);
}
