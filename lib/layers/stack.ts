/**
 * Divides the height of a region into layers within the thickness allowed at each height. Always:
 * thicknesses are positive and add up to the height, so the deposited height is that of the region to
 * rounding; no layer is thicker than 0.75 of the nozzle by more than 0.1%.
 *
 * No remainder is left at the top: layers above the first share the height. With a(z) the allowed
 * thickness and I the integral of dz / a(z) there are N = ceil(I) of them, and layer k ends where the
 * integral is k I / N. Constant thickness t thus becomes H / ceil(H / t), at most t and within t / N of
 * it; adapted thickness is scaled by the same factor everywhere. (A thin last layer instead would put
 * the worst layer on the face that is seen, and one thinner than the nozzle can lay when the remainder
 * is small.) A height that is over a whole number of layers by under 0.1% of one layer is shared by
 * that number, so a height of 10.0000001 mm does not cost a layer.
 */
import { Fault } from '../base/fault.js';
import { LEAST_SHARE, MOST_SHARE } from './rules.js';
import type { AllowedThickness } from './slope.js';

export interface LayerStack {
  /** Bottom of the first layer, layer-space mm. */
  readonly bottom: number;
  readonly top: Float64Array;
  readonly thickness: Float64Array;
}

const HEIGHT_SLACK = 1e-3;

/**
 * @param first wanted thickness of the first layer, mm
 * @throws Fault `layers/too-thin` if the whole height is under 0.1 of the nozzle diameter
 */
export function stackUp(
  bottom: number,
  end: number,
  first: number,
  allowed: AllowedThickness,
  nozzleDiameter: number,
): LayerStack {
  const height = end - bottom;
  const thin = LEAST_SHARE * nozzleDiameter;
  const most = MOST_SHARE * nozzleDiameter;
  if (!(height >= thin * (1 - HEIGHT_SLACK))) {
    throw new Fault(
      'layers/too-thin',
      `a region is ${height.toPrecision(4)} mm high along its build direction; the limit is ${thin.toPrecision(4)} mm (${LEAST_SHARE} of the ${nozzleDiameter} mm nozzle)`,
    );
  }
  if (height <= first * (1 + HEIGHT_SLACK)) return tops(bottom, end, []);
  if (height - first < thin * (1 - HEIGHT_SLACK)) {
    return tops(bottom, end, height / 2 < thin ? [] : [bottom + height / 2]);
  }
  return tops(bottom, end, [bottom + first, ...shared(bottom + first, end, allowed, thin, most)]);
}

/** Ends of the layers that share from .. to, without the last. */
function shared(
  from: number,
  to: number,
  allowed: AllowedThickness,
  thin: number,
  most: number,
): number[] {
  const scale = new LayerScale(allowed);
  const low = scale.at(from);
  const whole = scale.at(to) - low;
  const split = (count: number): number[] =>
    Array.from({ length: count - 1 }, (_, k) => scale.height(low + (whole * (k + 1)) / count));
  const count = Math.max(1, Math.ceil(whole - HEIGHT_SLACK));
  const ends = split(count);
  if (count === 1 || Math.min(...gaps(from, ends, to)) >= thin * (1 - HEIGHT_SLACK)) return ends;
  const fewer = split(count - 1);
  return Math.max(...gaps(from, fewer, to)) <= most ? fewer : ends;
}

const gaps = (from: number, ends: readonly number[], to: number): number[] =>
  [...ends, to].map((end, i) => end - (i > 0 ? ends[i - 1]! : from));

/** Heights measured in layers: the integral of dz / a(z). The end cells go on beyond both ends. */
class LayerScale {
  readonly #allowed: AllowedThickness;
  readonly #before: Float64Array;

  constructor(allowed: AllowedThickness) {
    this.#allowed = allowed;
    const { step, thickness } = allowed;
    this.#before = new Float64Array(thickness.length + 1);
    thickness.forEach((t, i) => (this.#before[i + 1] = this.#before[i]! + step / t));
  }

  at(z: number): number {
    const { from, step, thickness } = this.#allowed;
    const cell = Math.min(thickness.length - 1, Math.max(0, Math.floor((z - from) / step)));
    return this.#before[cell]! + (z - from - cell * step) / thickness[cell]!;
  }

  height(layers: number): number {
    const { from, step, thickness } = this.#allowed;
    let cell = 0;
    let end = thickness.length;
    while (end - cell > 1) {
      const middle = (cell + end) >> 1;
      if (this.#before[middle]! <= layers) cell = middle;
      else end = middle;
    }
    return from + cell * step + (layers - this.#before[cell]!) * thickness[cell]!;
  }
}

function tops(bottom: number, end: number, between: number[]): LayerStack {
  const top = Float64Array.from([...between, end]);
  const thickness = top.map((z, k) => z - (k > 0 ? top[k - 1]! : bottom));
  return { bottom, top, thickness };
}
