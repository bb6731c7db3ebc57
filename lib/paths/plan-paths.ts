/**
 * Plans the paths that fill the layers of a region, with what was laid and what was left out in each
 * layer. A layer's paths depend on its own and its neighbours' sections and on nothing that was planned
 * before, so any batches of layers joined are the same, bit for bit, as all at once.
 */
import { Fault } from '../base/fault.js';
import { area, noPolygons } from '../polygon/polygons.js';
import type { PolygonKernel } from '../kernel/polygon.js';
import type { Layers } from '../layers/layers.js';
import { pathFrame, toPart } from '../layers/layer-map.js';
import type { Bridge } from '../layers/unsupported.js';
import { joinedPaths, pathList } from './append.js';
import { beadSpacing } from './bead.js';
import { bridgedBeads } from './fill/bridge-beads.js';
import { brimBeads } from './fill/brim.js';
import { exposure, partedByCaps } from './fill/exposed-caps.js';
import { contoursOf } from './walls/contours.js';
import { type LayerFigures, type RegionFigures, emptyFigures, joinedFigures } from './figures.js';
import { fillBeads, lineAngle } from './fill/fill.js';
import { lay } from './lay.js';
import { volumeOf } from './layer-bead.js';
import { isEmpty, loopsOf } from '../polygon/loops.js';
import { PathKind, type Paths } from './paths.js';
import { type PathRules, checkBeads } from './rules.js';
import { type LayerSection, LOOP_TOLERANCE, layerSection, sizesOf } from './layer-section.js';
import { sequence } from './sequence/sequence.js';
import { curvedCaps } from './fill/curved-caps.js';
import { solidRings } from './fill/ring-fill.js';
import { solidBeads } from './fill/solid-fill.js';
import { startRule } from './sequence/starts.js';

export interface PathLimits {
  /** Bore, mm. */
  readonly nozzleDiameter: number;
  /** Whether layer 0 lies on the table. */
  readonly onTable: boolean;
  /** Whether other regions stand on this one; left out: none. */
  readonly carries?: boolean;
  /** What the layers bridge; left out: nothing. */
  readonly bridges?: readonly Bridge[];
}

/** Paths of layers from `from` on, and what was laid and left out in them. */
export interface PlannedPaths extends RegionFigures {
  readonly paths: Paths;
  /** Of curved layers: the same in layer space, before they were brought back into the part. */
  readonly inLayers?: Paths;
}

/**
 * By this share of its width the innermost contour may lie beside those of the layer below: little, for a bed
 * narrower than half a bead is left out (exposed-caps.ts), and a fifth of the width must lie on something.
 */
const FREE = 0.25;

/**
 * Plans layers from .. to (exclusive).
 * @throws Fault `paths/bad-bead`, `paths/curved-brim`, `polygon/out-of-range`
 */
export function planPaths(
  layers: Layers,
  from: number,
  to: number,
  rules: PathRules,
  limits: PathLimits,
  kernel: PolygonKernel,
): PlannedPaths {
  const { width, least } = checkBeads(rules, limits.nozzleDiameter, layers.thickness);
  if (layers.map.kind === 'field' && rules.brim > 0) throw curvedBrim(rules.brim);
  const list = pathList();
  const figures = emptyFigures(to - from);
  const reach = (rules.contours - FREE) * beadSpacing(width, layers.thickness[0]!);
  const depth = rules.cap > 0 ? reach : 0;
  const exposed = exposure(layers, rules.cap, LOOP_TOLERANCE, kernel, limits.carries, depth);
  const start = startRule(rules.start, pathFrame(layers.map).layerFromPart);
  for (let k = from; k < to; k++) {
    const loops = loopsOf(layers.section, layers.layerStart[k]!, layers.layerStart[k + 1]!);
    const simple = kernel.simplify(loops, LOOP_TOLERANCE);
    figures.section[k - from] = area(loops);
    if (isEmpty(simple)) continue;
    const thickness = layers.thickness[k]!;
    const sizes = sizesOf(width, least, thickness);
    const middle = layers.top[k]! - thickness / 2;
    const given = { layer: k, middle, loops: simple, sizes, start, rules, kernel };
    const section = layerSection(given);
    const flow = layers.flowFactor[k]!;

    const brim = k === 0 && limits.onTable ? brimBeads(section) : [];
    const { beads, inside, dropped, droppedAt } = contoursOf(section);
    const spans = bridgedBeads(
      section,
      inside,
      (limits.bridges ?? []).filter((b) => b.layer === k),
    );
    const { cap, open } = partedByCaps(section, spans.rest, exposed);
    beads.push(...spans.beads);
    if (layers.map.kind === 'flat') {
      beads.push(...solidBeads(section, cap, PathKind.cap, lineAngle(section), 2));
      beads.push(...fillBeads(section, open, 3));
    } else {
      const below =
        k > 0
          ? loopsOf(layers.section, layers.layerStart[k - 1]!, layers.layerStart[k]!)
          : noPolygons;
      beads.push(
        ...curvedCaps(section, cap, kernel.simplify(below, LOOP_TOLERANCE), exposed, reach),
      );
      const solid = rules.fill.density === 1;
      beads.push(
        ...(solid ? solidRings(section, open, PathKind.fill, 3) : fillBeads(section, open, 3)),
      );
    }
    lay(section, [...sequence(brim), ...sequence(beads)], layers.top[k]!, flow, list);

    const row = k - from;
    figures.cap[row] = spans.mm2 + area(cap);
    figures.fill[row] = area(open);
    figures.dropped[row] = dropped;
    if (dropped > 0) {
      figures.droppedAt.set(toPart(layers.map, [droppedAt[0], droppedAt[1], middle]), 3 * row);
    }
    figures.wanted[row] = wantedVolume(section, figures, row) * flow;
    figures.laid[row] = volumeOf(beads, thickness) * flow;
    figures.brim[row] = volumeOf(brim, thickness) * flow;
  }
  const worth = width * width;
  return { from, paths: list.take(), figures, least, worth };
}

/** A brim lies flat on the table, outside of the part, where a field has no sheets. */
const curvedBrim = (brim: number): Fault =>
  new Fault(
    'paths/curved-brim',
    `a brim of ${brim} mm is asked for; layers that follow a field have none, so it must be 0 mm`,
  );

/** Plans of neighbouring batches of layers of one region, in order, as one. */
export function joinPaths(list: readonly PlannedPaths[]): PlannedPaths {
  const [first] = list;
  if (!first) throw new Error('no plans to join');
  const { from, least, worth } = first;
  const figures = joinedFigures(list.map((p) => p.figures));
  return {
    from,
    paths: joinedPaths(list.map((p) => p.paths)),
    ...(first.inLayers && { inLayers: joinedPaths(list.map((p) => p.inLayers!)) }),
    figures,
    least,
    worth,
  };
}

/** Volume that one layer is to have by its areas and density, mm3. */
function wantedVolume({ sizes, rules }: LayerSection, figures: LayerFigures, row: number): number {
  const cells = figures.section[row]! - figures.dropped[row]!;
  const open = (1 - rules.fill.density) * figures.fill[row]!;
  return Math.max(0, cells - open) * sizes.height;
}
