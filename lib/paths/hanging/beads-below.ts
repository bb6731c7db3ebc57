/**
 * The beads of earlier regions near the layers of a region that stands on them, as tilted boxes in that
 * region's layer space. What is there under a first bead is the staircase of these and not the solid
 * below the cut: at a rim the corners that no bead fills are missing.
 */
import { type Frame, applyDirection, applyPoints, compose } from '../../base/frame.js';
import { cellKey } from '../../base/cell-key.js';
import { float64List } from '../../base/ragged.js';
import { pathFrame } from '../../layers/layer-map.js';
import type { Layers } from '../../layers/layers.js';
import type { Paths } from '../paths.js';
import { SLIT, halfStrip } from './strips.js';

/** Twelve numbers per box: middle of one end of its upper side, way, up, half width, height, length. */
export type LowerBeads = Float64Array;
const BOX_NUMBERS = 12;
/** Boxes are no longer than this, mm. */
const LONGEST_BOX = 2;

export interface LowerRegion {
  readonly layers: Pick<Layers, 'map'>;
  readonly paths: Paths;
}

/** Least and greatest coordinate of a box of layer space, mm. */
export interface LayerBox {
  readonly least: readonly number[];
  readonly most: readonly number[];
}

/** The beads of earlier regions that come into a box of a region's layer space. */
export function lowerBeads(regions: readonly LowerRegion[], to: Frame, room: LayerBox): LowerBeads {
  const out = float64List(1024);
  for (const { layers, paths } of regions) {
    const frame = compose(to, pathFrame(layers.map).partFromLayer);
    const up = applyDirection(frame, [0, 0, 1]);
    const at = applyPoints(frame, paths.points);
    for (let p = 0; p + 1 < paths.start.length; p++) {
      for (let i = paths.start[p]! + 1; i < paths.start[p + 1]!; i++) {
        if (!meets(at, i, room)) continue;
        add(out, at, i, up, halfStrip(paths, p, i), paths.height[i]!);
      }
    }
  }
  return out.take();
}

function meets(at: Float64Array, i: number, { least, most }: LayerBox): boolean {
  for (let c = 0; c < 3; c++) {
    const [a, b] = [at[3 * i - 3 + c]!, at[3 * i + c]!];
    if (Math.max(a, b) < least[c]! || Math.min(a, b) > most[c]!) return false;
  }
  return true;
}

function add(
  out: ReturnType<typeof float64List>,
  at: Float64Array,
  i: number,
  up: readonly number[],
  half: number,
  height: number,
): void {
  const way = [0, 1, 2].map((c) => at[3 * i + c]! - at[3 * i - 3 + c]!);
  const size = Math.hypot(...way);
  if (!(size > 1e-6)) return;
  const count = Math.ceil(size / LONGEST_BOX);
  for (let n = 0; n < count; n++) {
    for (let c = 0; c < 3; c++) out.push(at[3 * i - 3 + c]! + (n / count) * way[c]!);
    for (let c = 0; c < 3; c++) out.push(way[c]! / size);
    for (let c = 0; c < 3; c++) out.push(up[c]!);
    out.push(half);
    out.push(height);
    out.push(size / count);
  }
}

const INDEX_CELL = 1;

/**
 * The boxes by cells of space, to ask whether one of them holds a place. By columns alone, what a region stands on is tens
 * of millimetres high beside a slanted base: 280 of the 370 s of a bunny in ten regions went by there.
 */
export class LowerIndex {
  readonly #beads: LowerBeads;
  readonly #cells = new Map<number, number[]>();

  constructor(beads: LowerBeads) {
    this.#beads = beads;
    for (let b = 0; b < beads.length; b += BOX_NUMBERS) {
      const room = beads[b + 9]! + beads[b + 10]!;
      const span = (c: number): Span => {
        const [from, to] = [beads[b + c]!, beads[b + c]! + beads[b + 11]! * beads[b + 3 + c]!];
        return [cell(Math.min(from, to) - room), cell(Math.max(from, to) + room)];
      };
      const [[i0, i1], [j0, j1], [k0, k1]] = [span(0), span(1), span(2)];
      for (let i = i0; i <= i1; i++) {
        for (let j = j0; j <= j1; j++) {
          for (let k = k0; k <= k1; k++) {
            const list = this.#cells.get(cellKey(i, j, k));
            if (list) list.push(b);
            else this.#cells.set(cellKey(i, j, k), [b]);
          }
        }
      }
    }
  }

  holds(x: number, y: number, z: number): boolean {
    const q = this.#beads;
    for (const b of this.#cells.get(cellKey(cell(x), cell(y), cell(z))) ?? []) {
      const [dx, dy, dz] = [x - q[b]!, y - q[b + 1]!, z - q[b + 2]!];
      const up = dx * q[b + 6]! + dy * q[b + 7]! + dz * q[b + 8]!;
      if (up > 0 || up < -q[b + 10]!) continue;
      const along = dx * q[b + 3]! + dy * q[b + 4]! + dz * q[b + 5]!;
      const beyond = Math.max(0, -along, along - q[b + 11]!);
      const aside = dx * dx + dy * dy + dz * dz - up * up - along * along;
      if (aside + beyond * beyond <= (q[b + 9]! + SLIT) ** 2) return true;
    }
    return false;
  }
}

type Span = readonly [number, number];
const cell = (x: number): number => Math.floor(x / INDEX_CELL);
