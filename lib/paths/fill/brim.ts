/** The brim: flat loops around the outlines of the first layer, from the outside in. */
import { NO_GROUP, type Bead } from '../layer-bead.js';
import { loopArea } from '../../polygon/polygons.js';
import { pick } from '../../polygon/loops.js';
import { PathKind } from '../paths.js';
import type { LayerSection } from '../layer-section.js';
import { startPoint } from '../sequence/starts.js';

/** Holes stay free: a rim inside a hole would have to be cut out of it. */
export function brimBeads(section: LayerSection): Bead[] {
  const { rules, sizes, kernel, loops } = section;
  const count = Math.round(rules.brim / sizes.spacing);
  if (count === 0) return [];
  const outlines = kernel.union(
    pick(loops, (i) => loopArea(loops, i) > 0),
    'positive',
  );
  const beads: Bead[] = [];
  for (let i = count - 1; i >= 0; i--) {
    const rim = kernel.offset(outlines, sizes.edge + (i + 0.5) * sizes.spacing, {
      corners: 'round',
    });
    for (let loop = 0; loop + 1 < rim.start.length; loop++) {
      // Where rims of neighbouring outlines enclose a free spot, its edge is a rim as well.
      const xy = rim.points.slice(2 * rim.start[loop]!, 2 * rim.start[loop + 1]!);
      const first = startPoint(xy, section.start, section.layer, sizes.width);
      beads.push({
        kind: PathKind.brim,
        xy: Float64Array.from([...xy.subarray(2 * first), ...xy.subarray(0, 2 * first)]),
        closed: true,
        width: sizes.width,
        flow: 1,
        piece: -1,
        rank: count - 1 - i,
        group: NO_GROUP,
      });
    }
  }
  return beads;
}
