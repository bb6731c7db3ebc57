/**
 * Groups closed beads so that each group holds the beads that run around one edge, innermost first: an
 * edge is finished before the nozzle goes on to the next one.
 */
import { gridOf, nearestEdge } from '../../polygon/edge-grid.js';
import type { Bead } from '../layer-bead.js';

/** @param levels beads from the edge inwards */
export function grouped(levels: readonly (readonly Bead[])[]): Bead[] {
  const groups: Bead[][] = [];
  let groupOf: number[] = [];
  levels.forEach((beads, level) => {
    const outer = levels[level - 1];
    const parents = outer?.length ? parentsOf(beads, outer) : beads.map(() => -1);
    const taken = new Set<number>();
    const next: number[] = [];
    beads.forEach((bead, i) => {
      const parent = parents[i]!;
      let group = parent < 0 || taken.has(parent) ? -1 : groupOf[parent]!;
      // Where several loops lie in one (or one in several), all but the first begin a group.
      if (group < 0) group = groups.push([]) - 1;
      taken.add(parent);
      groups[group]!.push(bead);
      next.push(group);
    });
    groupOf = next;
  });
  return groups.flatMap((beads, group) => beads.reverse().map((bead) => ({ ...bead, group })));
}

/** For each bead the bead of the next outer level that is nearest to its first point. */
function parentsOf(beads: readonly Bead[], outer: readonly Bead[]): number[] {
  const points: Float64Array[] = outer.map((b) => b.xy);
  const start = new Uint32Array(outer.length + 1);
  points.forEach((xy, i) => (start[i + 1] = start[i]! + xy.length / 2));
  const packed = new Float64Array(2 * start[outer.length]!);
  points.forEach((xy, i) => packed.set(xy, 2 * start[i]!));
  const grid = gridOf({ points: packed, start });
  return beads.map(({ xy }) => grid.loopOf[nearestEdge(grid, xy[0]!, xy[1]!).edge]!);
}
