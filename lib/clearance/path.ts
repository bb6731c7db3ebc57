/**
 * The places that a body goes to without turning: displacements in its own axes, as a chain of straight
 * stretches under a hierarchy. A single place is a chain of one stretch of no length.
 */
import { Tree } from './tree.js';

export class Path {
  /** Packed xyz of the ends: stretch i leads from point i to point i + 1. */
  readonly points: Float64Array;
  readonly tree: Tree;
  readonly boxes: Float64Array;

  constructor(points: Float64Array) {
    this.points = points;
    const count = points.length / 3 - 1;
    this.boxes = new Float64Array(6 * count);
    for (let i = 0; i < count; i++) {
      for (let c = 0; c < 3; c++) {
        const [a, b] = [points[3 * i + c]!, points[3 * i + 3 + c]!];
        this.boxes[6 * i + c] = (a + b) / 2;
        this.boxes[6 * i + 3 + c] = Math.abs(a - b) / 2;
      }
    }
    this.tree = new Tree(this.boxes);
  }
}

/** The body stays where it is. */
export const still = (): Path => new Path(new Float64Array(6));
