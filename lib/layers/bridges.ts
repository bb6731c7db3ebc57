/**
 * How much of a hanging piece of a layer can be bridged by beads laid straight across from one
 * supported end to the other.
 *
 * A chord of the piece is a bridge if both its ends lie on edges behind which the layer goes on over
 * supported material, at least `ANCHOR` deep, and if it is no longer than the span. For one direction
 * all chords together are found exactly: between two neighbouring corners (measured square to the
 * direction) the piece is a set of trapezoids, each with one edge at either end. The direction that
 * bridges most is taken, and among equals the one with the shortest longest chord. Candidates are the
 * directions of the free edges, which beads can follow, the directions square to the anchored ones, and
 * `FAN` evenly spaced ones. Rejected: scan lines as in the fill, since they need a pitch and are wrong
 * by up to one at both sides of each piece.
 */
import type { Polygons } from '../polygon/polygons.js';
import type { PolygonKernel } from '../kernel/polygon.js';
import { ChainIndex } from '../polygon/chains.js';

export interface Bridging {
  /** What is bridged, layer space. */
  readonly area: Polygons;
  /** Direction of the beads in the layer plane, rad from +X, 0 .. pi. */
  readonly angle: number;
  /** Longest chord, mm. */
  readonly span: number;
}

/** A bridge's ends go on over supported material by at least this, about a bead's width, mm. */
export const ANCHOR = 0.5;
/** Edges are judged in stretches of at most this, mm. */
const STRETCH = 0.5;
/** How far beyond an edge the layer is probed, mm. */
const BEHIND = 0.05;
/** Directions of the even fan. */
const FAN = 24;
/** Directions nearer than this are one, rad. */
const SAME_DIRECTION = 0.005;
/** Areas that differ by less than this share are the same. */
const SAME_AREA = 1e-3;

/**
 * @param piece a connected area that hangs, cut from `section`
 * @param section the layer
 * @param hanging all that hangs of it
 * @param most longest span, mm
 */
export function bridgeOver(
  piece: Polygons,
  section: Polygons,
  hanging: Polygons,
  most: number,
  kernel: PolygonKernel,
): Bridging | undefined {
  const carried = kernel.combine(section, hanging, 'difference');
  const core = carried.points.length ? kernel.offset(carried, -ANCHOR / 2, MITRED) : carried;
  if (core.points.length === 0) return undefined;
  const edges = edgesOf(piece, kernel.offset(core, ANCHOR / 2, MITRED));
  if (!edges.anchored.includes(1)) return undefined;
  let best: { angle: number; cells: Trapezoids } | undefined;
  for (const angle of anglesOf(edges)) {
    const cells = cellsAlong(edges, angle, most);
    if (cells.mm2 === 0) continue;
    const more = cells.mm2 - (best?.cells.mm2 ?? 0);
    const alike = Math.abs(more) <= SAME_AREA * cells.mm2;
    if (!best || (alike ? cells.span < best.cells.span - 1e-9 : more > 0)) best = { angle, cells };
  }
  if (!best) return undefined;
  return { area: laidBack(best, kernel), angle: best.angle, span: best.cells.span };
}

const MITRED = { corners: 'miter' } as const;

/** Edges of a piece as stretches: ends packed x, y, x, y; material lies to the left. */
interface AnchoredEdges {
  readonly ends: Float64Array;
  /** 1 where the layer goes on over supported material. */
  readonly anchored: Uint8Array;
}

function edgesOf(piece: Polygons, anchors: Polygons): AnchoredEdges {
  const ends: number[] = [];
  const anchored: number[] = [];
  const index = new ChainIndex(anchors);
  for (let loop = 0; loop + 1 < piece.start.length; loop++) {
    const [from, to] = [piece.start[loop]!, piece.start[loop + 1]!];
    for (let i = from; i < to; i++) {
      const j = i + 1 < to ? i + 1 : from;
      const [ax, ay] = [piece.points[2 * i]!, piece.points[2 * i + 1]!];
      const [dx, dy] = [piece.points[2 * j]! - ax, piece.points[2 * j + 1]! - ay];
      const length = Math.hypot(dx, dy);
      if (length === 0) continue;
      const count = Math.ceil(length / STRETCH);
      for (let k = 0; k < count; k++) {
        const t = (k + 0.5) / count;
        ends.push(...[k / count, (k + 1) / count].flatMap((s) => [ax + s * dx, ay + s * dy]));
        const x = ax + t * dx + (BEHIND * dy) / length;
        const y = ay + t * dy - (BEHIND * dx) / length;
        anchored.push(holds(index, x, y) ? 1 : 0);
      }
    }
  }
  return { ends: Float64Array.from(ends), anchored: Uint8Array.from(anchored) };
}

/** Whether material lies at a point: the nearest edge to its left then runs down. */
const holds = (index: ChainIndex, x: number, y: number): boolean =>
  index.leftOf(x, y, -1)?.up === false;

/** Directions worth trying, longest edges first. */
function anglesOf({ ends, anchored }: AnchoredEdges): number[] {
  const byAngle = new Map<number, number>();
  for (let e = 0; e < anchored.length; e++) {
    const [dx, dy] = [ends[4 * e + 2]! - ends[4 * e]!, ends[4 * e + 3]! - ends[4 * e + 1]!];
    const along = Math.atan2(dy, dx) + (anchored[e] ? Math.PI / 2 : 0);
    const step = Math.round(halfTurn(along) / SAME_DIRECTION);
    byAngle.set(step, (byAngle.get(step) ?? 0) + Math.hypot(dx, dy));
  }
  const straight = [...byAngle.entries()].sort(([a, m], [b, n]) => n - m || a - b);
  return [
    ...straight.slice(0, FAN).map(([step]) => step * SAME_DIRECTION),
    ...Array.from({ length: FAN }, (_, i) => (i * Math.PI) / FAN),
  ];
}

const halfTurn = (angle: number): number => ((angle % Math.PI) + Math.PI) % Math.PI;

interface Trapezoids {
  /** Four corners per trapezoid, packed u, v. */
  readonly corners: number[];
  readonly mm2: number;
  readonly span: number;
}

/** The trapezoids between two anchored edges, where they are no wider than the span. */
function cellsAlong({ ends, anchored }: AnchoredEdges, angle: number, most: number): Trapezoids {
  const [cos, sin] = [Math.cos(angle), Math.sin(angle)];
  const count = anchored.length;
  const uv = new Float64Array(4 * count);
  for (let i = 0; i < uv.length; i += 2) {
    uv[i] = ends[i]! * cos + ends[i + 1]! * sin;
    uv[i + 1] = ends[i + 1]! * cos - ends[i]! * sin;
  }
  const low = (e: number): number => Math.min(uv[4 * e + 1]!, uv[4 * e + 3]!);
  const high = (e: number): number => Math.max(uv[4 * e + 1]!, uv[4 * e + 3]!);
  const at = (e: number, v: number): number => {
    const [u0, v0, u1, v1] = [uv[4 * e]!, uv[4 * e + 1]!, uv[4 * e + 2]!, uv[4 * e + 3]!];
    return u0 + ((v - v0) / (v1 - v0)) * (u1 - u0);
  };
  const levels = Float64Array.from({ length: 2 * count }, (_, i) => uv[2 * i + 1]!).sort();
  const order = Array.from({ length: count }, (_, e) => e).sort((a, b) => low(a) - low(b) || a - b);
  const corners: number[] = [];
  let mm2 = 0;
  let span = 0;
  let active: number[] = [];
  let next = 0;
  for (let i = 0; i + 1 < levels.length; i++) {
    const [v0, v1] = [levels[i]!, levels[i + 1]!];
    if (v1 - v0 < SAME_LEVEL) continue;
    active = active.filter((e) => high(e) > v0 + SAME_LEVEL / 2);
    for (; next < count && low(order[next]!) < v0 + SAME_LEVEL / 2; next++) {
      if (high(order[next]!) > v0 + SAME_LEVEL / 2) active.push(order[next]!);
    }
    const middle = (v0 + v1) / 2;
    active.sort((a, b) => at(a, middle) - at(b, middle) || a - b);
    for (let k = 0; k + 1 < active.length; k += 2) {
      const [a, b] = [active[k]!, active[k + 1]!];
      if (!anchored[a] || !anchored[b]) continue;
      const within = notWider(at(b, v0) - at(a, v0), at(b, v1) - at(a, v1), most);
      if (!within) continue;
      const [w0, w1] = within.map((t) => v0 + t * (v1 - v0)) as [number, number];
      const [wide0, wide1] = [at(b, w0) - at(a, w0), at(b, w1) - at(a, w1)];
      corners.push(at(a, w0), w0, at(b, w0), w0, at(b, w1), w1, at(a, w1), w1);
      mm2 += ((wide0 + wide1) / 2) * (w1 - w0);
      span = Math.max(span, wide0, wide1);
    }
  }
  return { corners, mm2, span };
}

/** Levels nearer than this are one, mm. */
const SAME_LEVEL = 1e-6;

/** The part of 0 .. 1 in which a width that is linear from a to b is at most `most`. */
function notWider(a: number, b: number, most: number): [number, number] | undefined {
  if (a <= most && b <= most) return [0, 1];
  if (a > most && b > most) return undefined;
  const t = (most - a) / (b - a);
  return a <= most ? [0, t] : [t, 1];
}

/** The cells joined, in the layer's own axes. */
function laidBack(
  { angle, cells: { corners } }: { angle: number; cells: Trapezoids },
  kernel: PolygonKernel,
): Polygons {
  const [cos, sin] = [Math.cos(angle), Math.sin(angle)];
  const points = new Float64Array(corners.length);
  for (let i = 0; i < points.length; i += 2) {
    points[i] = corners[i]! * cos - corners[i + 1]! * sin;
    points[i + 1] = corners[i]! * sin + corners[i + 1]! * cos;
  }
  const start = Uint32Array.from({ length: points.length / 8 + 1 }, (_, i) => 4 * i);
  return kernel.union({ points, start }, 'nonZero');
}
