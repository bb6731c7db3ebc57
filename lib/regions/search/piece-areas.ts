/**
 * What each piece above a section would gain: exact areas of its facets, clipped by the plane. No mesh
 * is made for this.
 */
import { next } from '../../base/mesh.js';
import type { Vec3 } from '../../base/vector.js';
import { endsOf, hangingEdges } from '../../overhang/hanging-edges.js';
import { lowestPlaces } from '../../overhang/minima.js';
import { leans } from '../../overhang/overhang.js';
import { type RemainingBody, EDGE_COST } from './remaining-body.js';
import type { Cap } from '../../mesh/cut/caps.js';
import type { PiecesAbove } from '../../mesh/cut/pieces-above.js';
import type { MeshSection } from '../../mesh/cut/section.js';

export interface PieceAreas {
  /** What hangs along the table normal now and lies in the piece, mm2. */
  relieved: number;
  /** What hangs in the piece along its direction, edges with their cost, mm2. */
  burden: number;
  /** Skin, mm2. */
  area: number;
  /** Area of its caps, mm2. */
  contact: number;
  /** Lowest point over the table, mm. */
  lowest: number;
  /** Begins in the air somewhere. */
  island: boolean;
}

export function pieceAreas(
  body: RemainingBody,
  section: MeshSection,
  parts: PiecesAbove,
  caps: readonly Cap[],
  d: Vec3,
  theta: number,
): PieceAreas[] {
  const shares = Array.from({ length: parts.count }, (): PieceAreas => ({
    relieved: 0,
    burden: 0,
    area: 0,
    contact: 0,
    lowest: Infinity,
    island: false,
  }));
  addFacets(body, section, parts, shares, d, Math.sin(theta));
  caps.forEach((cap, i) => (shares[parts.ofCap[i]!]!.contact += cap.area));
  const { above, height } = section;
  for (const e of hangingEdges(body, body.edges, d, theta)) {
    const [a, b] = endsOf(body.mesh, body.edges, e);
    if (!above[a] && !above[b]) {
      const seed = height[a]! > -THREAD && height[b]! > -THREAD ? onTop(body, parts, [a, b]) : -1;
      if (seed >= 0) shares[seed]!.burden += EDGE_COST * body.edges.length[e]!;
      continue;
    }
    const [up, down] = above[a] ? [a, b] : [b, a];
    const whole = above[a] && above[b];
    const share = whole ? 1 : height[up]! / (height[up]! - height[down]!);
    shares[parts.of[up]!]!.burden += EDGE_COST * share * body.edges.length[e]!;
  }
  for (const [v] of lowestPlaces(body, d) as [number][]) {
    if (above[v] && height[v]! > 0) shares[parts.of[v]!]!.island = true;
  }
  return shares;
}

/** What is left under the plane is no base where it is thinner than this, mm. */
export const THREAD = 0.2;

/** The piece that stands on an edge or a facet just below the plane; -1 if none does. */
function onTop(
  { start, neighbours }: RemainingBody,
  { of }: PiecesAbove,
  ends: readonly number[],
): number {
  for (const v of ends) {
    for (let i = start[v]!; i < start[v + 1]!; i++) {
      const piece = of[neighbours[i]!]!;
      if (piece >= 0) return piece;
    }
  }
  return -1;
}

function addFacets(
  body: RemainingBody,
  { above, height }: MeshSection,
  parts: PiecesAbove,
  shares: readonly PieceAreas[],
  d: Vec3,
  sine: number,
): void {
  const { triangles, vertices } = body.mesh;
  for (let t = 0, h = 0; t < body.areas.length; t++, h += 3) {
    const [a, b, c] = [triangles[h]!, triangles[h + 1]!, triangles[h + 2]!];
    const k = above[a]! + above[b]! + above[c]!;
    // A ceiling that the plane grazes counts as the piece's, on whichever side it lies.
    const skimmed = k < 3 && height[a]! > -THREAD && height[b]! > -THREAD && height[c]! > -THREAD;
    if (k === 0) {
      const piece = skimmed && leans(body, t, d, sine) ? onTop(body, parts, [a, b, c]) : -1;
      if (piece >= 0) shares[piece]!.burden += body.areas[t]!;
      continue;
    }
    const share = shares[parts.of[above[a] ? a : above[b] ? b : c]!]!;
    const area = k === 3 ? body.areas[t]! : body.areas[t]! * shareAbove(height, above, a, b, c);
    share.area += area;
    if (body.upright.facets[t]) share.relieved += area;
    if (leans(body, t, d, sine)) share.burden += skimmed ? body.areas[t]! : area;
    for (let i = h; i < h + 3; i++) {
      const v = triangles[i]!;
      const w = triangles[next(i)]!;
      const z = vertices[3 * v + 2]!;
      if (above[v] && z < share.lowest) share.lowest = z;
      if (above[v] === above[w]) continue;
      const q = height[v]! / (height[v]! - height[w]!);
      const at = z + q * (vertices[3 * w + 2]! - z);
      if (at < share.lowest) share.lowest = at;
    }
  }
}

/** Share of a crossed triangle that lies above. */
function shareAbove(
  height: Float64Array,
  above: Uint8Array,
  a: number,
  b: number,
  c: number,
): number {
  const lone = above[a]! + above[b]! + above[c]! === 1 ? 1 : 0;
  const [tip, p, q] = above[a] === lone ? [a, b, c] : above[b] === lone ? [b, c, a] : [c, a, b];
  const h = height[tip]!;
  const part = (h / (h - height[p]!)) * (h / (h - height[q]!));
  return lone ? part : 1 - part;
}
