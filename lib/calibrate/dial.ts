/**
 * What a dial gauge or three touches show without a fit of the whole machine: heights around the table give
 * its first harmonic and so its tilt; three touches at one place give where the tilting axis lies.
 */
import { Matrix, SingularValueDecomposition, solve } from 'ml-matrix';
import { Fault } from '../base/fault.js';

export interface Harmonic {
  readonly mean: number;
  readonly cosine: number;
  readonly sine: number;
  /** Where the face is highest, rad from angle zero. */
  readonly direction: number;
  /** Half of the total reading, mm. */
  readonly amplitude: number;
  /** Root mean square of the residuals, mm: warp, dirt and noise. */
  readonly left: number;
}

/**
 * First harmonic of heights over angles by least squares; higher harmonics of evenly spread angles
 * do not change it.
 * @param angles rad @param heights mm
 * @throws Fault `calibrate/ring` if the angles do not determine the three numbers
 */
export function firstHarmonic(angles: readonly number[], heights: readonly number[]): Harmonic {
  const bad = angles.findIndex((a, i) => !Number.isFinite(a) || !Number.isFinite(heights[i]));
  if (bad >= 0) throw new Fault('calibrate/ring', `reading ${bad + 1} is no pair of numbers`);
  const rows = angles.map((a) => [1, Math.cos(a), Math.sin(a)]);
  const spread =
    rows.length < 3 ? 0 : new SingularValueDecomposition(new Matrix(rows)).diagonal[2]!;
  if (spread < 1e-3) {
    throw new Fault(
      'calibrate/ring',
      `${rows.length} readings at these angles do not determine mean, cosine and sine; take at least 3 that are spread around the turn`,
    );
  }
  const right = Matrix.columnVector([...heights]);
  const [mean, cosine, sine] = solve(new Matrix(rows), right, true).getColumn(0) as [
    number,
    number,
    number,
  ];
  const squares = rows.reduce(
    (sum, [, c, s], i) => sum + (heights[i]! - mean - cosine * c! - sine * s!) ** 2,
    0,
  );
  return {
    mean,
    cosine,
    sine,
    direction: Math.atan2(sine, cosine),
    amplitude: Math.hypot(cosine, sine),
    left: Math.sqrt(squares / rows.length),
  };
}

/** Tilt of a face against its turning axis, rad, from the amplitude at a radius. */
export const tiltOf = (amplitude: number, radius: number): number => Math.atan2(amplitude, radius);

export interface TiltAxis {
  /** How far the touched face lies over the axis, mm, and where across it the axis is, mm. */
  readonly height: number;
  readonly across: number;
  /** Standard deviation of `height` for one of 1 mm in every touch. */
  readonly noiseGain: number;
}

/**
 * The tilting axis from the heights at which one place is touched with the table flat and tilted by
 * +a and -a about X. With the axis at (y0, za) and the face h over it, the face stands at Y at
 * z = za + h / cos a + (Y - y0) tan a, and the rim of the tip's flat touches flat/2 tan a earlier:
 * left out, that alone would shift h by 1 mm for a flat of 0.8 mm at 45 deg.
 * @param place Y of the touches, mm @param angle a, rad @param tip diameter of its flat, mm
 * @throws Fault `calibrate/three` for an angle that is not between 0 and 90 deg
 */
export function tiltAxis(
  place: number,
  angle: number,
  tip: number,
  flat: number,
  plus: number,
  minus: number,
): TiltAxis {
  const all = [place, angle, tip, flat, plus, minus];
  if (!all.every(Number.isFinite) || !(angle > 0) || !(angle < Math.PI / 2)) {
    throw new Fault(
      'calibrate/three',
      `the tilt is ${((angle * 180) / Math.PI).toFixed(3)} deg, it must lie between 0 and 90 deg, and all readings must be numbers`,
    );
  }
  const rise = 1 / Math.cos(angle) - 1;
  const middle = (plus + minus) / 2 - (tip / 2) * Math.tan(angle);
  return {
    height: (middle - flat) / rise,
    across: place - (plus - minus) / (2 * Math.tan(angle)),
    noiseGain: Math.sqrt(1.5) / rise,
  };
}
