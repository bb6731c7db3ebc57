/**
 * What a user should know about a mesh before anything is planned: size, volume, area, shells, what
 * keeps it from being closed, where it crosses itself, where it is thin, whether the unit looks wrong.
 * Takes open meshes too; figures that need a closed one say so.
 */
import type { Finding } from '../../base/fault.js';
import { type Vec3, pointAt } from '../../base/vector.js';
import type { SolidKernel } from '../../kernel/solid.js';
import { type BoxTree, treeOf } from '../bvh.js';
import { eachContact } from './crossing-facets.js';
import { badEdges, splitFans } from './edge-faults.js';
import { bounds, massOf, surfaceArea } from '../measure.js';
import type { Mesh } from '../mesh.js';
import { percent } from '../../base/phrases.js';
import { shellsOf, splitShells } from '../shells.js';
import { type ThinWalls, thinPlaces } from './wall-thickness.js';
import { doubtfulUnit } from '../units.js';

export interface InspectOptions {
  /** Walls thinner than this count as thin, mm; 0.8 (two beads of 0.4) when absent. */
  readonly thinBelow?: number;
  /** Rays that look for thin places; 2,000 when absent. */
  readonly samples?: number;
  /** Pairs of crossing facets after which the count stops; 10,000 when absent. */
  readonly crossingLimit?: number;
}

/** Size, shells, flaws and thin places of a mesh. */
export interface Inspection {
  readonly triangles: number;
  readonly vertices: number;
  /** Extent along x, y, z, mm. */
  readonly size: Vec3;
  /** mm2 */
  readonly area: number;
  /** Signed, mm3; means little when the mesh is not closed. */
  readonly volume: number;
  readonly closed: boolean;
  readonly shells: number;
  /** Shells that face inwards: cavities, or the whole part inside out. */
  readonly inwardShells: number;
  readonly insideOut: boolean;
  /** Handles over all shells; undefined when the mesh is not closed. */
  readonly genus: number | undefined;
  readonly edges: { readonly open: number; readonly flipped: number; readonly crowded: number };
  /** Facets of no area. */
  readonly flatFacets: number;
  readonly crossing: CrossingCount;
  readonly thin: ThinWalls;
  /** The same as findings, and what else is doubtful. */
  readonly findings: readonly Finding[];
}

export interface CrossingCount {
  /** Pairs of facets of which one passes through the other. */
  readonly pairs: number;
  /** False when the count stopped at its limit. */
  readonly complete: boolean;
  /** A corner of the first such pair. */
  readonly at: Vec3 | undefined;
}

/**
 * Measures a mesh and looks for its flaws.
 * @param kernel a second opinion on whether the mesh bounds a solid, when given
 */
export function inspect(
  mesh: Mesh,
  kernel?: SolidKernel,
  options: InspectOptions = {},
): Inspection {
  const { least, most } = bounds(mesh);
  const size: Vec3 = mesh.vertices.length
    ? [most[0] - least[0], most[1] - least[1], most[2] - least[2]]
    : [0, 0, 0];
  const bad = badEdges(mesh);
  const edges = {
    open: bad.open.length,
    flipped: bad.flipped.length,
    crowded: bad.crowdedStart.length - 1,
  };
  const closed = edges.open + edges.flipped + edges.crowded === 0 && mesh.triangles.length > 0;
  const shells = shellsOf(mesh);
  const volume = massOf(mesh).volume;
  const tree = treeOf(mesh);
  const figures = {
    triangles: mesh.triangles.length / 3,
    vertices: mesh.vertices.length / 3,
    size,
    area: surfaceArea(mesh),
    volume,
    closed,
    shells: shells.count,
    inwardShells: splitShells(mesh, shells).filter((s) => massOf(s).volume < 0).length,
    insideOut: closed && volume < 0,
    genus: closed ? genusOf(mesh, shells.count) : undefined,
    edges,
    flatFacets: flatFacets(mesh),
    crossing: crossings(tree, options.crossingLimit ?? 10_000),
    thin: thinPlaces(tree, options.thinBelow ?? 0.8, options.samples ?? 2000),
  };
  return { ...figures, findings: findingsOf(mesh, figures, bad.open[0], kernel) };
}

/** Euler and Poincare: V - E + F = 2 shells - 2 genus, with surfaces that touch taken apart. */
function genusOf(mesh: Mesh, shells: number): number {
  const apart = splitFans(mesh).mesh;
  const used = new Uint8Array(apart.vertices.length / 3);
  for (const v of apart.triangles) used[v] = 1;
  let vertices = 0;
  for (const u of used) vertices += u;
  return shells - (vertices - apart.triangles.length / 6) / 2;
}

function flatFacets({ vertices: v, triangles: t }: Mesh): number {
  let count = 0;
  for (let i = 0; i < t.length; i += 3) {
    const a = pointAt(v, t[i]!);
    const b = pointAt(v, t[i + 1]!);
    const c = pointAt(v, t[i + 2]!);
    const x = (b[1] - a[1]) * (c[2] - a[2]) - (b[2] - a[2]) * (c[1] - a[1]);
    const y = (b[2] - a[2]) * (c[0] - a[0]) - (b[0] - a[0]) * (c[2] - a[2]);
    const z = (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]);
    if (x === 0 && y === 0 && z === 0) count++;
  }
  return count;
}

/** Counts pairs of facets that cross, up to `limit`. */
export function crossings(tree: BoxTree, limit: number): CrossingCount {
  let pairs = 0;
  let at: Vec3 | undefined;
  eachContact(tree, (a, _, contact) => {
    if (contact !== 'cross') return true;
    at ??= pointAt(tree.mesh.vertices, tree.mesh.triangles[3 * a]!);
    return ++pairs < limit;
  });
  return { pairs, complete: pairs < limit, at };
}

type Figures = Omit<Inspection, 'findings'>;

function findingsOf(
  mesh: Mesh,
  f: Figures,
  open: number | undefined,
  kernel: SolidKernel | undefined,
): Finding[] {
  const out: Finding[] = [];
  const add = (
    code: string,
    severity: Finding['severity'],
    message: string,
    point?: Vec3,
  ): void => {
    out.push({ code, severity, message, ...(point ? { at: { point, frame: 'part' } } : {}) });
  };
  const { edges, crossing, thin } = f;
  if (edges.open > 0) {
    add(
      'mesh/open-edges',
      'error',
      `${edges.open} open edges`,
      pointAt(mesh.vertices, mesh.triangles[open!]!),
    );
  }
  if (edges.flipped > 0) {
    add(
      'mesh/flipped-facet',
      'error',
      `${edges.flipped} edges lie between facets that face opposite sides`,
    );
  }
  if (edges.crowded > 0) {
    add('mesh/crowded-edge', 'error', `${edges.crowded} edges are shared by more than 2 facets`);
  }
  if (f.insideOut)
    add(
      'mesh/inside-out',
      'error',
      `the volume is ${f.volume.toPrecision(3)} mm3: the part is inside out`,
    );
  if (f.flatFacets > 0) add('mesh/flat-facets', 'note', `${f.flatFacets} facets have no area`);
  if (crossing.pairs > 0) {
    const least = crossing.complete ? '' : 'at least ';
    add(
      'mesh/self-crossing',
      'warning',
      `${least}${crossing.pairs} pairs of facets cross`,
      crossing.at,
    );
  }
  if (thin.hits > 0) {
    const share = percent(thin.hits / thin.samples);
    add(
      'mesh/thin',
      'warning',
      `${share} of the surface, by ${thin.samples} sampled rays, has material thinner than ${thin.below} mm behind it; the thinnest found is ${thin.least!.toPrecision(3)} mm (an estimate)`,
      thin.at,
    );
  }
  const unit = doubtfulUnit(f.size);
  if (unit) out.push(unit);
  if (kernel && f.closed) {
    const opinion = kernel.judge(mesh);
    if (!opinion.accepted) add('mesh/not-solid', 'error', opinion.why);
  }
  return out;
}
