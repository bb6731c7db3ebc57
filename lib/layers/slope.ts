/**
 * Adaptive layer thickness: what the slope of a region's skin allows at each height, in cells of equal
 * height.
 *
 * Rule: the step between two layers, measured square to a surface of normal n, is t |n.d| (the cusp
 * height of Dolenc and Makela, Computer-Aided Design 26(2), 1994, 119-126; from memory). So a height
 * allows t = cusp / |n.d|, clamped between least and most. Flat faces have no height and take no part.
 *
 * |n.d| of a height is not the greatest of all facets there but the value that a stated share of the
 * surface may exceed (`exempt`, weighted by area): with the greatest, one crumb of a scanned surface
 * decides a whole layer, and a bunny of 70 k triangles is printed at the least thickness throughout.
 *
 * Every facet is spread over its heights by two entries into the difference sums of its slope class, so
 * the cost is facets plus cells times classes, however tall the facets are.
 */

/** Cell i spans `from + i step .. from + (i + 1) step`. */
export interface AllowedThickness {
  readonly from: number;
  readonly step: number;
  /** Per cell, mm: none below least or above most, neighbours within the change rule. */
  readonly thickness: Float64Array;
}

export interface SlopeRule {
  /** mm, square to the surface. */
  readonly cusp: number;
  readonly least: number;
  readonly most: number;
  readonly exempt: number;
  readonly change: number;
}

const CLASSES = 64;
/** A facet that spans less height is a flat face, turned and rounded, mm. */
const FLAT_HEIGHT = 1e-6;

/** The same thickness at every height. */
export function evenly(from: number, to: number, thickness: number): AllowedThickness {
  return { from, step: to - from, thickness: Float64Array.of(thickness) };
}

/**
 * @param vertices layer space, packed xyz
 * @param skin for each triangle, true if it is surface of the part (cuts have no stairs to show)
 */
export function allowedBySlope(
  vertices: Float64Array,
  triangles: Uint32Array,
  skin: (triangle: number) => boolean,
  from: number,
  to: number,
  rule: SlopeRule,
): AllowedThickness {
  const cells = Math.max(1, Math.ceil((to - from) / (rule.least / 2)));
  const step = (to - from) / cells;
  const share = areaByHeight(vertices, triangles, skin, from, step, cells);
  const thickness = new Float64Array(cells);
  for (let i = 0; i < cells; i++) {
    const slope = slopeExceededBy(rule.exempt, share, i);
    const wish = slope > 0 ? rule.cusp / slope : rule.most;
    thickness[i] = Math.min(rule.most, Math.max(rule.least, wish));
  }
  soften(thickness, step * Math.log(1 + rule.change));
  return { from, step, thickness };
}

/** Surface per unit height of each slope class in each cell, cells major. */
function areaByHeight(
  v: Float64Array,
  triangles: Uint32Array,
  skin: (triangle: number) => boolean,
  from: number,
  step: number,
  cells: number,
): Float64Array {
  const out = new Float64Array(cells * CLASSES);
  const change = new Float64Array((cells + 2) * CLASSES);
  const enter = (height: number, amount: number, slope: number): void => {
    const at = Math.min(cells, Math.max(0, (height - from) / step));
    const cell = Math.floor(at);
    // The cell in which a facet begins is covered in part; the next one gets the rest of the amount.
    change[cell * CLASSES + slope]! += amount * (cell + 1 - at);
    change[(cell + 1) * CLASSES + slope]! += amount * (at - cell);
  };
  /** A facet less high than a cell, which difference sums would round away: straight into its cells. */
  const fill = (low: number, high: number, area: number, slope: number): void => {
    const first = Math.min(cells - 1, Math.max(0, Math.floor((low - from) / step)));
    const border = from + (first + 1) * step;
    const below = Math.max(0, Math.min(1, (border - low) / (high - low)));
    out[first * CLASSES + slope]! += (area * below) / step;
    const next = Math.min(cells - 1, first + 1);
    out[next * CLASSES + slope]! += (area * (1 - below)) / step;
  };
  for (let h = 0; h < triangles.length; h += 3) {
    if (!skin(h / 3)) continue;
    const a = 3 * triangles[h]!;
    const b = 3 * triangles[h + 1]!;
    const c = 3 * triangles[h + 2]!;
    const low = Math.min(v[a + 2]!, v[b + 2]!, v[c + 2]!);
    const high = Math.max(v[a + 2]!, v[b + 2]!, v[c + 2]!);
    if (high - low < FLAT_HEIGHT) continue;
    const [ux, uy, uz] = [v[b]! - v[a]!, v[b + 1]! - v[a + 1]!, v[b + 2]! - v[a + 2]!];
    const [wx, wy, wz] = [v[c]! - v[a]!, v[c + 1]! - v[a + 1]!, v[c + 2]! - v[a + 2]!];
    const nz = ux * wy - uy * wx;
    const twice = Math.hypot(uy * wz - uz * wy, uz * wx - ux * wz, nz);
    if (!(twice > 0)) continue;
    const slope = Math.min(CLASSES - 1, Math.floor((Math.abs(nz) / twice) * CLASSES));
    if (high - low < step) {
      fill(low, high, twice / 2, slope);
      continue;
    }
    const amount = twice / 2 / (high - low);
    enter(low, amount, slope);
    enter(high, -amount, slope);
  }
  for (let i = CLASSES; i < change.length; i++) change[i]! += change[i - CLASSES]!;
  // Where a class has ended the sums leave rounding, which is no surface.
  const nothing = 1e-12 * change.reduce((most, amount) => Math.max(most, amount), 0);
  for (let i = 0; i < out.length; i++) if (change[i]! > nothing) out[i]! += change[i]!;
  return out;
}

/** The upper end of the slope class above which the exempted share of a cell's surface lies. */
function slopeExceededBy(exempt: number, share: Float64Array, cell: number): number {
  const row = share.subarray(cell * CLASSES, (cell + 1) * CLASSES);
  let total = 0;
  for (const amount of row) total += Math.max(0, amount);
  // Difference sums leave rounding where a class is empty.
  const crumbs = 1e-9 * total;
  let left = exempt * total;
  for (let slope = CLASSES - 1; slope >= 0; slope--) {
    left -= row[slope]!;
    if (left < -crumbs) return (slope + 1) / CLASSES;
  }
  return 0;
}

/**
 * Thins cells until none is thicker than a neighbour by more than `rise`. Layers that grow as
 * dt/dz = ln(1 + change) each differ from the next by the factor 1 + change.
 */
function soften(thickness: Float64Array, rise: number): void {
  for (let i = 1; i < thickness.length; i++)
    thickness[i] = Math.min(thickness[i]!, thickness[i - 1]! + rise);
  for (let i = thickness.length - 2; i >= 0; i--)
    thickness[i] = Math.min(thickness[i]!, thickness[i + 1]! + rise);
}
