/**
 * Parts whose regions stand on leaning base planes, for the table of printed parts. Nothing is known of
 * them beforehand but their build; millimetres, standing on z = 0.
 */
import { DEG, type Vec3 } from '../../lib/base/vector.js';
import type { Mesh } from '../../lib/mesh/mesh.js';
import * as make from '../support/shapes.js';

export interface LeaningPart {
  readonly name: string;
  readonly build: (limbs: make.Limbs) => Mesh;
}

/** A direction that leans from +Z towards an azimuth, deg. */
const leaning = (lean: number, azimuth: number): Vec3 => [
  Math.sin(lean * DEG) * Math.cos(azimuth * DEG),
  Math.sin(lean * DEG) * Math.sin(azimuth * DEG),
  Math.cos(lean * DEG),
];

/** A trunk with five arms that lean 50 to 60 deg, each at a height of its own. */
function fiveBranches(limbs: make.Limbs): Mesh {
  const arms = [0, 1, 2, 3, 4].map((i) =>
    make.cylinder(5, 30, 96, leaning(50 + 2.5 * i, 72 * i), [0, 0, 20 + 7 * i]),
  );
  return limbs.unite(make.cylinder(7, 65, 96), ...arms);
}

/** A post with six level shelves that climb round it like steps. */
function spiralOfShelves(limbs: make.Limbs): Mesh {
  const shelves = [0, 1, 2, 3, 4, 5].map((i) => {
    const shelf = make.cuboid([20, 12, 4], [10, 0, 0]);
    const azimuth = 60 * i * DEG;
    const v = shelf.vertices;
    const [c, s] = [Math.cos(azimuth), Math.sin(azimuth)];
    const vertices = Float64Array.from(v, (x, k) =>
      k % 3 === 0 ? c * x - s * v[k + 1]! : k % 3 === 1 ? s * v[k - 1]! + c * x : x + 12 + 8 * i,
    );
    return { ...shelf, vertices };
  });
  return limbs.unite(make.cylinder(7, 60, 96), ...shelves);
}

/** A beam of double-T section on end of its web: two flanges and a web between them. */
const doubleT = (): Mesh =>
  make.upright(
    [
      [-20, 0],
      [20, 0],
      [20, 8],
      [5, 8],
      [5, 40],
      [20, 40],
      [20, 48],
      [-20, 48],
      [-20, 40],
      [-5, 40],
      [-5, 8],
      [-20, 8],
    ],
    20,
  );

export const leaningParts: readonly LeaningPart[] = [
  { name: 'five branches', build: fiveBranches },
  { name: 'spiral of shelves', build: spiralOfShelves },
  { name: 'double T', build: doubleT },
];
