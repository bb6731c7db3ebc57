/**
 * A move is one cut of a plan, written so that it can be made again on another mesh of the same part:
 * the plane, the direction, and which of the pieces above are taken, by the middles of their caps.
 */
import type { Plane } from '../../base/mesh.js';
import { type Vec3, scale } from '../../base/vector.js';
import { massOf } from '../../mesh/measure.js';
import { shellsOf, splitShells } from '../../mesh/shells.js';
import { type Cap, capsOf } from '../../mesh/cut/caps.js';
import { type Halves, cutAlong } from '../../mesh/cut/cut.js';
import { type PiecesAbove, piecesAbove } from '../../mesh/cut/pieces-above.js';
import { type MeshSection, type TaggedMesh, sectionOf } from '../../mesh/cut/section.js';

export interface CutMove {
  readonly direction: Vec3;
  /** Unit; the plane is the points x with x.normal = offset, mm. */
  readonly normal: Vec3;
  readonly offset: number;
  /** Middles of the caps of the pieces that are taken off, mm. */
  readonly taken: readonly Vec3[];
  /** Middles of the caps of the pieces that are left. */
  readonly left: readonly Vec3[];
  /** The user asked for this cut: its plane and direction stay as they are. */
  readonly asked?: boolean;
}

export const planeOf = ({ normal, offset }: Pick<CutMove, 'normal' | 'offset'>): Plane => ({
  point: scale(normal, offset),
  normal,
});

/** A section with its caps and the pieces above it. */
export interface CutSite {
  readonly section: MeshSection;
  readonly caps: readonly Cap[];
  readonly parts: PiecesAbove;
}

export function siteOf(solid: TaggedMesh, plane: Plane): CutSite | undefined {
  const section = sectionOf(solid.mesh, plane);
  if (!section) return undefined;
  const caps = capsOf(section);
  return { section, caps, parts: piecesAbove(solid, section, caps) };
}

/** Takes the chosen pieces off. @param chosen a flag per piece */
export function takeOff(solid: TaggedMesh, site: CutSite, chosen: Uint8Array, id: number): Halves {
  const { of } = site.parts;
  const taken = Uint8Array.from(of, (n) => (n >= 0 ? chosen[n]! : 0));
  return cutAlong(solid, site.section, site.caps, id, taken);
}

/** Middles of the caps, of pieces taken and left. */
export function middles(
  { caps, parts }: CutSite,
  chosen: Uint8Array,
): Pick<CutMove, 'taken' | 'left'> {
  const of = (flag: number): Vec3[] =>
    caps.filter((_, i) => chosen[parts.ofCap[i]!] === flag).map((cap) => cap.middle);
  return { taken: of(1), left: of(0) };
}

/**
 * Makes a move on a mesh; a cap is taken if its middle is nearest to one that was, a piece if most of
 * its cap area is. @returns undefined if nothing is taken there
 */
export function redo(solid: TaggedMesh, move: CutMove, id: number): Halves | undefined {
  const site = siteOf(solid, planeOf(move));
  if (!site) return undefined;
  const { caps, parts } = site;
  const votes = new Float64Array(parts.count);
  caps.forEach((cap, i) => {
    const wanted = nearest(cap.middle, move.taken) <= nearest(cap.middle, move.left);
    votes[parts.ofCap[i]!]! += wanted ? cap.area : -cap.area;
  });
  const chosen = Uint8Array.from(votes, (x) => (x > 0 ? 1 : 0));
  if (!chosen.includes(1)) return undefined;
  const halves = takeOff(solid, site, chosen, id);
  return halves.rest.cut.length > 0 && halves.piece.cut.length > 0 ? halves : undefined;
}

const nearest = (p: Vec3, to: readonly Vec3[]): number =>
  to.reduce(
    (least, q) => Math.min(least, (p[0] - q[0]) ** 2 + (p[1] - q[1]) ** 2 + (p[2] - q[2]) ** 2),
    Infinity,
  );

/** True if every connected body of a mesh comes down to within `foot` of the table; hollows are no bodies. */
export function standsOnTable({ mesh }: TaggedMesh, foot: number): boolean {
  const shells = shellsOf(mesh);
  const lowest = new Float64Array(shells.count).fill(Infinity);
  const { triangles, vertices } = mesh;
  for (let h = 0; h < triangles.length; h++) {
    const s = shells.of[(h - (h % 3)) / 3]!;
    const z = vertices[3 * triangles[h]! + 2]!;
    if (z < lowest[s]!) lowest[s] = z;
  }
  if (lowest.every((z) => z <= foot)) return true;
  return splitShells(mesh, shells).every(
    (shell, s) => lowest[s]! <= foot || massOf(shell).volume <= 0,
  );
}
