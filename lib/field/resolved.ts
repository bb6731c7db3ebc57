/**
 * Whether a lattice resolves a part: two skins nearer to each other than its spacing share nodes, so that a
 * field could not tell the sides of a thin wall apart, and would join what a narrow gap divides. Rays from
 * the samples of the skin, inwards and outwards along the normal, find the nearest skin that faces it; flanks
 * of an edge or a tip, which meet at any lattice, do not face each other. Cost: two rays for each cell of a quarter
 * of the spacing and each of the six ways along the axes that skin in it faces most: a mesh may be far finer.
 */
import { Fault } from '../base/fault.js';
import type { Mesh } from '../base/mesh.js';
import { type Vec3, pointAt } from '../base/vector.js';
import { treeOf } from '../mesh/bvh.js';
import { areaNormals } from '../mesh/measure.js';
import { firstHit } from '../mesh/query.js';
import { type Skin, UNDER_SKIN, cellsOf } from './skin.js';

/** Normals nearer than this to opposite face each other: cosine. */
const FACES_BACK = -0.9;
/** Samples lie this far under the skin, mm: a ray outwards begins beyond it. */
const CLEAR_OF_SKIN = 2e-3;
/** Edge of a cell, as a share of the lattice's spacing. */
const FACING_CELL_SHARE = 0.25;
/** Widths that differ by less are one, mm. */
const WIDTH_ROUNDING = 1e-6;

/** A wall or a gap between two skins that face each other. */
export interface Narrow {
  readonly kind: 'wall' | 'gap';
  /** mm */
  readonly width: number;
  /** Part mm. */
  readonly at: Vec3;
}

/**
 * The narrowest wall or gap below a width; undefined if there is none.
 * @param spacing of the lattice that is to resolve it, mm
 */
export function narrowest(
  mesh: Mesh,
  skin: Skin,
  below: number,
  spacing = below,
): Narrow | undefined {
  const tree = treeOf(mesh);
  const facets = areaNormals(mesh);
  let found: Narrow | undefined;
  for (const s of oneACell(skin, FACING_CELL_SHARE * spacing)) {
    const at = pointAt(skin.points, s);
    const n = pointAt(skin.normals, s);
    const within = (found?.width ?? below) + UNDER_SKIN;
    for (const kind of ['wall', 'gap'] as const) {
      const way: Vec3 = kind === 'gap' ? n : [-n[0], -n[1], -n[2]];
      const hit = firstHit(tree, at, way, kind === 'gap' ? CLEAR_OF_SKIN : 0, within);
      if (!hit) continue;
      const i = 3 * hit.triangle;
      const [x, y, z] = [facets[i]!, facets[i + 1]!, facets[i + 2]!];
      const cosine = (x * n[0] + y * n[1] + z * n[2]) / Math.hypot(x, y, z);
      const width = hit.distance + (kind === 'wall' ? UNDER_SKIN : -UNDER_SKIN);
      if (cosine < FACES_BACK && width < (found?.width ?? below) - WIDTH_ROUNDING) {
        found = { kind, width, at };
      }
    }
  }
  return found;
}

/** The first sample in each cube that faces each of six ways along the axes. */
function oneACell(skin: Skin, size: number): Iterable<number> {
  const { normals } = skin;
  const first = new Map<number, number>();
  cellsOf(skin, size).forEach((cell, s) => {
    let way = 0;
    for (let c = 1; c < 3; c++) {
      if (Math.abs(normals[3 * s + c]!) > Math.abs(normals[3 * s + way]!)) way = c;
    }
    const key = 6 * cell + 2 * way + (normals[3 * s + way]! < 0 ? 1 : 0);
    if (!first.has(key)) first.set(key, s);
  });
  return first.values();
}

/** @throws Fault `field/unresolved` with the width and its place */
export function refuseUnresolved(mesh: Mesh, skin: Skin, spacing: number): void {
  const narrow = narrowest(mesh, skin, spacing);
  if (!narrow) return;
  const { kind, width, at } = narrow;
  const why = kind === 'wall' ? 'its two sides' : 'what it divides';
  throw new Fault(
    'field/unresolved',
    `a ${kind} of ${width.toFixed(2)} mm at ${at.map((x) => x.toFixed(1)).join(' ')} mm is narrower than the spacing of the lattice, ${spacing} mm: ${why} would share nodes`,
  );
}
