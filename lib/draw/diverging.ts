/**
 * A scale with two ends and a pale middle: blue for too little, red for too much. ColorBrewer's RdBu
 * in seven classes (Harrower and Brewer, The Cartographic Journal 40, 2003), which its authors list as
 * safe for colour-blind readers; values from memory, straight lines between them.
 */
import type { Colour } from './raster.js';

const anchors: readonly Colour[] = [
  [33, 102, 172],
  [103, 169, 207],
  [209, 229, 240],
  [247, 247, 247],
  [253, 219, 199],
  [239, 138, 98],
  [178, 24, 43],
];

/** @param share -1 to 1; what lies outside counts as the end, what is no number as grey */
export function diverging(share: number): Colour {
  if (Number.isNaN(share)) return [150, 150, 150];
  const x = ((Math.max(-1, Math.min(1, share)) + 1) / 2) * (anchors.length - 1);
  const i = Math.min(anchors.length - 2, Math.floor(x));
  const [a, b] = [anchors[i]!, anchors[i + 1]!];
  return [0, 1, 2].map((c) => Math.round(a[c]! + (x - i) * (b[c]! - a[c]!))) as unknown as Colour;
}
