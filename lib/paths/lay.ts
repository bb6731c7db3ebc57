/** Lays the beads of a layer one after the other, each with the link that leads to it. */
import type { PathList } from './append.js';
import { type EdgeGrid, gridOf } from '../polygon/edge-grid.js';
import type { Bead } from './layer-bead.js';
import { linkInside } from './sequence/links.js';
import { Link, PathKind } from './paths.js';
import type { LayerSection } from './layer-section.js';

const noWay = new Float64Array(0);

/** @param z height of the nozzle tip, layer-space mm */
export function lay(
  section: LayerSection,
  beads: readonly Bead[],
  z: number,
  flowFactor: number,
  list: PathList,
): void {
  const room = roomOf(section);
  beads.forEach((bead, i) => {
    const way = i > 0 ? linkTo(section, room, beads[i - 1]!, bead) : undefined;
    list.add(bead, {
      layer: section.layer,
      z,
      height: section.sizes.height,
      flowFactor,
      link: way ? Link.inside : Link.lifted,
      way: way ?? noWay,
    });
  });
}

/** Where the nozzle may go without material: all beads run in it, and it keeps off the edge. */
function roomOf({ sizes, loops, kernel }: LayerSection): EdgeGrid {
  const margin = Math.min(sizes.width / 4, 0.4 * sizes.least);
  return gridOf(kernel.offset(loops, -margin, { corners: 'round' }));
}

function linkTo(
  { rules, sizes }: LayerSection,
  room: EdgeGrid,
  before: Bead,
  bead: Bead,
): Float64Array | undefined {
  const end = before.closed ? 0 : before.xy.length - 2;
  const [ax, ay] = [before.xy[end]!, before.xy[end + 1]!];
  const [bx, by] = [bead.xy[0]!, bead.xy[1]!];
  // A rim lies outside: only the step to the next rim is gone without lifting.
  if (bead.kind === PathKind.brim) {
    return Math.hypot(bx - ax, by - ay) < 2 * sizes.width ? noWay : undefined;
  }
  if (before.kind === PathKind.brim) return undefined;
  return linkInside(room, ax, ay, bx, by, rules.link.longest);
}
