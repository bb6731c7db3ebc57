/**
 * To which region the material of a run belongs. The program's text says only in which direction and
 * where something is laid, so a run is assigned to the region with the same build direction and, of
 * several such, to the one whose box holds most of the run's beads.
 */
import { type Vec3, dot } from '../../base/vector.js';
import { bounds } from '../../mesh/measure.js';
import type { Region } from '../../regions/region.js';
import { type Trace, TraceKind } from '../../verify/trace.js';

/** Beads looked at in a run. */
const BEADS_LOOKED_AT = 200;

export function regionsOfRuns(trace: Trace, regions: readonly Region[]): number[] {
  const boxes = regions.map((r) => bounds(r.mesh));
  return Array.from(trace.runStart, (start, run) => {
    const end = trace.runStart[run + 1] ?? trace.time.length;
    const direction = at(trace.direction, start);
    const nearest = Math.max(...regions.map((r) => dot(r.direction, direction)));
    const same = [...regions.keys()].filter(
      (i) => dot(regions[i]!.direction, direction) > nearest - 1e-9,
    );
    if (same.length < 2) return same[0] ?? 0;
    const held = same.map((i) => beadsIn(trace, start, end, boxes[i]!));
    return same[held.indexOf(Math.max(...held))]!;
  });
}

function beadsIn(
  { tip, kind }: Trace,
  start: number,
  end: number,
  { least, most }: { readonly least: Vec3; readonly most: Vec3 },
): number {
  const stride = Math.max(1, Math.floor((end - start) / BEADS_LOOKED_AT));
  let held = 0;
  for (let b = start; b < end; b += stride) {
    if (kind[b] !== TraceKind.deposit) continue;
    const p = at(tip, b);
    if (p.every((x, c) => x >= least[c]! - 1 && x <= most[c]! + 1)) held++;
  }
  return held;
}

const at = (packed: Float64Array, b: number): Vec3 => [
  packed[3 * b]!,
  packed[3 * b + 1]!,
  packed[3 * b + 2]!,
];
