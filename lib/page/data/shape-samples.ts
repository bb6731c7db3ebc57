/**
 * Samples of the shape error for the page: all that the check took, or every n-th of them where there
 * are more than a page should carry; they are in the order of the part's facets.
 */
import type { Surface } from '../../verify/verify.js';
import { type Column, column } from './packing.js';

/** Samples that the page carries, about 1 MB of text a hundred thousand. */
const MOST_SAMPLES = 250_000;
const UNIT = { points: 0.01, normals: 1 / 127, error: 1e-3 };

export function samplesOf({
  points,
  normals,
  error,
  area,
}: Pick<Surface, 'points' | 'normals' | 'error' | 'area'>): {
  readonly columns: Record<string, Column>;
  /** mm */
  readonly spacing: number;
} {
  const stride = Math.max(1, Math.ceil(error.length / MOST_SAMPLES));
  const count = Math.ceil(error.length / stride);
  const pick = (values: Float32Array, size: number): Float32Array => {
    const out = new Float32Array(size * count);
    for (let i = 0; i < count; i++) {
      for (let c = 0; c < size; c++) out[size * i + c] = values[size * i * stride + c]!;
    }
    return out;
  };
  const whole = area.reduce((a, b) => a + b, 0);
  return {
    columns: {
      points: column(pick(points, 3), UNIT.points, 3),
      normals: column(pick(normals, 3), UNIT.normals, 3),
      error: column(pick(error, 1), UNIT.error),
    },
    spacing: count > 0 ? Math.sqrt(whole / count) : 0,
  };
}
