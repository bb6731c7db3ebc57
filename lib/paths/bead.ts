/**
 * Bead geometry. The section of a bead of width w and height h is a stadium: a rectangle between
 * two half circles of diameter h (common practice, no source; with w = h it is a circle).
 */

/** Area of the bead's section, mm2: (w - h) h + pi h^2 / 4, for w >= h; an ellipse for w < h. */
export function beadArea(width: number, height: number): number {
  if (width < height) return (Math.PI / 4) * width * height;
  return (width - height) * height + (Math.PI / 4) * height * height;
}

/** Distance of neighbouring beads at which the layer has no gaps: area / height, mm. */
export function beadSpacing(width: number, height: number): number {
  return beadArea(width, height) / height;
}

/** Area of the filament's section, mm2. */
export function filamentArea(diameter: number): number {
  return (Math.PI / 4) * diameter * diameter;
}
