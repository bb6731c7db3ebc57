/** The shape of what is laid against the part: figures, and findings where it is off. */
import type { Severity } from '../base/fault.js';
import type { Watch } from '../base/watch.js';
import { type Vec3, unit } from '../base/vector.js';
import type { BoxTree } from '../mesh/bvh.js';
import { areasOf } from './areas.js';
import { BeadIndex } from './bead-index.js';
import { type RigidFit, fitsOf } from './rigid-fit.js';
import { type Outside, outsideOf } from './outside.js';
import { placeOn, rounded } from './place.js';
import type { Print } from './print.js';
import type { CheckRules } from './rules.js';
import { FARTHEST_ERROR, OPEN_SKIN, type Surface, roomInside, surfaceOf } from './shape.js';
import type { FindingSink } from './tally.js';
import type { Trace } from './trace.js';
import { placeOf } from './walk.js';

/** Distances from the part's surface to where the material ends, mm; positive: too much. */
export interface ShapeFigures {
  readonly areaMm2: number;
  readonly meanMm: number;
  /** Of the size of the error, by area. */
  readonly p95Mm: number;
  readonly leastMm: number;
  readonly leastAt: Vec3;
  readonly mostMm: number;
  readonly mostAt: Vec3;
  /** Surface without material within half a bead and a cube, and where it stands out as much, mm2. */
  readonly missingMm2: number;
  readonly tooMuchMm2: number;
  /** Surface under which less than a third of the first bead's depth is filled, mm2. */
  readonly openSkinMm2: number;
  /** Material outside the part: on the table (a brim), and elsewhere, mm3. */
  readonly onTableMm3: number;
  readonly outsideMm3: number;
  readonly runs: readonly RunShape[];
}

export interface RunShape extends RigidFit {
  /** Line of the run's first bead. */
  readonly line: number;
}

/**
 * A run whose material is shifted off the part or turned by more is reported, if it makes enough of the
 * surface; mm, mm2.
 */
const SHIFT = 0.1;
const SHIFT_AREA = 50;
/** Samples are gathered in cells of this edge, mm. */
const GATHER = 3;
/** Less surface than this in a cell is not reported, mm2; of open skin two millimetres of one bead are. */
const LEAST_AREA = 0.5;
const LEAST_OPEN = 0.4;
/** What lies beside the part up to this many heights of a bead over the table is a brim. */
const BRIM = 1.5;
/** What is missing where the part is thinner than this share of a bead's width is no error: no bead fits. */
const FITS = 0.8;
/** Material farther outside than this many widths of a bead is reported. */
const OUTSIDE_WIDTHS = 0.75;

/** Figures, the samples behind them, and what lies outside the part. */
export interface ShapeVerdict {
  readonly figures: ShapeFigures;
  readonly surface: Surface;
  readonly outside: Outside;
}

export function judgeShape(
  trace: Trace,
  print: Pick<Print, 'grids' | 'heights' | 'widest'>,
  part: BoxTree,
  bounds: CheckRules,
  tally: FindingSink,
  watch?: Watch,
): ShapeVerdict {
  const { grids, heights, widest } = print;
  const brim = BRIM * heights.usual;
  const beads = new BeadIndex(trace, heights, widest);
  const surface = surfaceOf(part, grids, beads, heights.width, brim, watch);
  const outside = outsideOf(part, grids, OUTSIDE_WIDTHS * heights.width + grids.edge, brim, watch);
  const limit = heights.width / 2 + grids.edge;
  const { error, skin } = surface;
  const gather = new Gatherer(trace, surface, beads, tally);
  /** An edge so thin that no bead can lie there, which is missing no more than that. */
  const isEdge = (i: number): boolean =>
    error[i]! < -limit &&
    error[i]! > -heights.width &&
    roomInside(part, ...gather.at(i)) < heights.width / 2;
  gather.report(
    'verify/thin-edge',
    'note',
    LEAST_AREA,
    isEdge,
    (i) => -error[i]!,
    (area, worst) =>
      `${area.toFixed(1)} mm2 of the part's surface lie on an edge too thin for a bead, up to ${(-error[worst]!).toFixed(2)} mm from the material`,
  );
  const missingMm2 = gather.reportAreas(
    'verify/missing',
    bounds.surface,
    (i) => error[i]! < -limit && !isEdge(i),
    (i) => 2 * roomInside(part, ...gather.at(i)) >= FITS * heights.width,
    (i) => -error[i]!,
    (area, worst) =>
      `material is missing over ${area.toFixed(1)} mm2 of the part's surface, by ${deep(-error[worst]!)}`,
  );
  const tooMuchMm2 = gather.reportAreas(
    'verify/too-much',
    bounds.surface,
    (i) => error[i]! > limit,
    () => true,
    (i) => error[i]!,
    (area, worst) =>
      `material stands out of the part's surface over ${area.toFixed(1)} mm2, by ${deep(error[worst]!)}`,
  );
  const openSkinMm2 = gather.report(
    'verify/open-skin',
    'warning',
    LEAST_OPEN,
    (i) =>
      skin[i]! < OPEN_SKIN &&
      error[i]! >= -limit &&
      roomInside(part, ...gather.at(i)) >= heights.width / 2,
    (i) => 1 - skin[i]!,
    (area, worst) =>
      `the skin is open over ${area.toFixed(1)} mm2: ${Math.round(100 * skin[worst]!)}% of a bead's depth is filled`,
  );
  const runs = fitsOf(trace, grids, surface).map((fit) => ({
    ...fit,
    line: trace.line[trace.runStart[fit.run]!]!,
  }));
  reportShifts(trace, runs, tally);
  reportOutside(trace, outside, tally);
  const figures: ShapeFigures = {
    ...spreadOf(surface),
    missingMm2,
    tooMuchMm2,
    openSkinMm2,
    onTableMm3: outside.onTable,
    outsideMm3: outside.elsewhere,
    runs,
  };
  return { figures, surface, outside };
}

const deep = (mm: number): string =>
  mm >= FARTHEST_ERROR - 0.05 ? `${FARTHEST_ERROR} mm or more` : `up to ${mm.toFixed(2)} mm`;

const show = (v: readonly number[]): string => v.map((c) => c.toFixed(2)).join(' ');

function reportShifts(trace: Trace, runs: readonly RunShape[], tally: FindingSink): void {
  for (const { run, areaMm2, shiftMm, turnDeg, swingMm } of runs) {
    if (areaMm2 < SHIFT_AREA) continue;
    const size = Math.hypot(...shiftMm);
    if (swingMm > SHIFT) {
      const by = `${Math.hypot(...turnDeg).toFixed(2)} deg about ${show(unit(turnDeg))}`;
      tally.add('verify/turned', 'error', swingMm, () => ({
        message: `what is laid from here on in this direction is turned by ${by}, so that its outermost surface is off the part by ${swingMm.toFixed(2)} mm (the limit is ${SHIFT} mm)`,
        at: placeOf(trace, trace.runStart[run]!),
      }));
    }
    if (size < SHIFT) continue;
    tally.add('verify/shifted', 'error', size, () => ({
      message: `what is laid from here on in this direction is off the part by ${size.toFixed(2)} mm, along ${show(shiftMm)} (the limit is ${SHIFT} mm)`,
      at: placeOf(trace, trace.runStart[run]!),
    }));
  }
}

function reportOutside(trace: Trace, outside: Outside, tally: FindingSink): void {
  for (const { point, volume, distance, block } of outside.places) {
    tally.add('verify/outside', 'error', distance, () => ({
      message: `${volume.toFixed(2)} mm3 of material lie outside the part, up to ${distance.toFixed(2)} mm from its surface`,
      at: placeOn(trace, block, point),
    }));
  }
}

function spreadOf(
  surface: Surface,
): Pick<
  ShapeFigures,
  'areaMm2' | 'meanMm' | 'p95Mm' | 'leastMm' | 'leastAt' | 'mostMm' | 'mostAt'
> {
  const { area, error, points } = surface;
  const sizes = error.map(Math.abs);
  const order = Uint32Array.from(area.keys()).sort((a, b) => sizes[a]! - sizes[b]!);
  let whole = 0;
  let sum = 0;
  let least = 0;
  let most = 0;
  for (let i = 0; i < area.length; i++) {
    whole += area[i]!;
    sum += area[i]! * error[i]!;
    if (error[i]! < error[least]!) least = i;
    if (error[i]! > error[most]!) most = i;
  }
  let below = 0;
  let p95 = 0;
  for (const i of order) {
    below += area[i]!;
    p95 = sizes[i]!;
    if (below >= 0.95 * whole) break;
  }
  const at = (i: number): Vec3 => rounded([points[3 * i]!, points[3 * i + 1]!, points[3 * i + 2]!]);
  return {
    areaMm2: whole,
    meanMm: sum / whole,
    p95Mm: p95,
    leastMm: error[least]!,
    leastAt: at(least),
    mostMm: error[most]!,
    mostAt: at(most),
  };
}

/** Reports samples of a kind by the cells of space in which they lie. */
class Gatherer {
  readonly #trace: Trace;
  readonly #surface: Surface;
  readonly #beads: BeadIndex;
  readonly #tally: FindingSink;

  constructor(trace: Trace, surface: Surface, beads: BeadIndex, tally: FindingSink) {
    this.#trace = trace;
    this.#surface = surface;
    this.#beads = beads;
    this.#tally = tally;
  }

  /** Place and normal of a sample. */
  at(i: number): [Vec3, Vec3] {
    const { points, normals } = this.#surface;
    const of = (v: Float32Array): Vec3 => [v[3 * i]!, v[3 * i + 1]!, v[3 * i + 2]!];
    return [of(points), of(normals)];
  }

  /**
   * Connected areas from a size on as errors, what is smaller as warnings.
   *
   * @param most area of a connected place that is no error, mm2
   * @param counts which samples of the kind make an area that is an error
   * @returns the area of all samples of the kind, mm2
   */
  reportAreas(
    code: string,
    most: number,
    is: (i: number) => boolean,
    counts: (i: number) => boolean,
    badness: (i: number) => number,
    words: (area: number, worst: number) => string,
  ): number {
    const large = areasOf(this.#surface, (i) => is(i) && counts(i)).filter(
      ({ area }) => area > most,
    );
    const reported = new Set<number>();
    for (const { area, samples } of large) {
      const worst = samples.reduce((a, b) => (badness(b) > badness(a) ? b : a));
      for (const i of samples) reported.add(i);
      const [point] = this.at(worst);
      this.#tally.add(code, 'error', area, () => ({
        message: `${words(area, worst)} (the limit is ${most} mm2 in one place)`,
        at: placeOn(this.#trace, this.#nearestBlock(point), point),
      }));
    }
    const rest = (i: number): boolean => is(i) && !reported.has(i);
    return (
      large.reduce((sum, { area }) => sum + area, 0) +
      this.report(code, 'warning', LEAST_AREA, rest, badness, words)
    );
  }

  /**
   * @param badness of a sample, to find the worst
   * @returns the area of all samples of the kind, mm2
   */
  report(
    code: string,
    severity: Severity,
    least: number,
    is: (i: number) => boolean,
    badness: (i: number) => number,
    words: (area: number, worst: number) => string,
  ): number {
    const { area } = this.#surface;
    const cells = new Map<string, { area: number; worst: number }>();
    let whole = 0;
    for (let i = 0; i < area.length; i++) {
      if (!is(i)) continue;
      whole += area[i]!;
      const key = this.at(i)[0]
        .map((c) => Math.floor(c / GATHER))
        .join();
      const cell = cells.get(key) ?? { area: 0, worst: i };
      cells.set(key, cell);
      cell.area += area[i]!;
      if (badness(i) > badness(cell.worst)) cell.worst = i;
    }
    for (const cell of cells.values()) {
      if (cell.area < least) continue;
      const [point] = this.at(cell.worst);
      const block = this.#nearestBlock(point);
      this.#tally.add(
        code,
        severity,
        badness(cell.worst),
        () => ({
          message: words(cell.area, cell.worst),
          at: placeOn(this.#trace, block, point),
        }),
        { run: this.#trace.run[block]!, amount: cell.area, unit: 'mm2' },
      );
    }
    return whole;
  }

  /** The block whose bead passes nearest to a point; the first that should lay one if none does. */
  #nearestBlock(point: Vec3): number {
    const near = this.#beads.nearest(point, FARTHEST_ERROR) ?? this.#beads.nearestOfAll(point);
    return near?.block ?? this.#trace.runStart[0]!;
  }
}
