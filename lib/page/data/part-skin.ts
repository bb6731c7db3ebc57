/** The part's skin for the page: triangles of the regions that are not cuts, their vertices joined. */
import type { Region } from '../../regions/region.js';
import { type Column, column } from './packing.js';

/** Vertices nearer than this are joined, mm. */
const GRAIN = 1e-3;

export function skinOf(regions: readonly Region[]): Record<string, Column> {
  const vertices: number[] = [];
  const triangles: number[] = [];
  const seen = new Map<string, number>();
  regions.forEach(({ mesh, cut }) => {
    const index = (v: number): number => {
      const at = [0, 1, 2].map((c) => Math.round(mesh.vertices[3 * v + c]! / GRAIN));
      const key = at.join();
      let found = seen.get(key);
      if (found === undefined) {
        found = seen.size;
        seen.set(key, found);
        vertices.push(...at);
      }
      return found;
    };
    for (let t = 0; t < cut.length; t++) {
      if (cut[t]! >= 0) continue;
      const corners = [0, 1, 2].map((k) => index(mesh.triangles[3 * t + k]!));
      if (new Set(corners).size < 3) continue;
      triangles.push(...corners);
    }
  });
  return {
    vertices: { ints: Int32Array.from(vertices), unit: GRAIN, stride: 3 },
    triangles: column(triangles, 1, 3),
  };
}
