/**
 * Repairs loose facets into a closed mesh, each shell consistently oriented. What can be repaired
 * without guessing is, and each repair is a finding; the rest is refused with its place. The order
 * matters: weld, drop facets that bound nothing, join cracks, take touching solids apart, fill small
 * holes.
 */
import { Fault, type Finding, type Place } from '../../base/fault.js';
import { pointAt } from '../../base/vector.js';
import { meshFrom } from '../build.js';
import { type BadEdges, badEdges } from './edge-faults.js';
import { fillHoles } from './fill-holes.js';
import type { Mesh } from '../mesh.js';
import { pairCrowded } from './pair.js';
import { dropRepeated } from './repeated.js';
import { diagonal } from '../shells.js';
import { type Facets, weldExact, weldNear } from './weld.js';

/** Greatest coordinate, mm: 1 km. Beyond it squares and volumes lose the digits that matter. */
const FARTHEST_COORDINATE = 1e6;
/** Cracks are joined up to this share of the diagonal: 2 um on a part of 200 mm. */
const CRACK = 1e-5;

export interface HealedMesh {
  /** No twin is -1. A shell may still face inwards. */
  readonly mesh: Mesh;
  readonly findings: Finding[];
}

/**
 * @param allow false refuses everything that would need a change beyond welding equal vertices
 * @throws Fault `mesh/no-facets`, `mesh/too-far`, `mesh/open-edges`, `mesh/flipped-facet`,
 *   `mesh/crowded-edge`; with `allow` false also `mesh/repeated-facets`
 */
export function heal(facets: Facets, allow: boolean): HealedMesh {
  const findings: Finding[] = [];
  checkReach(facets.vertices);
  const welded = weldExact(facets);
  const kept = dropRepeated(welded.triangles);
  if (kept.at >= 0) findings.push(repeatedFinding(welded.vertices, kept, allow));
  let mesh = meshFrom(welded.vertices, kept.triangles);
  let bad = badEdges(mesh);
  if (allow && bad.open.length > 0) {
    const joined = joinCracks(mesh, bad);
    if (joined) {
      findings.push(joined.finding);
      mesh = joined.mesh;
      bad = badEdges(mesh);
    }
  }
  if (allow && bad.crowdedStart.length > 1) {
    const apart = pairCrowded(mesh, bad);
    if (apart.paired > 0) {
      findings.push(apartFinding(mesh, bad, apart.paired));
      mesh = apart.mesh;
      bad = badEdges(mesh);
    }
  }
  refuseBadEdges(mesh, bad, allow);
  if (bad.open.length > 0) {
    const filled = fillHoles(mesh);
    findings.push(...filled.findings);
    mesh = filled.mesh;
  }
  if (mesh.triangles.length === 0)
    throw new Fault('mesh/no-facets', 'the part has 0 facets; the least that bounds a solid is 4');
  return { mesh, findings };
}

/** @throws Fault `mesh/too-far`, for NaN too */
export function checkReach(vertices: Float64Array): void {
  const i = vertices.findIndex((x) => !(Math.abs(x) <= FARTHEST_COORDINATE));
  if (i < 0) return;
  throw new Fault(
    'mesh/too-far',
    `a coordinate of ${Number(vertices[i]!.toPrecision(4))} mm; the limit is ${FARTHEST_COORDINATE} mm from the origin`,
  );
}

function refuseBadEdges(mesh: Mesh, bad: BadEdges, allow: boolean): void {
  const placeOf = (h: number): Place => ({
    point: pointAt(mesh.vertices, mesh.triangles[h]!),
    frame: 'part',
  });
  if (bad.flipped.length > 0) {
    throw new Fault(
      'mesh/flipped-facet',
      `${bad.flipped.length} edges lie between facets that face opposite sides; 0 are allowed`,
      placeOf(bad.flipped[0]!),
    );
  }
  if (bad.crowdedStart.length > 1) {
    throw new Fault(
      'mesh/crowded-edge',
      `${bad.crowdedStart.length - 1} edges are shared by more than 2 facets` +
        (allow ? ' that do not pair up to solids' : ''),
      placeOf(bad.crowded[0]!),
    );
  }
  if (!allow && bad.open.length > 0) {
    throw new Fault(
      'mesh/open-edges',
      `${bad.open.length} open edges; 0 are allowed when healing is off`,
      placeOf(bad.open[0]!),
    );
  }
}

/** Joins vertices of open edges across cracks, if fewer edges are open afterwards. */
function joinCracks(mesh: Mesh, bad: BadEdges): { mesh: Mesh; finding: Finding } | undefined {
  const tolerance = CRACK * diagonal(mesh);
  if (!(tolerance > 0)) return undefined;
  const ends = new Set<number>();
  for (const h of bad.open) {
    ends.add(mesh.triangles[h]!);
    ends.add(mesh.triangles[h % 3 === 2 ? h - 2 : h + 1]!);
  }
  const near = weldNear(mesh, Uint32Array.from(ends), tolerance);
  const kept = dropRepeated(near.triangles);
  const joined = meshFrom(near.vertices, kept.triangles);
  const after = badEdges(joined);
  if (after.open.length >= bad.open.length) return undefined;
  return {
    mesh: joined,
    finding: {
      code: 'mesh/cracks-joined',
      severity: 'note',
      message: `${bad.open.length - after.open.length} open edges closed by joining vertices up to ${tolerance.toPrecision(2)} mm apart`,
      at: { point: pointAt(mesh.vertices, mesh.triangles[bad.open[0]!]!), frame: 'part' },
    },
  };
}

function repeatedFinding(
  vertices: Float64Array,
  kept: ReturnType<typeof dropRepeated>,
  allow: boolean,
): Finding {
  const message = [
    [kept.collapsed, 'facets with two equal corners'],
    [kept.copies, 'copies of a facet'],
    [kept.opposed, 'pairs of one facet in both directions'],
  ]
    .filter(([n]) => n !== 0)
    .map((words) => words.join(' '))
    .join(', ');
  const at: Place = { point: pointAt(vertices, kept.at), frame: 'part' };
  if (!allow)
    throw new Fault('mesh/repeated-facets', `${message}; 0 are allowed when healing is off`, at);
  return { code: 'mesh/repeated-facets', severity: 'note', message: `dropped: ${message}`, at };
}

function apartFinding(mesh: Mesh, bad: BadEdges, paired: number): Finding {
  return {
    code: 'mesh/touching-edges',
    severity: 'note',
    message: `${paired} edges shared by more than 2 facets were taken apart into surfaces that only touch there`,
    at: { point: pointAt(mesh.vertices, mesh.triangles[bad.crowded[0]!]!), frame: 'part' },
  };
}
