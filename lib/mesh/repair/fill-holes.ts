/**
 * Closes small, nearly flat holes: the rim is projected on its mean plane and triangulated; no vertex
 * is added or moved. A hole that is large, long-rimmed or far from flat is refused, because what
 * belongs there is anybody's guess.
 */
import { Fault, type Finding, type Place } from '../../base/fault.js';
import { type Vec3, cross, dot, length, pointAt, square, sub, unit } from '../../base/vector.js';
import { meshFrom } from '../build.js';
import { earTriangles } from './ears.js';
import { rims } from './edge-faults.js';
import { surfaceArea } from '../measure.js';
import type { Mesh } from '../mesh.js';
import { percent } from '../../base/phrases.js';

/** What counts as a hole that is safe to fill. */
export const FILL = {
  /** Greatest area of one hole, as a share of the surface. */
  share: 0.01,
  /** Greatest distance of the rim from its mean plane, as a share of the square root of the area. */
  bulge: 0.3,
  /** Greatest number of edges of a rim. */
  edges: 1000,
} as const;

interface Hole {
  /** Vertices counter-clockwise as seen from outside. */
  readonly rim: Uint32Array;
  readonly middle: Vec3;
  readonly normal: Vec3;
  readonly area: number;
  /** Greatest distance of a rim vertex from the mean plane, mm. */
  readonly bulge: number;
}

/**
 * Fills every hole of a mesh that has open edges and no other bad ones.
 * @throws Fault `mesh/open-edges` when a hole is beyond FILL or cannot be filled without crossing
 */
export function fillHoles(mesh: Mesh): { mesh: Mesh; findings: Finding[] } {
  const holes = holesOf(mesh);
  const surface = surfaceArea(mesh);
  const edges = holes.reduce((n, h) => n + h.rim.length, 0);
  const total = `${edges} open edges in ${holes.length} ${holes.length === 1 ? 'hole' : 'holes'}`;
  for (const hole of [...holes].sort((a, b) => b.area - a.area)) {
    const why = tooRisky(hole, surface);
    if (why) throw new Fault('mesh/open-edges', `${total}; ${why}`, placeOf(hole));
  }
  const added: number[] = [];
  for (const hole of holes) {
    const fan = triangulate(mesh, hole);
    if (!fan) {
      const why = `the hole of ${hole.rim.length} edges has a rim that crosses itself seen along its normal`;
      throw new Fault('mesh/open-edges', `${total}; ${why}`, placeOf(hole));
    }
    for (const v of fan) added.push(v);
  }
  const triangles = new Uint32Array(mesh.triangles.length + added.length);
  triangles.set(mesh.triangles);
  triangles.set(added, mesh.triangles.length);
  const filled = meshFrom(mesh.vertices, triangles);
  if (filled.twins.includes(-1)) {
    const h = filled.twins.indexOf(-1);
    throw new Fault(
      'mesh/open-edges',
      `${total}; a filled hole would share an edge with more than two facets`,
      { point: pointAt(mesh.vertices, triangles[h]!), frame: 'part' },
    );
  }
  return { mesh: filled, findings: holes.map((h) => filledFinding(h, surface)) };
}

function holesOf(mesh: Mesh): Hole[] {
  const { halfEdges, start } = rims(mesh);
  return Array.from({ length: start.length - 1 }, (_, i) =>
    simpleLoops(halfEdges.subarray(start[i], start[i + 1]), mesh.triangles),
  )
    .flat()
    .map((loop) => holeOf(mesh, loop));
}

/**
 * The vertices of a rim, the other way round than the facets that border it. A rim that comes back to
 * a vertex (facets that meet only there are missing) falls into loops that do not.
 */
function simpleLoops(rim: Uint32Array, triangles: Uint32Array): Uint32Array[] {
  const loops: Uint32Array[] = [];
  const path: number[] = [];
  const place = new Map<number, number>();
  for (let i = rim.length - 1; i >= 0; i--) {
    const v = triangles[rim[i]!]!;
    const before = place.get(v);
    if (before !== undefined) {
      const loop = path.splice(before);
      for (const u of loop) place.delete(u);
      loops.push(Uint32Array.from(loop));
    }
    place.set(v, path.length);
    path.push(v);
  }
  loops.push(Uint32Array.from(path));
  return loops;
}

function holeOf({ vertices }: Mesh, rim: Uint32Array): Hole {
  const origin = pointAt(vertices, rim[0]!);
  let middle: Vec3 = [0, 0, 0];
  let twice: Vec3 = [0, 0, 0];
  for (let i = 0; i < rim.length; i++) {
    // Newell's sum, about the first vertex to keep digits.
    const p = sub(pointAt(vertices, rim[i]!), origin);
    const n = cross(p, sub(pointAt(vertices, rim[(i + 1) % rim.length]!), origin));
    middle = [middle[0] + p[0], middle[1] + p[1], middle[2] + p[2]];
    twice = [twice[0] + n[0], twice[1] + n[1], twice[2] + n[2]];
  }
  middle = middle.map((x, c) => x / rim.length + origin[c]!) as unknown as Vec3;
  const normal = unit(twice);
  let bulge = 0;
  for (const v of rim) {
    bulge = Math.max(bulge, Math.abs(dot(sub(pointAt(vertices, v), middle), normal)));
  }
  return { rim, middle, normal, area: length(twice) / 2, bulge };
}

const mm = (x: number): string => x.toPrecision(3);

function tooRisky(hole: Hole, surface: number): string | undefined {
  const name = `a hole of ${hole.rim.length} edges and ${mm(hole.area)} mm2`;
  if (hole.area > FILL.share * surface) {
    return `${name} is ${percent(hole.area / surface)} of the surface; the limit to fill one is ${percent(FILL.share)}`;
  }
  if (hole.bulge > FILL.bulge * Math.sqrt(hole.area)) {
    const limit = FILL.bulge * Math.sqrt(hole.area);
    return `${name} has a rim up to ${mm(hole.bulge)} mm off its mean plane; the limit to fill one is ${mm(limit)} mm`;
  }
  if (hole.rim.length > FILL.edges) {
    return `${name} has too long a rim; the limit to fill one is ${FILL.edges} edges`;
  }
  return undefined;
}

function triangulate({ vertices }: Mesh, { rim, middle, normal }: Hole): Uint32Array | undefined {
  const x = square(normal);
  const y = cross(normal, x);
  const flat = new Float64Array(2 * rim.length);
  rim.forEach((v, i) => {
    const p = sub(pointAt(vertices, v), middle);
    flat[2 * i] = dot(p, x);
    flat[2 * i + 1] = dot(p, y);
  });
  return earTriangles(flat)?.map((i) => rim[i]!);
}

const placeOf = (hole: Hole): Place => ({ point: hole.middle, frame: 'part' });

function filledFinding(hole: Hole, surface: number): Finding {
  return {
    code: 'mesh/hole-filled',
    severity: 'warning',
    message: `a hole of ${hole.rim.length} edges and ${mm(hole.area)} mm2 (${percent(hole.area / surface)} of the surface) was filled`,
    at: placeOf(hole),
  };
}
