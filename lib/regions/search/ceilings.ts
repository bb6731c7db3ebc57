/**
 * Ceilings that are bridged, laid straight across between two supported ends. The layers of the
 * undivided part say what is bridged; the triangles of a mesh in the same pose that lie there are
 * tagged, and count as carried as long as what is left is built along the table normal. A cut may take
 * a support away, which is not seen here: what the layers of the finished plan leave is what counts.
 */
import type { Frame } from '../../base/frame.js';
import type { Mesh } from '../../base/mesh.js';
import type { Polygons } from '../../polygon/polygons.js';
import { type CarriedFacets, onTable } from '../../overhang/overhang.js';
import { uncut } from '../../mesh/cut/cut.js';
import type { TaggedMesh } from '../../mesh/cut/section.js';

/** What one layer bridges. Part frame. */
export interface Ceiling {
  /** The undersides that the layer lays lie between these heights, mm. */
  readonly from: number;
  readonly to: number;
  readonly area: Polygons;
  /** What lies within this of the area is carried by its surroundings, mm. */
  readonly reach: number;
}

/** What is bridged of the undivided part in one pose. */
export interface Ceilings {
  /** Part frame from the mesh as given. */
  readonly partFromGiven: Frame;
  readonly layers: readonly Ceiling[];
}

/** Tag of skin that is bridged. */
const BRIDGED = -2;
/** A triangle counts as bridged if all points of a grid of so many steps on it are. */
const TRIANGLE_STEPS = 4;

/** A whole part, its bridged triangles tagged. */
export function uncutUnder(mesh: Mesh, ceilings: readonly Ceiling[]): TaggedMesh {
  const whole = uncut(mesh);
  if (ceilings.length === 0) return whole;
  const boxes = ceilings.map(boxOf);
  const { vertices: v, triangles } = mesh;
  const carried = (x: number, y: number, z: number): boolean =>
    ceilings.some((ceiling, i) => {
      const { from, to, area, reach } = ceiling;
      const [x0, y0, x1, y1] = boxes[i]!;
      return z >= from && z <= to && x >= x0 && x <= x1 && y >= y0 && y <= y1
        ? within(area, x, y, reach)
        : false;
    });
  for (let t = 0; t < whole.cut.length; t++) {
    const [a, b, c] = [0, 1, 2].map((k) => 3 * triangles[3 * t + k]!) as [number, number, number];
    if (!facesDown(v, a, b, c)) continue;
    let all = true;
    for (let i = 0; all && i <= TRIANGLE_STEPS; i++) {
      for (let j = 0; all && i + j <= TRIANGLE_STEPS; j++) {
        const [p, q] = [i / TRIANGLE_STEPS, j / TRIANGLE_STEPS];
        const at = (k: number): number =>
          v[a + k]! + p * (v[b + k]! - v[a + k]!) + q * (v[c + k]! - v[a + k]!);
        all = carried(at(0), at(1), at(2));
      }
    }
    if (all) whole.cut[t] = BRIDGED;
  }
  return whole;
}

/** What carries a body that is built along the table normal: the table, and bridges. */
export function carriedUpright({ mesh, cut }: TaggedMesh, foot: number): CarriedFacets {
  const out = onTable(mesh, foot);
  for (let t = 0; t < out.length; t++) if (cut[t] === BRIDGED) out[t] = 1;
  return out;
}

function facesDown(v: Float64Array, a: number, b: number, c: number): boolean {
  const [ux, uy] = [v[b]! - v[a]!, v[b + 1]! - v[a + 1]!];
  const [wx, wy] = [v[c]! - v[a]!, v[c + 1]! - v[a + 1]!];
  return ux * wy - uy * wx < 0;
}

function boxOf({ area: { points }, reach }: Ceiling): [number, number, number, number] {
  let [x0, y0, x1, y1] = [Infinity, Infinity, -Infinity, -Infinity];
  for (let i = 0; i < points.length; i += 2) {
    x0 = Math.min(x0, points[i]!);
    x1 = Math.max(x1, points[i]!);
    y0 = Math.min(y0, points[i + 1]!);
    y1 = Math.max(y1, points[i + 1]!);
  }
  return [x0 - reach, y0 - reach, x1 + reach, y1 + reach];
}

/** Whether a point lies in the loops or within `reach` of them. */
function within({ points, start }: Polygons, x: number, y: number, reach: number): boolean {
  let inside = false;
  for (let loop = 0; loop + 1 < start.length; loop++) {
    const [from, to] = [start[loop]!, start[loop + 1]!];
    for (let i = from, j = to - 1; i < to; j = i++) {
      const [ax, ay, bx, by] = [
        points[2 * j]!,
        points[2 * j + 1]!,
        points[2 * i]!,
        points[2 * i + 1]!,
      ];
      const [dx, dy] = [bx - ax, by - ay];
      const size = dx * dx + dy * dy;
      const t = size > 0 ? ((x - ax) * dx + (y - ay) * dy) / size : 0;
      const s = Math.max(0, Math.min(1, t));
      if (Math.hypot(ax + s * dx - x, ay + s * dy - y) <= reach) return true;
      if (ay > y !== by > y && x < ax + ((y - ay) / dy) * dx) inside = !inside;
    }
  }
  return inside;
}
