/**
 * The centre of a circle from points on it, such as the positions of one mark on the table at several
 * turns. The three fits in use give three answers on the same points, so the answer says which one ran.
 *
 * - geometric: least sum of squared distances to the circle; right for equal noise on all points.
 * - linear: x^2 + y^2 + D x + E y + F = 0 solved for D, E, F (Kasa 1976, Coope 1993); no search, but a
 *   short arc comes out too small.
 * - algebraic: a (x^2 + y^2) + b x + c y + d = 0 with (a, b, c, d) of unit length (Gander, Golub and
 *   Strebel, Least-squares fitting of circles and ellipses, BIT 34, 1994); depends on the unit.
 */
import { levenbergMarquardt } from 'ml-levenberg-marquardt';
import { Matrix, SingularValueDecomposition, solve } from 'ml-matrix';
import { Fault } from '../base/fault.js';
import type { Vec2 } from '../base/vector.js';

export const CIRCLE_FITS = ['geometric', 'linear', 'algebraic'] as const;
export type CircleFit = (typeof CIRCLE_FITS)[number];

export interface FittedCircle {
  readonly fit: CircleFit;
  readonly centre: Vec2;
  readonly radius: number;
  /** Sum of squared distances of the points to the circle, mm2. */
  readonly squares: number;
  /** Smallest arc that holds all points, rad; the centre is uncertain where it is short. */
  readonly arc: number;
}

/** Points that lie within this share of their spread of a line do not determine a circle. */
const STRAIGHT_SHARE = 1e-6;

/** @throws Fault `calibrate/circle` for fewer than three points, points on a line, no numbers */
export function circleThrough(points: readonly Vec2[], fit: CircleFit = 'geometric'): FittedCircle {
  checkPoints(points);
  const [x, y, r] =
    fit === 'linear' ? linear(points) : fit === 'algebraic' ? algebraic(points) : geometric(points);
  const squares = points.reduce((sum, p) => sum + (Math.hypot(p[0] - x, p[1] - y) - r) ** 2, 0);
  return { fit, centre: [x, y], radius: r, squares, arc: arcOf(points, [x, y]) };
}

function checkPoints(points: readonly Vec2[]): void {
  const bad = points.findIndex((p) => !p.every(Number.isFinite));
  if (bad >= 0) throw new Fault('calibrate/circle', `point ${bad + 1} is no pair of numbers`);
  if (points.length < 3) {
    throw new Fault('calibrate/circle', `${points.length} points, a circle needs at least 3`);
  }
  const [mx, my] = mean(points);
  const spread = new Matrix(points.map((p) => [p[0] - mx, p[1] - my]));
  const [long, across] = new SingularValueDecomposition(spread).diagonal as [number, number];
  if (!(across > STRAIGHT_SHARE * long)) {
    throw new Fault(
      'calibrate/circle',
      `the ${points.length} points lie on one line (within ${across.toPrecision(2)} mm of ${long.toPrecision(3)} mm) or in one place`,
    );
  }
}

const mean = (points: readonly Vec2[]): Vec2 => [
  points.reduce((s, p) => s + p[0], 0) / points.length,
  points.reduce((s, p) => s + p[1], 0) / points.length,
];

type Answer = [x: number, y: number, radius: number];

function linear(points: readonly Vec2[]): Answer {
  const [mx, my] = mean(points);
  const rows = points.map(([x, y]) => [x - mx, y - my, 1]);
  const right = points.map(([x, y]) => [-((x - mx) ** 2 + (y - my) ** 2)]);
  const [d, e, f] = solve(new Matrix(rows), new Matrix(right), true).getColumn(0) as Answer;
  return [mx - d / 2, my - e / 2, Math.sqrt((d * d + e * e) / 4 - f)];
}

function algebraic(points: readonly Vec2[]): Answer {
  const rows = points.map(([x, y]) => [x * x + y * y, x, y, 1]);
  const svd = new SingularValueDecomposition(new Matrix(rows), { autoTranspose: true });
  // With three points the matrix is wide; its null vector is the solution.
  const full = rows.length < 4 ? nullVector(rows) : svd.rightSingularVectors.getColumn(3);
  const [a, b, c, d] = full as [number, number, number, number];
  const [x, y] = [-b / (2 * a), -c / (2 * a)];
  return [x, y, Math.sqrt(x * x + y * y - d / a)];
}

function nullVector(rows: readonly number[][]): number[] {
  const square = new Matrix([...rows, [0, 0, 0, 0]] as number[][]);
  return new SingularValueDecomposition(square).rightSingularVectors.getColumn(3);
}

function geometric(points: readonly Vec2[]): Answer {
  const start = linear(points);
  const size = start[2];
  const { parameterValues } = levenbergMarquardt(
    { x: points.map((_, i) => i), y: points.map(() => 0) },
    ([x, y, r]) =>
      (i) =>
        (Math.hypot(points[i]![0] - x!, points[i]![1] - y!) - r!) / size,
    {
      initialValues: start,
      damping: 1e-4,
      maxIterations: 60,
      errorTolerance: 1e-15,
      jacobianFunction:
        ([x, y]) =>
        (i) => {
          const [dx, dy] = [points[i]![0] - x!, points[i]![1] - y!];
          const away = Math.hypot(dx, dy);
          return [-dx / away / size, -dy / away / size, -1 / size];
        },
    },
  );
  // The search keeps a step only if the sum of squares is seen to fall, which is blind to the last
  // eight digits; one more step of Gauss and Newton finds them.
  const [x, y, r] = parameterValues as Answer;
  const rows = points.map(([px, py]) => {
    const away = Math.hypot(px - x, py - y);
    return [(px - x) / away, (py - y) / away, 1, away - r];
  });
  const all = new Matrix(rows);
  const sides = all.subMatrix(0, rows.length - 1, 0, 2);
  const step = solve(sides, all.getColumnVector(3), true).getColumn(0) as Answer;
  return [x + step[0], y + step[1], r + step[2]];
}

/** A full turn minus the widest gap between neighbours. */
function arcOf(points: readonly Vec2[], [x, y]: Vec2): number {
  const angles = points.map((p) => Math.atan2(p[1] - y, p[0] - x)).sort((a, b) => a - b);
  const gaps = angles.map((a, i) => (angles[i + 1] ?? angles[0]! + 2 * Math.PI) - a);
  return 2 * Math.PI - Math.max(...gaps);
}
