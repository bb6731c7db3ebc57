/**
 * The gyroid's level set sin x cos y + sin y cos z + sin z cos x = 0 (A. H. Schoen, NASA TN D-5541,
 * 1970, found the surface; this is its usual trigonometric approximation), cut at a height.
 *
 * At a height z the cut is solved in closed form, no grid is searched. Where |cos z| >= |sin z|,
 * a cos y + b sin y = -c with a = sin x, b = cos z, c = sin z cos x gives
 * y = atan2(b, a) +- acos(-c / sqrt(a^2 + b^2)) for every x, because c^2 <= a^2 + b^2 there: two
 * unbroken waves along x in every period of y. Elsewhere x and y change roles likewise.
 */
/** One period of the two waves at a height, in radians: the way along the wave, and across it. */
export interface GyroidWaves {
  /** Whether the waves run along x; otherwise along y. */
  readonly alongX: boolean;
  /** Packed along, across; from along = 0 to 2 pi. */
  readonly lines: readonly [Float64Array, Float64Array];
}

/** @param steps points per period */
export function wavesAt(z: number, steps: number): GyroidWaves {
  const sz = Math.sin(z);
  const cz = Math.cos(z);
  const alongX = Math.abs(cz) >= Math.abs(sz);
  const lines = [1, -1].map((sign) => {
    const xy = new Float64Array(2 * steps + 2);
    for (let i = 0; i <= steps; i++) {
      const t = (2 * Math.PI * i) / steps;
      xy[2 * i] = t;
      xy[2 * i + 1] = alongX ? acrossX(t, sz, cz, sign) : acrossY(t, sz, cz, sign);
    }
    return xy;
  });
  return { alongX, lines: lines as [Float64Array, Float64Array] };
}

/** y at x = t. */
function acrossX(t: number, sz: number, cz: number, sign: number): number {
  const a = Math.sin(t);
  return Math.atan2(cz, a) + sign * arc((-sz * Math.cos(t)) / Math.hypot(a, cz));
}

/** x at y = t: sz cos x + cos y sin x = -sin y cz. The angle is taken so that it never jumps. */
function acrossY(t: number, sz: number, cz: number, sign: number): number {
  const b = Math.cos(t);
  const middle = sz > 0 ? Math.atan2(b, sz) : Math.PI + Math.atan2(-b, -sz);
  return middle + sign * arc((-cz * Math.sin(t)) / Math.hypot(b, sz));
}

const arc = (c: number): number => Math.acos(Math.min(1, Math.max(-1, c)));

/**
 * Length of the waves over a period square, in periods, on average over all heights: the integral of
 * the steepness of the surface over its area. A number of the level set alone, by quadrature.
 */
export const MEAN_WAVE_LENGTH = 2.45874;

/** Greatest distance of a wave's chords from it, mm. */
const CHORD = 0.02;

/**
 * Waves over a box, as long lines to be clipped.
 * @param height of the cut, mm
 * @param box x0, y0, x1, y1, mm
 * @param period of the level set, mm
 */
export function waveLines(
  height: number,
  [x0, y0, x1, y1]: readonly [number, number, number, number],
  period: number,
): Float64Array[] {
  // The tightest bend of the waves is about a tenth of a period in radius.
  const steps = Math.max(16, Math.ceil(period / Math.sqrt(0.8 * period * CHORD)));
  const waves = wavesAt((2 * Math.PI * height) / period, steps);
  const [a0, a1, b0, b1] = waves.alongX ? [x0, x1, y0, y1] : [y0, y1, x0, x1];
  const scale = period / (2 * Math.PI);
  const first = Math.floor(a0 / period);
  const count = Math.ceil(a1 / period) - first;
  const lines: Float64Array[] = [];
  for (const wave of waves.lines) {
    const [low, high] = reachOf(wave);
    const last = Math.floor(b1 / period - low);
    for (let m = Math.ceil(b0 / period - high); m <= last; m++) {
      lines.push(repeated(wave, waves.alongX, first, count, m, steps, scale, period));
    }
  }
  return lines;
}

/** Least and greatest value across, in periods. */
function reachOf(wave: Float64Array): [number, number] {
  let low = Infinity;
  let high = -Infinity;
  for (let i = 1; i < wave.length; i += 2) {
    low = Math.min(low, wave[i]!);
    high = Math.max(high, wave[i]!);
  }
  return [low / (2 * Math.PI), high / (2 * Math.PI)];
}

function repeated(
  wave: Float64Array,
  alongX: boolean,
  first: number,
  count: number,
  m: number,
  steps: number,
  scale: number,
  period: number,
): Float64Array {
  const xy = new Float64Array(2 * (count * steps + 1));
  for (let i = 0; i <= count * steps; i++) {
    const turn = Math.floor(i / steps);
    const j = i - turn * steps;
    const along = wave[2 * j]! * scale + (first + turn) * period;
    const across = wave[2 * j + 1]! * scale + m * period;
    xy[2 * i] = alongX ? along : across;
    xy[2 * i + 1] = alongX ? across : along;
  }
  return xy;
}
