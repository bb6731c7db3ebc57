/**
 * By how much the material of each run is off the part as a whole: the rigid shift t that explains the
 * signed errors e over its surface best, e = n . t by least squares over the area. A wrong centre of a
 * rotary axis shifts what is laid with that axis turned and nothing else.
 */
import { type Mat3, solve3 } from './solve.js';
import type { Vec3 } from '../base/vector.js';
import type { Grid } from './grid.js';
import type { Surface } from './shape.js';
import type { Trace } from './trace.js';

export interface Fit {
  readonly run: number;
  readonly areaMm2: number;
  readonly meanMm: number;
  /** Part frame, mm. */
  readonly shiftMm: Vec3;
}

/** Larger errors are holes and lumps, no shift, mm. */
const GROSS = 0.8;
/** Directions that the run's surface hardly faces count as not shifted: share of its area. */
const STEADY = 0.02;

interface Sums {
  readonly matrix: Float64Array;
  readonly right: Float64Array;
  area: number;
  error: number;
}

export function fitsOf(trace: Trace, grid: Grid, surface: Surface): Fit[] {
  const { points, normals, area, error } = surface;
  const sums = new Map<number, Sums>();
  for (let i = 0; i < area.length; i++) {
    const e = error[i]!;
    if (Math.abs(e) > GROSS) continue;
    const n: Vec3 = [normals[3 * i]!, normals[3 * i + 1]!, normals[3 * i + 2]!];
    const depth = grid.edge - e;
    const { first } = grid.blocksAt(
      points[3 * i]! - depth * n[0],
      points[3 * i + 1]! - depth * n[1],
      points[3 * i + 2]! - depth * n[2],
    );
    if (first < 0) continue;
    add(sums, trace.run[first]!, n, e, area[i]!);
  }
  return [...sums].sort(([a], [b]) => a - b).map(([run, s]) => fitOf(run, s));
}

function add(sums: Map<number, Sums>, run: number, n: Vec3, e: number, area: number): void {
  let s = sums.get(run);
  if (!s) {
    s = { matrix: new Float64Array(9), right: new Float64Array(3), area: 0, error: 0 };
    sums.set(run, s);
  }
  for (let r = 0; r < 3; r++) {
    for (let c = 0; c < 3; c++) s.matrix[3 * r + c]! += area * n[r]! * n[c]!;
    s.right[r]! += area * n[r]! * e;
  }
  s.area += area;
  s.error += area * e;
}

function fitOf(run: number, { matrix, right, area, error }: Sums): Fit {
  const steady = matrix.map((v, i) => (i % 4 === 0 ? v + STEADY * area : v)) as unknown as Mat3;
  const [x, y, z] = right;
  return {
    run,
    areaMm2: area,
    meanMm: error / area,
    shiftMm: solve3(steady, [x!, y!, z!]),
  };
}
