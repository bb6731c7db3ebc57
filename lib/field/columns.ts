/**
 * Which points of a regular grid lie inside a closed mesh: the facets are drawn on the grid's plan, and each
 * column keeps the heights at which it enters and leaves the solid (parity of crossings, the even-odd rule).
 * Both facets at an edge decide by the same product of the same two vertices on which side of it a column
 * lies, so no column falls between them or is counted twice. Cost: linear in the columns that facets cover.
 */
import type { Mesh } from '../base/mesh.js';
import { bounds } from '../mesh/measure.js';

/** SolidColumns stand off the grid by these shares of a step, so that none runs along an upright facet. */
const OFF_X = 0.0137;
const OFF_Y = 0.0071;

export class SolidColumns {
  readonly step: number;
  readonly #x0: number;
  readonly #y0: number;
  readonly #nx: number;
  readonly #ny: number;
  /** Ascending heights of each column. */
  readonly #heights: Float64Array[];

  /** @param step between columns, mm; column (i, j) stands at (i step, j step) but for the offset */
  constructor(mesh: Mesh, step: number) {
    const { vertices: v, triangles: t } = mesh;
    this.step = step;
    const { least, most } = bounds(mesh);
    this.#x0 = Math.floor(least[0] / step) - 1;
    this.#y0 = Math.floor(least[1] / step) - 1;
    this.#nx = Math.ceil(most[0] / step) + 2 - this.#x0;
    this.#ny = Math.ceil(most[1] / step) + 2 - this.#y0;
    const lists: number[][] = Array.from({ length: this.#nx * this.#ny }, () => []);
    for (let k = 0; k < t.length; k += 3) this.#draw(v, t[k]!, t[k + 1]!, t[k + 2]!, lists);
    this.#heights = lists.map((list) => Float64Array.from(list).sort());
  }

  /** True if the point, moved to the nearest column, lies inside. */
  inside(x: number, y: number, z: number): boolean {
    const i = Math.round(x / this.step) - this.#x0;
    const j = Math.round(y / this.step) - this.#y0;
    if (i < 0 || j < 0 || i >= this.#nx || j >= this.#ny) return false;
    const heights = this.#heights[i * this.#ny + j]!;
    let below = 0;
    while (below < heights.length && heights[below]! < z) below++;
    return below % 2 === 1;
  }

  #draw(v: Float64Array, a: number, b: number, c: number, lists: number[][]): void {
    const { step } = this;
    const [ax, ay, az] = [v[3 * a]!, v[3 * a + 1]!, v[3 * a + 2]!];
    const [bx, by, bz] = [v[3 * b]!, v[3 * b + 1]!, v[3 * b + 2]!];
    const [cx, cy, cz] = [v[3 * c]!, v[3 * c + 1]!, v[3 * c + 2]!];
    const area = (bx - ax) * (cy - ay) - (cx - ax) * (by - ay);
    if (area === 0) return;
    const i0 = Math.ceil(Math.min(ax, bx, cx) / step - OFF_X);
    const i1 = Math.floor(Math.max(ax, bx, cx) / step - OFF_X);
    const j0 = Math.ceil(Math.min(ay, by, cy) / step - OFF_Y);
    const j1 = Math.floor(Math.max(ay, by, cy) / step - OFF_Y);
    for (let i = i0; i <= i1; i++) {
      const x = (i + OFF_X) * step;
      for (let j = j0; j <= j1; j++) {
        const y = (j + OFF_Y) * step;
        const ab = leftOf(v, a, b, x, y);
        if (leftOf(v, b, c, x, y) !== ab || leftOf(v, c, a, x, y) !== ab) continue;
        const s = ((x - ax) * (cy - ay) - (cx - ax) * (y - ay)) / area;
        const u = ((bx - ax) * (y - ay) - (x - ax) * (by - ay)) / area;
        lists[(i - this.#x0) * this.#ny + j - this.#y0]!.push(az + s * (bz - az) + u * (cz - az));
      }
    }
  }
}

/** Side of the line from vertex p to vertex q on which (x, y) lies; the same product for both directions. */
function leftOf(v: Float64Array, p: number, q: number, x: number, y: number): boolean {
  const [lo, hi] = p < q ? [3 * p, 3 * q] : [3 * q, 3 * p];
  const side = (v[hi]! - v[lo]!) * (y - v[lo + 1]!) - (v[hi + 1]! - v[lo + 1]!) * (x - v[lo]!) >= 0;
  return side === p < q;
}
