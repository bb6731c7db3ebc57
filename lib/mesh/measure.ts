/** Measures of a mesh: volume, area, extent, centre of mass, facet normals. Millimetres throughout. */
import type { Vec3 } from '../base/vector.js';
import type { Mesh } from './mesh.js';

export interface Bounds {
  readonly least: Vec3;
  readonly most: Vec3;
}

/** Least and greatest coordinates over all vertices. */
export function bounds(mesh: Mesh): Bounds {
  const least: [number, number, number] = [Infinity, Infinity, Infinity];
  const most: [number, number, number] = [-Infinity, -Infinity, -Infinity];
  const v = mesh.vertices;
  for (let i = 0; i < v.length; i += 3) {
    for (let c = 0; c < 3; c++) {
      const x = v[i + c]!;
      if (x < least[c]!) least[c] = x;
      if (x > most[c]!) most[c] = x;
    }
  }
  return { least, most };
}

/** Extent along x, y, z. */
export function sizeOf(mesh: Mesh): Vec3 {
  const { least, most } = bounds(mesh);
  return [most[0] - least[0], most[1] - least[1], most[2] - least[2]];
}

/**
 * Normals scaled by area: packed xyz per triangle, length equal to its area, mm2, pointing outwards.
 */
export function areaNormals(mesh: Mesh): Float64Array {
  const { vertices: v, triangles: t } = mesh;
  const out = new Float64Array(t.length);
  for (let i = 0; i < t.length; i += 3) {
    const a = 3 * t[i]!;
    const b = 3 * t[i + 1]!;
    const c = 3 * t[i + 2]!;
    const ux = v[b]! - v[a]!;
    const uy = v[b + 1]! - v[a + 1]!;
    const uz = v[b + 2]! - v[a + 2]!;
    const wx = v[c]! - v[a]!;
    const wy = v[c + 1]! - v[a + 1]!;
    const wz = v[c + 2]! - v[a + 2]!;
    out[i] = (uy * wz - uz * wy) / 2;
    out[i + 1] = (uz * wx - ux * wz) / 2;
    out[i + 2] = (ux * wy - uy * wx) / 2;
  }
  return out;
}

/** Area of all triangles, mm2. */
export function surfaceArea(mesh: Mesh): number {
  const n = areaNormals(mesh);
  let sum = 0;
  for (let i = 0; i < n.length; i += 3) sum += Math.hypot(n[i]!, n[i + 1]!, n[i + 2]!);
  return sum;
}

/**
 * Signed volume of a closed mesh (divergence theorem), mm3, and its centre of mass. Taken about the
 * first vertex, so that a part far from the origin keeps its digits. An inside-out mesh is negative.
 */
export function massOf(mesh: Mesh): { volume: number; centre: Vec3 } {
  const { vertices: v, triangles: t } = mesh;
  if (t.length === 0) return { volume: 0, centre: [0, 0, 0] };
  const o = 3 * t[0]!;
  const [ox, oy, oz] = [v[o]!, v[o + 1]!, v[o + 2]!];
  let volume = 0;
  let sx = 0;
  let sy = 0;
  let sz = 0;
  for (let i = 0; i < t.length; i += 3) {
    const a = 3 * t[i]!;
    const b = 3 * t[i + 1]!;
    const c = 3 * t[i + 2]!;
    const ax = v[a]! - ox,
      ay = v[a + 1]! - oy,
      az = v[a + 2]! - oz;
    const bx = v[b]! - ox,
      by = v[b + 1]! - oy,
      bz = v[b + 2]! - oz;
    const cx = v[c]! - ox,
      cy = v[c + 1]! - oy,
      cz = v[c + 2]! - oz;
    const six = ax * (by * cz - bz * cy) + ay * (bz * cx - bx * cz) + az * (bx * cy - by * cx);
    volume += six;
    sx += six * (ax + bx + cx);
    sy += six * (ay + by + cy);
    sz += six * (az + bz + cz);
  }
  if (volume === 0) return { volume: 0, centre: [ox, oy, oz] };
  const k = 1 / (4 * volume);
  return { volume: volume / 6, centre: [ox + sx * k, oy + sy * k, oz + sz * k] };
}
