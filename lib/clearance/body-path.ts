/**
 * The positions to which a body translates without turning: displacements in its own axes, as a chain of
 * straight stretches under a hierarchy of boxes. A single position is a chain of one stretch of length
 * zero.
 */
import { simplifiedChain } from './convex/simplify-chain.js';
import { PrefixTree } from './convex/prefix-tree.js';

export class Path {
  /** Packed xyz of the ends: stretch i leads from point `step` i to the one after it. */
  readonly points: Float64Array;
  /** Index of the original stretch with which each stretch begins, where stretches were joined. */
  readonly #origin: readonly number[] | undefined;
  readonly tree: PrefixTree;
  readonly boxes: Float64Array;

  /** Points from the start of one stretch to that of the next: 1 for a chain, 2 for separate ones. */
  readonly step: 1 | 2;

  constructor(points: Float64Array, origin?: readonly number[], step: 1 | 2 = 1) {
    this.points = points;
    this.#origin = origin;
    this.step = step;
    const count = step === 1 ? points.length / 3 - 1 : points.length / 6;
    this.boxes = new Float64Array(6 * count);
    for (let i = 0; i < count; i++) {
      for (let c = 0; c < 3; c++) {
        const at = 3 * step * i + c;
        const [a, b] = [points[at]!, points[at + 3]!];
        this.boxes[6 * i + c] = (a + b) / 2;
        this.boxes[6 * i + 3 + c] = Math.abs(a - b) / 2;
      }
    }
    this.tree = new PrefixTree(this.boxes);
  }

  /** Index of the stretch before any were joined. */
  origin(stretch: number): number {
    return this.#origin ? this.#origin[stretch]! : stretch;
  }

  /** Only some of the stretches, by their indices. */
  only(stretches: Uint32Array): Path {
    const out = new Float64Array(6 * stretches.length);
    stretches.forEach((s, i) => {
      const at = 3 * this.step * s;
      out.set(this.points.subarray(at, at + 6), 6 * i);
    });
    return new Path(out, Array.from(stretches), 2);
  }

  /** Stretches that are straight to within the tolerance joined, mm. */
  joined(tolerance: number): Path {
    const { points } = this;
    const kept = simplifiedChain(points, 0, points.length / 3, tolerance);
    const out = new Float64Array(3 * kept.length);
    kept.forEach((k, i) => out.set(points.subarray(3 * k, 3 * k + 3), 3 * i));
    return new Path(out, kept);
  }
}

/** The body stays where it is. */
export const still = (): Path => new Path(new Float64Array(6));
