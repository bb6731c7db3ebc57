/**
 * The outline of a closed mesh turned about the Z axis: its greatest radius over the height, as an
 * ascending list between whose entries the radius is linear. Along an edge the distance to the axis is
 * a convex function of the height, so between the heights of vertices the straight line through the
 * greatest radii at both ends lies over every section: the outline is never narrower than the mesh. It
 * is exact for faceted round shapes (the circle around them); an outline of more heights than SLABS is
 * joined where that widens it least.
 */
import { type Mesh, next } from '../base/mesh.js';

/** A circle of the head about its own axis: height over the nozzle tip and radius, mm. */
export interface HeadPoint {
  readonly above: number;
  readonly radius: number;
}

/** Pieces of an outline at most; every query visits all of them. */
const SLABS = 24;
/** At most so many heights are kept before slabs are joined. */
const MOST_HEIGHTS = 256;
/** Heights nearer than this are one, mm. */
const ONE_HEIGHT = 1e-6;

interface Slab {
  readonly low: number;
  readonly high: number;
  lowRadius: number;
  highRadius: number;
}

/** The outline, mm: heights rise, two entries at one height make a step. */
export function outlineOf(mesh: Mesh): HeadPoint[] {
  const slabs = slabsOf(heightsOf(mesh));
  for (let h = 0; h < mesh.triangles.length; h++) {
    if (mesh.twins[h]! > h) widen(slabs, mesh, mesh.triangles[h]!, mesh.triangles[next(h)]!);
  }
  while (slabs.length > 1 && join(slabs, slabs.length > SLABS ? Infinity : ONE_HEIGHT));
  return slabs.flatMap((s, i): HeadPoint[] => {
    const before = slabs[i - 1]?.highRadius;
    const foot = { above: s.low, radius: s.lowRadius };
    const top = { above: s.high, radius: s.highRadius };
    return before === s.lowRadius ? [top] : [foot, top];
  });
}

function heightsOf({ vertices }: Mesh): number[] {
  const sorted = vertices.filter((_, i) => i % 3 === 2).sort();
  const heights: number[] = [];
  for (const z of sorted) if (!(z - heights.at(-1)! < ONE_HEIGHT)) heights.push(z);
  if (heights.length <= MOST_HEIGHTS) return heights;
  const [low, high] = [sorted[0]!, sorted.at(-1)!];
  return Array.from(
    { length: MOST_HEIGHTS },
    (_, i) => low + ((high - low) * i) / (MOST_HEIGHTS - 1),
  );
}

const slabsOf = (heights: readonly number[]): Slab[] =>
  heights.slice(1).map((high, i) => ({ low: heights[i]!, high, lowRadius: 0, highRadius: 0 }));

/** Makes the slabs as wide as the edge between two vertices. */
function widen(slabs: Slab[], { vertices: v }: Mesh, p: number, q: number): void {
  const [a, b] = v[3 * p + 2]! <= v[3 * q + 2]! ? [3 * p, 3 * q] : [3 * q, 3 * p];
  const [bottom, top] = [v[a + 2]!, v[b + 2]!];
  // A level edge bounds a face that rises from it, and is counted there.
  if (top - bottom < ONE_HEIGHT) return;
  const radius = (z: number): number => {
    const t = (z - bottom) / (top - bottom);
    return Math.hypot(v[a]! + t * (v[b]! - v[a]!), v[a + 1]! + t * (v[b + 1]! - v[a + 1]!));
  };
  for (let k = slabAt(slabs, bottom); k < slabs.length; k++) {
    const s = slabs[k]!;
    if (s.low >= top - ONE_HEIGHT) return;
    const [from, to] = [Math.max(s.low, bottom), Math.min(s.high, top)];
    const [first, last] = [radius(from), radius(to)];
    // An edge that begins or ends inside a slab counts over all of it.
    const whole = from - s.low < ONE_HEIGHT && s.high - to < ONE_HEIGHT;
    s.lowRadius = Math.max(s.lowRadius, whole ? first : Math.max(first, last));
    s.highRadius = Math.max(s.highRadius, whole ? last : Math.max(first, last));
  }
}

/** The last slab that begins at or under a height. */
function slabAt(slabs: readonly Slab[], z: number): number {
  let [low, high] = [0, slabs.length - 1];
  while (low < high) {
    const middle = (low + high + 1) >> 1;
    if (slabs[middle]!.low <= z + ONE_HEIGHT) low = middle;
    else high = middle - 1;
  }
  return low;
}

/** Joins the two neighbours that cost least; false if none costs less than `most`, mm2. */
function join(slabs: Slab[], most: number): boolean {
  let best = -1;
  let least = most;
  for (let i = 0; i + 1 < slabs.length; i++) {
    const cost =
      areaOf(united(slabs[i]!, slabs[i + 1]!)) - areaOf(slabs[i]!) - areaOf(slabs[i + 1]!);
    if (cost < least) [best, least] = [i, cost];
  }
  if (best < 0) return false;
  slabs.splice(best, 2, united(slabs[best]!, slabs[best + 1]!));
  return true;
}

const areaOf = (s: Slab): number => ((s.lowRadius + s.highRadius) / 2) * (s.high - s.low);

/** The line between the outer ends, raised over what stands out in the middle. */
function united(a: Slab, b: Slab): Slab {
  const share = (b.low - a.low) / (b.high - a.low);
  const line = a.lowRadius + share * (b.highRadius - a.lowRadius);
  const raise = Math.max(0, a.highRadius - line, b.lowRadius - line);
  return {
    low: a.low,
    high: b.high,
    lowRadius: a.lowRadius + raise,
    highRadius: b.highRadius + raise,
  };
}
