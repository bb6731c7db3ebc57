/**
 * Removes crossings from the loops of layers (a mesh that crosses itself, shells that overlap) by a
 * union under the Positive rule, which 3MF asks for (core specification 1.4.0, section 4.1.1). The
 * union costs more than the whole sweep, so only the layers that need it are touched; every other
 * layer's loops are passed on as they are, bit for bit.
 *
 * A layer needs it if two edges meet, or if a loop runs the wrong way for where it lies: without
 * crossings the winding number is 0 or 1 everywhere exactly if outer loops and holes alternate, and
 * then the union changes nothing. Edges that only touch count as meeting: shells that share a face are
 * joined, and otherwise it only costs time. The test is in float64 without error bounds; what it can
 * miss are crossings of the order of 1e-15 of the coordinates.
 */
import { type Polygons, loopArea } from '../polygon/polygons.js';
import { type Watch, step } from '../base/watch.js';
import type { PolygonKernel } from '../kernel/polygon.js';
import { ChainIndex } from '../polygon/chains.js';
import { joined, loopsOf, rowsOf } from './near.js';
import { nestOn } from '../polygon/nest.js';
import type { Sections } from './sweep.js';

/** Numbers of the layers that need a union, rising. */
export function crossingLayers({ section, layerStart }: Sections): number[] {
  const out: number[] = [];
  for (let k = 0; k + 1 < layerStart.length; k++) {
    if (needsUnion(section, layerStart[k]!, layerStart[k + 1]!)) out.push(k);
  }
  return out;
}

/** True if loops `from .. to` (exclusive) cross, touch, or do not alternate between outer and hole. */
export function needsUnion(p: Polygons, from: number, to: number): boolean {
  if (from === to) return false;
  const index = new ChainIndex(p, from, to);
  if (index.meets()) return true;
  const { depth } = nestOn(index, p, from, to);
  for (let i = from; i < to; i++) {
    const a = loopArea(p, i);
    if (a !== 0 && a > 0 !== (depth[i - from]! % 2 === 0)) return true;
  }
  return false;
}

/** The same layers without crossings. */
export function withoutCrossings(all: Sections, kernel: PolygonKernel, watch?: Watch): Sections {
  const layers = crossingLayers(all);
  if (layers.length === 0) return all;
  const rows = rowsOf(all);
  for (const k of layers) {
    step(watch, 'layers', 0, 0);
    rows[k] = kernel.union(
      loopsOf(all.section, all.layerStart[k]!, all.layerStart[k + 1]!),
      'positive',
    );
  }
  return joined(rows);
}
