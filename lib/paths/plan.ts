/**
 * Layers of a region go in; the paths that fill them come out, with what was laid and what was left
 * out in each layer. A layer's paths depend on its own and its neighbours' sections and on nothing
 * that was planned before, so any batches of layers joined are the same, bit for bit, as all at once.
 */
import type { Finding } from '../base/fault.js';
import { type Polygons, area, noPolygons } from '../base/polygons.js';
import type { PolygonKernel } from '../kernel/polygon.js';
import type { Layers } from '../layers/layers.js';
import { joinedPaths, pathList } from './append.js';
import { beadArea } from './bead.js';
import { brimBeads } from './brim.js';
import { type Exposure, exposure } from './caps.js';
import { contoursOf } from './contours.js';
import { fillBeads, lineAngle } from './fill.js';
import { gridOf } from './grid.js';
import { type Bead, widthAt } from './layer-bead.js';
import { linkInside } from './links.js';
import { isEmpty, loopsOf } from './loops.js';
import { Link, PathKind, type Paths } from './paths.js';
import type { PathRules } from './rules.js';
import { type Section, TOLERANCE, sectionOf, sizesOf } from './section.js';
import { sequence } from './sequence.js';
import { solidBeads } from './solid.js';
import { startRule } from './starts.js';

export interface PathLimits {
  /** Bore, mm. */
  readonly nozzleDiameter: number;
  /** Whether layer 0 lies on the table. */
  readonly onTable: boolean;
}

/** One number a planned layer. */
export interface LayerFigures {
  /** Area of the section, mm2. */
  readonly section: Float64Array;
  /** Area closed by caps inside the contours, mm2. */
  readonly cap: Float64Array;
  /** Area filled with the chosen density, mm2. */
  readonly fill: Float64Array;
  /** Volume that is laid, brim apart, mm3: sum of length x bead section x flow factor. */
  readonly volume: Float64Array;
  readonly brimVolume: Float64Array;
}

export interface PlannedPaths {
  /** Number of the first planned layer. */
  readonly from: number;
  readonly paths: Paths;
  readonly figures: LayerFigures;
  readonly findings: readonly Finding[];
}

/**
 * Plans layers from .. to (exclusive).
 * @throws Fault `polygon/out-of-range`
 */
export function planPaths(
  layers: Layers,
  from: number,
  to: number,
  rules: PathRules,
  limits: PathLimits,
  kernel: PolygonKernel,
): PlannedPaths {
  const list = pathList();
  const count = to - from;
  const figures = {
    section: new Float64Array(count),
    cap: new Float64Array(count),
    fill: new Float64Array(count),
    volume: new Float64Array(count),
    brimVolume: new Float64Array(count),
  };
  const exposed = exposure(layers, rules.cap, TOLERANCE, kernel);
  const start = startRule(rules.start, layers.map.layerFromPart);
  for (let k = from; k < to; k++) {
    const loops = loopsOf(layers.section, layers.layerStart[k]!, layers.layerStart[k + 1]!);
    const simple = kernel.simplify(loops, TOLERANCE);
    figures.section[k - from] = area(loops);
    if (isEmpty(simple)) continue;
    const sizes = sizesOf(rules, limits.nozzleDiameter, layers.thickness[k]!);
    const section = sectionOf(k, simple, sizes, start, rules, kernel);
    const brim = k === 0 && limits.onTable ? brimBeads(section) : [];
    const { beads, inside } = contoursOf(section);
    const { cap, open } = split(section, inside, exposed);
    beads.push(...solidBeads(section, cap, PathKind.cap, lineAngle(section), rules.contours));
    beads.push(...fillBeads(section, open, rules.contours));
    const flow = layers.flowFactor[k]!;
    lay(section, [...sequence(brim), ...sequence(beads)], layers.top[k]!, flow, list);
    figures.cap[k - from] = area(cap);
    figures.fill[k - from] = area(open);
    figures.volume[k - from] = volumeOf(beads, sizes.height) * flow;
    figures.brimVolume[k - from] = volumeOf(brim, sizes.height) * flow;
  }
  return { from, paths: list.take(), figures, findings: [] };
}

/** Plans of neighbouring batches of layers, in order, as one. */
export function joinPaths(list: readonly PlannedPaths[]): PlannedPaths {
  const column = (name: keyof LayerFigures): Float64Array =>
    Float64Array.from(list.flatMap((p) => [...p.figures[name]]));
  return {
    from: list[0]?.from ?? 0,
    paths: joinedPaths(list.map((p) => p.paths)),
    figures: {
      section: column('section'),
      cap: column('cap'),
      fill: column('fill'),
      volume: column('volume'),
      brimVolume: column('brimVolume'),
    },
    findings: list.flatMap((p) => p.findings),
  };
}

/** Caps narrower than this share of a bead are left to the contours beside them. */
const LEAST_CAP = 0.5;

/** The inside parted into what must be closed and what is filled. */
function split(
  { sizes, kernel, layer }: Section,
  inside: Polygons,
  exposed: Exposure,
): { cap: Polygons; open: Polygons } {
  const bare = isEmpty(inside) ? noPolygons : exposed.of(layer);
  if (isEmpty(bare)) return { cap: noPolygons, open: inside };
  const least = (LEAST_CAP * sizes.width) / 2;
  const shrunk = kernel.offset(kernel.combine(bare, inside, 'intersection'), -least, {
    corners: 'miter',
  });
  if (isEmpty(shrunk)) return { cap: noPolygons, open: inside };
  // One bead more than what is bare: the cap's edge then rests on fill and contours.
  const grown = kernel.offset(shrunk, least + sizes.spacing, { corners: 'miter' });
  const cap = kernel.combine(grown, inside, 'intersection');
  return { cap, open: kernel.combine(inside, cap, 'difference') };
}

/** Puts the beads down in order, each with its link from the one before. */
function lay(
  section: Section,
  beads: readonly Bead[],
  z: number,
  flowFactor: number,
  list: ReturnType<typeof pathList>,
): void {
  const { sizes, kernel, loops, rules, layer } = section;
  const margin = Math.min(sizes.width / 4, 0.4 * sizes.least);
  const room = gridOf(kernel.offset(loops, -margin, { corners: 'round' }));
  const none = new Float64Array(0);
  beads.forEach((bead, i) => {
    const before = beads[i - 1];
    let way: Float64Array | undefined;
    if (before) {
      const end = before.closed ? 0 : before.xy.length - 2;
      const [ax, ay] = [before.xy[end]!, before.xy[end + 1]!];
      const [bx, by] = [bead.xy[0]!, bead.xy[1]!];
      // A rim lies outside: only the step to the next rim is gone without lifting.
      const rim = bead.kind === PathKind.brim;
      const limit = rim ? 2 * sizes.width : rules.link.longest;
      if (rim || before.kind !== PathKind.brim) way = linkInside(room, ax, ay, bx, by, limit);
    }
    list.add(bead, {
      layer,
      z,
      height: sizes.height,
      flowFactor,
      link: way ? Link.inside : Link.lifted,
      way: way ?? none,
    });
  });
}

function volumeOf(beads: readonly Bead[], height: number): number {
  let sum = 0;
  for (const b of beads) {
    const n = b.xy.length / 2;
    let volume = 0;
    for (let j = b.closed ? 0 : 1; j < n; j++) {
      const i = j > 0 ? j - 1 : n - 1;
      const length = Math.hypot(b.xy[2 * j]! - b.xy[2 * i]!, b.xy[2 * j + 1]! - b.xy[2 * i + 1]!);
      volume += length * beadArea(widthAt(b, j), height);
    }
    sum += volume * b.flow;
  }
  return sum;
}
