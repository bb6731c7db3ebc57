import type { Vec3 } from './vector.js';

/** Even directions over the sphere, from +z down, by the golden-angle spiral (common practice). */
export function evenDirections(count: number): Vec3[] {
  const golden = Math.PI * (3 - Math.sqrt(5));
  return Array.from({ length: count }, (_, i) => {
    const z = 1 - (2 * i + 1) / count;
    const r = Math.sqrt(1 - z * z);
    return [r * Math.cos(golden * i), r * Math.sin(golden * i), z] as const;
  });
}
