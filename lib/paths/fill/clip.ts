/** Clips open lines to an area given by its edges. */
import { float64List } from '../../base/ragged.js';
import { type EdgeGrid, contains, hitsOf } from '../../polygon/edge-grid.js';

/** @param least shorter parts are left out, mm */
export function clipLine(g: EdgeGrid, xy: Float64Array, least: number): Float64Array[] {
  const out: Float64Array[] = [];
  let part = float64List();
  let length = 0;
  const end = (): void => {
    if (length >= least) out.push(part.take());
    if (part.length) part = float64List();
    length = 0;
  };
  const go = (ax: number, ay: number, bx: number, by: number): void => {
    if (part.length === 0) part.push2(ax, ay);
    part.push2(bx, by);
    length += Math.hypot(bx - ax, by - ay);
  };
  let inside = contains(g, xy[0]!, xy[1]!);
  for (let i = 2; i < xy.length; i += 2) {
    const [ax, ay, bx, by] = [xy[i - 2]!, xy[i - 1]!, xy[i]!, xy[i + 1]!];
    const hits = hitsOf(g, ax, ay, bx, by);
    if (hits.length === 0) {
      if (inside) go(ax, ay, bx, by);
      continue;
    }
    // Where edges are met each stretch is tested by itself: no miscount is carried on.
    let t = 0;
    for (let k = 0; k <= hits.length; k++) {
      const u = k < hits.length ? hits[k]!.t : 1;
      const [px, py] = [ax + t * (bx - ax), ay + t * (by - ay)];
      const [qx, qy] = [ax + u * (bx - ax), ay + u * (by - ay)];
      inside = contains(g, (px + qx) / 2, (py + qy) / 2);
      if (!inside) end();
      else if (u > t) go(px, py, qx, qy);
      t = u;
    }
  }
  end();
  return out;
}
