/**
 * Plain pixels of panels of one size, two in a row on white, without text: what the SVG pictures show,
 * for places that take only PNG.
 */
import { encode } from 'fast-png';
import type { Colour } from './raster.js';

/** Colours one pixel of a panel, from its upper left corner; what lies outside is left out. */
export type Dot = (u: number, v: number, colour: Colour) => void;

export interface Size {
  readonly width: number;
  readonly height: number;
}

const COLUMNS = 2;
const PANEL_GAP = 24;
/** Of lines that carry the meaning. */
export const INK: Colour = [29, 29, 27];
const EDGE_COLOUR: Colour = [120, 120, 120];

/** @param draw called for each panel, whose left and lower edges are drawn already */
export function panelsImage(
  count: number,
  panel: Size,
  draw: (i: number, dot: Dot) => void,
): Uint8Array {
  const { width: w, height: h } = panel;
  const rows = Math.ceil(count / COLUMNS);
  const [width, height] = [
    COLUMNS * (w + PANEL_GAP) + PANEL_GAP,
    rows * (h + PANEL_GAP) + PANEL_GAP,
  ];
  const data = new Uint8Array(4 * width * height).fill(255);
  for (let i = 0; i < count; i++) {
    const left = PANEL_GAP + (i % COLUMNS) * (w + PANEL_GAP);
    const top = PANEL_GAP + Math.floor(i / COLUMNS) * (h + PANEL_GAP);
    const dot: Dot = (u, v, colour) => {
      if (u >= 0 && u < w && v >= 0 && v < h) {
        data.set([...colour, 255], 4 * ((top + v) * width + left + u));
      }
    };
    for (let v = 0; v < h; v++) dot(0, v, EDGE_COLOUR);
    for (let u = 0; u < w; u++) dot(u, h - 1, EDGE_COLOUR);
    draw(i, dot);
  }
  return encode({ width, height, data, channels: 4, depth: 8 });
}

type PixelPoint = readonly [number, number];

/** Straight lines from point to point, two pixels wide. */
export function stroke(points: readonly PixelPoint[], colour: Colour, dot: Dot): void {
  for (let k = 1; k < points.length; k++) {
    const [[x0, y0], [x1, y1]] = [points[k - 1]!, points[k]!];
    const steps = Math.ceil(Math.max(Math.abs(x1 - x0), Math.abs(y1 - y0), 1));
    for (let i = 0; i <= steps; i++) {
      const u = Math.round(x0 + ((x1 - x0) * i) / steps);
      const v = Math.round(y0 + ((y1 - y0) * i) / steps);
      for (const du of [-1, 0]) for (const dv of [-1, 0]) dot(u + du, v + dv, colour);
    }
  }
}

/** A filled disc. */
export function disc([x, y]: PixelPoint, radius: number, colour: Colour, dot: Dot): void {
  const r = Math.ceil(radius);
  for (let dv = -r; dv <= r; dv++) {
    for (let du = -r; du <= r; du++) {
      if (du * du + dv * dv <= radius * radius) dot(Math.round(x) + du, Math.round(y) + dv, colour);
    }
  }
}
