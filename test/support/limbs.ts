/**
 * Solids with several limbs, made by booleans of the manifold-3d library used directly, so that they
 * share no code with the kernels under test. The library hands out float32: a coordinate up to 64 mm
 * is off by at most 1.9e-6 mm, one up to 128 mm by 3.8e-6 mm, so flat leaning faces are flat to that
 * measure, areas and volumes good to about 1e-7 of their value. Integer and half-millimetre
 * coordinates are exact, and the base is on z = 0 exactly. Millimetres, radians.
 */
import load, { type Manifold, type ManifoldToplevel, type Vec3 as Point } from 'manifold-3d';
import { seeded } from '../../lib/base/random.js';
import { DEG } from '../../lib/base/vector.js';
import { meshFrom } from '../../lib/mesh/build.js';
import type { Mesh } from '../../lib/mesh/mesh.js';

export interface Limbs {
  /**
   * A round trunk that forks into two round arms in the XZ plane, each leaning `alpha` from the
   * vertical; `arm` is measured along the arm's axis from the fork.
   */
  yShape(alpha: number, r?: number, trunk?: number, arm?: number, n?: number): Mesh;
  /** A trunk with four branches, `lean` off the axis, a quarter turn apart, at one height. */
  trunkWithBranches(lean?: number, r?: number, trunk?: number, branch?: number, n?: number): Mesh;
  /** Three to six cylinders, boxes and balls in one another's way, in one piece, on z = 0. */
  randomUnion(seed: number): Mesh;
  /** What lies in any of the meshes. */
  unite(...meshes: readonly Mesh[]): Mesh;
  /** What lies in the first and in none of the others. */
  without(mesh: Mesh, ...others: readonly Mesh[]): Mesh;
  /** Signed volume as the library measures it, mm3. */
  volume(mesh: Mesh): number;
}

export async function loadShapes(): Promise<Limbs> {
  const library = await load();
  library.setup();
  return limbsOn(library);
}

function limbsOn(library: ManifoldToplevel): Limbs {
  const { Manifold: Solid } = library;
  type Keep = (m: Manifold) => Manifold;

  /** Runs a construction; all handles that it keeps are deleted afterwards. */
  function held<T>(work: (keep: Keep) => T): T {
    const handles: Manifold[] = [];
    try {
      return work((m) => {
        handles.push(m);
        return m;
      });
    } finally {
      for (const m of handles) m.delete();
    }
  }

  const united = (keep: Keep, parts: Manifold[]): Mesh => meshOf(keep(Solid.union(parts)));

  const solidOf = (mesh: Mesh): Manifold =>
    new Solid(
      new library.Mesh({
        numProp: 3,
        vertProperties: Float32Array.from(mesh.vertices),
        triVerts: mesh.triangles,
      }),
    );

  /** A round arm from `from`, leaning from +Z towards the azimuth. */
  function arm(
    keep: Keep,
    r: number,
    length: number,
    n: number,
    lean: number,
    azimuth: number,
    from: Point,
  ): Manifold {
    const straight = keep(Solid.cylinder(length, r, r, n));
    const leaning = keep(straight.rotate([0, lean / DEG, azimuth / DEG]));
    return keep(leaning.translate(from));
  }

  /** A trunk up to the ball in which the limbs meet, so that no limb pokes out of the trunk's side. */
  function trunkAndBall(keep: Keep, r: number, height: number, n: number): Manifold[] {
    const ball = keep(Solid.sphere(r, n));
    return [keep(Solid.cylinder(height, r, r, n)), keep(ball.translate([0, 0, height]))];
  }

  return {
    yShape: (alpha, r = 6, trunk = 25, length = 40, n = 48) =>
      held((keep) =>
        united(keep, [
          ...trunkAndBall(keep, r, trunk, n),
          arm(keep, r, length, n, alpha, 0, [0, 0, trunk]),
          arm(keep, r, length, n, alpha, Math.PI, [0, 0, trunk]),
        ]),
      ),
    trunkWithBranches: (lean = 60 * DEG, r = 7, trunk = 60, branch = 35, n = 48) =>
      held((keep) => {
        const branches = [0, 1, 2, 3].map((i) =>
          arm(keep, 0.7 * r, branch, n, lean, (i * Math.PI) / 2, [0, 0, trunk / 2]),
        );
        return united(keep, [keep(Solid.cylinder(trunk, r, r, n)), ...branches]);
      }),
    randomUnion: (seed) => held((keep) => united(keep, randomParts(library, keep, seed))),
    unite: (...meshes) =>
      held((keep) =>
        united(
          keep,
          meshes.map((m) => keep(solidOf(m))),
        ),
      ),
    without: (mesh, ...others) =>
      held((keep) => {
        const rest = keep(Solid.union(others.map((m) => keep(solidOf(m)))));
        return meshOf(keep(keep(solidOf(mesh)).subtract(rest)));
      }),
    volume: (mesh) => held((keep) => keep(solidOf(mesh)).volume()),
  };
}

function randomParts(
  { Manifold: Solid }: ManifoldToplevel,
  keep: (m: Manifold) => Manifold,
  seed: number,
): Manifold[] {
  const random = seeded(seed);
  // Quarter millimetres are exact in float32.
  const between = (a: number, b: number): number => Math.round(4 * (a + (b - a) * random())) / 4;
  const tall = between(20, 50);
  const parts = [keep(Solid.cylinder(tall, between(6, 12), -1, 32))];
  const count = 2 + Math.floor(4 * random());
  for (let i = 0; i < count; i++) {
    const kind = Math.floor(3 * random());
    const r = between(5, 12);
    const height = between(15, 50);
    const azimuth = between(0, 360);
    // Each starts inside the first, so the whole is one piece.
    const from: Point = [between(-3, 3), between(-3, 3), between(0, tall - 2)];
    if (kind === 0) {
      const straight = keep(Solid.cylinder(height, r, random() < 0.5 ? r : r / 2, 32));
      const leaning = keep(straight.rotate([0, between(0, 80), azimuth]));
      parts.push(keep(leaning.translate(from)));
    } else if (kind === 1) {
      const box = keep(Solid.cube([between(6, 40), between(6, 40), height / 2], true));
      const turned = keep(box.rotate([0, 0, azimuth]));
      parts.push(keep(turned.translate([from[0], from[1], from[2] + height / 4])));
    } else {
      parts.push(keep(keep(Solid.sphere(r, 32)).translate([from[0], from[1], from[2] + r])));
    }
  }
  // What a leaning limb put under the table is cut off.
  return [keep(keep(Solid.union(parts)).trimByPlane([0, 0, 1], 0))];
}

function meshOf(solid: Manifold): Mesh {
  const { vertProperties, triVerts, numProp } = solid.getMesh();
  if (numProp !== 3) throw new Error(`expected 3 numbers a vertex, got ${numProp}`);
  return meshFrom(Float64Array.from(vertProperties), triVerts.slice());
}
