/** One layer while it is being planned: its section, bead sizes and pieces. */
import type { Polygons } from '../polygon/polygons.js';
import type { PolygonKernel } from '../kernel/polygon.js';
import { beadSpacing } from './bead.js';
import { type EdgeGrid, gridOf, hitLeft } from '../polygon/edge-grid.js';
import { piecesOf } from './piece-numbers.js';
import type { PathRules } from './rules.js';
import { type StartRule, startPoint } from './sequence/starts.js';
import { type Bead, startingAt } from './layer-bead.js';

/** Loops are simplified by this much before anything is planned on them, mm. */
export const LOOP_TOLERANCE = 0.005;

/** Bead sizes of one layer, mm. */
export interface BeadSizes {
  readonly width: number;
  readonly height: number;
  /** Distance of neighbouring beads that leaves no gap; each bead's cell is as wide. */
  readonly spacing: number;
  /** Width of a bead beyond its cell: h (1 - pi / 4), what the round edges lack. */
  readonly edge: number;
  /** Narrowest single bead. */
  readonly least: number;
}

export function sizesOf(width: number, least: number, height: number): BeadSizes {
  const spacing = beadSpacing(width, height);
  return { width, height, spacing, edge: width - spacing, least };
}

/** One layer while it is being planned. */
export interface LayerSection {
  readonly layer: number;
  /** Height of the layer's middle, layer-space mm. */
  readonly middle: number;
  /** Simplified section. */
  readonly loops: Polygons;
  readonly grid: EdgeGrid;
  /** The connected piece of each loop. */
  readonly piece: Int32Array;
  readonly sizes: BeadSizes;
  readonly start: StartRule;
  readonly rules: PathRules;
  readonly kernel: PolygonKernel;
}

/** The section with its loops indexed and its pieces told apart. */
export function layerSection(given: Omit<LayerSection, 'grid' | 'piece'>): LayerSection {
  const grid = gridOf(given.loops);
  return { ...given, grid, piece: piecesOf(given.loops, grid) };
}

/** The connected piece in which a point lies. */
export function pieceAt(section: LayerSection, x: number, y: number): number {
  const loop = hitLeft(section.grid, x, y);
  return loop < 0 ? 0 : section.piece[loop]!;
}

/** A bead with its piece found, and beginning where the start rule says if it is closed. */
export function finished(section: LayerSection, bead: Omit<Bead, 'piece'>): Bead {
  const { xy } = bead;
  const placed = { ...bead, piece: pieceAt(section, xy[0]!, xy[1]!) };
  if (!bead.closed) return placed;
  return startingAt(placed, startPoint(xy, section.start, section.layer, section.sizes.width));
}
