/**
 * Colours that people with any common colour vision tell apart: Okabe and Ito, "Color Universal
 * Design" (2008), without black; from the eighth region on the same hues again, lighter.
 */
import type { Colour } from './raster.js';

const okabeIto: readonly Colour[] = [
  [86, 180, 233],
  [230, 159, 0],
  [0, 158, 115],
  [204, 121, 167],
  [240, 228, 66],
  [0, 114, 178],
  [213, 94, 0],
];

/** The colour of region i, 0 to 255 a channel. */
export function regionColour(i: number): Colour {
  const base = okabeIto[i % okabeIto.length]!;
  const white = Math.min(0.6, 0.35 * Math.floor(i / okabeIto.length));
  return base.map((c) => Math.round(c + (255 - c) * white)) as unknown as Colour;
}

export const css = (c: Colour): string => `rgb(${c.join(' ')})`;
