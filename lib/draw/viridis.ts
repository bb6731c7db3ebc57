/**
 * Viridis, a perceptually even colour scale that keeps its order for every common colour vision and in
 * grey (van der Walt and Smith, 2015, published CC0): nine evenly spaced anchors, values from memory,
 * straight lines between them.
 */
import type { Colour } from './raster.js';

const anchors: readonly Colour[] = [
  [68, 1, 84],
  [71, 44, 122],
  [59, 81, 139],
  [44, 113, 142],
  [33, 144, 141],
  [39, 173, 129],
  [92, 200, 99],
  [170, 220, 50],
  [253, 231, 37],
];

/** @param share 0 to 1; what lies outside counts as the end */
export function viridis(share: number): Colour {
  const x = Math.max(0, Math.min(1, share)) * (anchors.length - 1);
  const i = Math.min(anchors.length - 2, Math.floor(x));
  const [a, b] = [anchors[i]!, anchors[i + 1]!];
  return [0, 1, 2].map((c) => Math.round(a[c]! + (x - i) * (b[c]! - a[c]!))) as unknown as Colour;
}
