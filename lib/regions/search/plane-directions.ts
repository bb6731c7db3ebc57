/** Plane-direction pairs: which directions may be built on planes of which normal. */
import { type Vec3, dot } from '../../base/vector.js';
import { type HeadTable } from './head-clearance.js';
import type { SearchSetting } from './plan-state.js';

/** A plane normal and the directions that may be built on its planes, nearest first. */
export interface PlaneDirections {
  readonly normal: Vec3;
  /** Indices in the setting's directions. */
  readonly directions: readonly number[];
}

export function planeDirections(
  { directions, normals, lean }: SearchSetting,
  head: HeadTable,
): PlaneDirections[] {
  const all: Vec3[] = [];
  for (const n of [...directions, ...normals]) {
    if (!all.some((m) => dot(m, n) > 1 - 1e-9)) all.push(n);
  }
  const least = Math.cos(Math.min(lean, head.lean)) - 1e-9;
  return all
    .map((normal): PlaneDirections => {
      const near = directions.map((d, i) => ({ i, near: dot(d, normal) }));
      return {
        normal,
        directions: near
          .filter((e) => e.near >= least)
          .sort((a, b) => b.near - a.near || a.i - b.i)
          .map((e) => e.i),
      };
    })
    .filter((plane) => plane.directions.length > 0);
}
