/**
 * By how much the material of each run is off the part as a whole: the rigid shift t that best explains the
 * signed errors e over its surface, e = n . t by least squares over the area. A wrong centre of a rotary
 * axis shifts what is laid with that axis turned and nothing else.
 *
 * And by how much it is turned: e = n . t + w . (q x n) with q from the middle of the surface, the linear
 * point-to-plane fit of a rigid motion (Chen and Medioni, "Object modelling by registration of multiple
 * range images", 1992). A wrong angle of a rotary axis turns what is laid.
 */
import { Matrix, solve } from 'ml-matrix';
import { DEG, type Vec3, cross, length } from '../base/vector.js';
import type { LaidMaterial } from './grids.js';
import type { Surface } from './shape.js';
import { type Mat3, solve3 } from './solve.js';
import type { Trace } from './trace.js';

export interface RigidFit {
  readonly run: number;
  readonly areaMm2: number;
  readonly meanMm: number;
  /** Part frame, mm. */
  readonly shiftMm: Vec3;
  /** Axis times angle, part frame, deg. */
  readonly turnDeg: Vec3;
  /** How far that turns the outermost part of its surface from where it is to be, mm. */
  readonly swingMm: number;
}

/** Larger errors are holes and lumps, no shift, mm. */
const GROSS = 0.8;
/** Motions that the run's surface hardly shows count as none: share of its area. */
const STEADY = 0.02;
/** mm2 */
const LEAST_REACH = 1e-6;

/** What a run makes of the surface: of each sample its place, normal, error and area. */
interface RunSamples {
  readonly points: Vec3[];
  readonly normals: Vec3[];
  readonly errors: number[];
  readonly areas: number[];
}

export function fitsOf(trace: Trace, grid: LaidMaterial, surface: Surface): RigidFit[] {
  const { points, normals, area, error } = surface;
  const runs = new Map<number, RunSamples>();
  for (let i = 0; i < area.length; i++) {
    const e = error[i]!;
    if (Math.abs(e) > GROSS) continue;
    const p: Vec3 = [points[3 * i]!, points[3 * i + 1]!, points[3 * i + 2]!];
    const n: Vec3 = [normals[3 * i]!, normals[3 * i + 1]!, normals[3 * i + 2]!];
    const depth = grid.edge - e;
    const [x, y, z] = [0, 1, 2].map((c) => p[c]! - depth * n[c]!) as [number, number, number];
    const { first } = grid.blocksAt(x, y, z);
    if (first < 0) continue;
    const run = trace.run[first]!;
    let samples = runs.get(run);
    if (!samples) runs.set(run, (samples = { points: [], normals: [], errors: [], areas: [] }));
    samples.points.push(p);
    samples.normals.push(n);
    samples.errors.push(e);
    samples.areas.push(area[i]!);
  }
  return [...runs].sort(([a], [b]) => a - b).map(([run, s]) => fitOf(run, s));
}

function fitOf(run: number, samples: RunSamples): RigidFit {
  const { points, normals, errors, areas } = samples;
  const whole = areas.reduce((sum, a) => sum + a, 0);
  const mean = (of: (i: number) => number): number =>
    areas.reduce((sum, a, i) => sum + a * of(i), 0) / whole;
  const middle = [0, 1, 2].map((c) => mean((i) => points[i]![c]!));
  const arms = points.map((p) => p.map((v, c) => v - middle[c]!) as unknown as Vec3);
  /** Normal equations of the least squares, by the mean over the area. */
  const matrix = Matrix.zeros(6, 6);
  const right = new Float64Array(6);
  arms.forEach((q, i) => {
    const row = [...normals[i]!, ...cross(q, normals[i]!)];
    const weight = areas[i]! / whole;
    for (let r = 0; r < 6; r++) {
      for (let c = 0; c < 6; c++) matrix.set(r, c, matrix.get(r, c) + weight * row[r]! * row[c]!);
      right[r]! += weight * row[r]! * errors[i]!;
    }
  });
  // A run that one sample shows does not turn.
  const reach = Math.max(
    mean((i) => length(arms[i]!) ** 2),
    LEAST_REACH,
  );
  for (let r = 0; r < 6; r++) {
    matrix.set(r, r, matrix.get(r, r) + STEADY * (r < 3 ? 1 : reach));
  }
  const shift: Mat3 = [0, 1, 2].flatMap((r) => [0, 1, 2].map((c) => matrix.get(r, c)));
  const turn = solve(matrix, Matrix.columnVector([...right]))
    .to1DArray()
    .slice(3) as unknown as Vec3;
  return {
    run,
    areaMm2: whole,
    meanMm: mean((i) => errors[i]!),
    shiftMm: solve3(shift, [right[0]!, right[1]!, right[2]!]),
    turnDeg: turn.map((w) => w / DEG) as unknown as Vec3,
    swingMm: arms.reduce((most, q) => Math.max(most, length(cross(turn, q))), 0),
  };
}
