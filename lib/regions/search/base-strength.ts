/**
 * Whether a piece holds on to its base while the head pushes it and, once other regions are built along
 * other directions, while it lies on its side: a cantilever of the height of the piece, clamped at its
 * caps. The bending stress is M over the least section modulus of the caps taken together (beam
 * theory); M is the push at the top and the weight acting at half height.
 */
import { GRAVITY } from '../../base/gravity.js';
import { type Vec3, cross, dot, square } from '../../base/vector.js';
import type { Cap } from '../../mesh/cut/caps.js';
import type { MeshSection } from '../../mesh/cut/section.js';

export interface HoldRules {
  /** N */
  readonly force: number;
  /** MPa */
  readonly stress: number;
  /** g/cm3 */
  readonly density: number;
}

/** g/cm3; for a part of no known material: a little more than PLA, PETG and ABS weigh. */
const SOME_PLASTIC = 1.3;

/** What a job says, the density filled in where neither it nor a material gives one. */
export const holdOf = ({
  force,
  stress,
  density,
}: Omit<HoldRules, 'density'> & { readonly density?: number | undefined }): HoldRules => ({
  force,
  stress,
  density: density ?? SOME_PLASTIC,
});

/**
 * Greatest bending stress in the base, MPa (N/mm2); infinite without one.
 * @param height of the piece over its base, mm
 * @param volume of the piece, mm3
 */
export function baseStress(
  section: MeshSection,
  caps: readonly Cap[],
  height: number,
  volume: number,
  { force, density }: HoldRules,
): number {
  const weight = volume * density * 1e-6 * GRAVITY;
  const moment = (force + weight / 2) * height;
  const modulus = leastModulus(section, caps);
  return modulus > 0 ? moment / modulus : Infinity;
}

/**
 * The least section modulus over all directions of the moment, mm3. With J the second moments of area
 * about the centroid, a unit moment across e stresses the point p by e.(J^-1 p), so the modulus is one
 * over the greatest |J^-1 p| of the outline (unsymmetrical bending; Timoshenko, Strength of Materials).
 */
export function leastModulus(section: MeshSection, caps: readonly Cap[]): number {
  const u = square(section.normal);
  const v = cross(section.normal, u);
  const flat = (cap: Cap, node: number): [number, number] => {
    const i = 3 * cap.nodes[node]!;
    const p: Vec3 = [section.points[i]!, section.points[i + 1]!, section.points[i + 2]!];
    return [dot(p, u), dot(p, v)];
  };
  let [area, x, y, xx, xy, yy] = [0, 0, 0, 0, 0, 0];
  for (const cap of caps) {
    for (let i = 0; i < cap.triangles.length; i += 3) {
      const [a, b, c] = [0, 1, 2].map((k) => flat(cap, cap.triangles[i + k]!)) as [
        [number, number],
        [number, number],
        [number, number],
      ];
      const s = ((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])) / 2;
      const [mx, my] = [(a[0] + b[0] + c[0]) / 3, (a[1] + b[1] + c[1]) / 3];
      area += s;
      x += s * mx;
      y += s * my;
      // Integral of a product over a triangle: area / 12 (sum of the corners' + 9 of the middle's).
      xx += (s / 12) * (a[0] ** 2 + b[0] ** 2 + c[0] ** 2 + 9 * mx * mx);
      yy += (s / 12) * (a[1] ** 2 + b[1] ** 2 + c[1] ** 2 + 9 * my * my);
      xy += (s / 12) * (a[0] * a[1] + b[0] * b[1] + c[0] * c[1] + 9 * mx * my);
    }
  }
  if (!(area > 0)) return 0;
  const [cx, cy] = [x / area, y / area];
  const [jxx, jyy, jxy] = [xx - area * cx * cx, yy - area * cy * cy, xy - area * cx * cy];
  const det = jxx * jyy - jxy * jxy;
  if (!(det > 0)) return 0;
  let most = 0;
  for (const cap of caps) {
    for (let i = 0; i < cap.nodes.length; i++) {
      const [p, q] = flat(cap, i);
      const [a, b] = [p - cx, q - cy];
      most = Math.max(most, Math.hypot(jyy * a - jxy * b, jxx * b - jxy * a) / det);
    }
  }
  return 1 / most;
}
