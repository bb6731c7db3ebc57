/**
 * Distances from the head to places of the part, exact or as lower bounds, for one pose of the head at a
 * time. Bounds come from a table over height and radius of the round outline; asking its segments each time
 * took four times as long.
 */
import type { Frame } from '../base/frame.js';
import type { Vec3 } from '../base/vector.js';
import type { Machine } from '../machine/machine.js';
import {
  boxesDistance,
  headDistance,
  meshDistance,
  outlineDistance,
} from '../machine/solid-distance.js';

/** Cells of the table, mm, and how far beyond the outline it goes. */
const TABLE_STEP = 0.1;
const TABLE_MARGIN = 6;

export class Gauge {
  /** Head from part. */
  frame: Frame = new Float64Array(16);
  /** Height over the tip of the place queried last, mm. */
  height = 0;
  readonly #machine: Machine;
  readonly #low: number;
  readonly #rows: number;
  readonly #columns: number;
  /** Of each cell the distance of its middle less half its diagonal, mm. */
  readonly #bound: Float32Array;
  readonly #q: [number, number, number] = [0, 0, 0];

  constructor(machine: Machine) {
    this.#machine = machine;
    const points = machine.stack;
    this.#low = -TABLE_MARGIN;
    this.#rows = Math.ceil(
      (Math.max(0, ...points.map((p) => p.above)) + 2 * TABLE_MARGIN) / TABLE_STEP,
    );
    this.#columns = Math.ceil(
      (Math.max(0, ...points.map((p) => p.radius)) + TABLE_MARGIN) / TABLE_STEP,
    );
    this.#bound = new Float32Array(this.#rows * this.#columns);
    for (let i = 0; i < this.#rows; i++) {
      for (let k = 0; k < this.#columns; k++) {
        const p: Vec3 = [(k + 0.5) * TABLE_STEP, 0, this.#low + (i + 0.5) * TABLE_STEP];
        const d = outlineDistance(points, p);
        this.#bound[i * this.#columns + k] = d - TABLE_STEP * Math.SQRT1_2 * (1 + 1e-6);
      }
    }
  }

  /** Distance of a place of the part frame, mm; 0 in the head. */
  exact(x: number, y: number, z: number): number {
    this.#turn(x, y, z);
    return headDistance(this.#machine, this.#q);
  }

  /** At most that distance; negative in and about the head. */
  bound(x: number, y: number, z: number): number {
    this.#turn(x, y, z);
    const q = this.#q;
    const i = Math.floor((q[2] - this.#low) / TABLE_STEP);
    const k = Math.floor(Math.sqrt(q[0] * q[0] + q[1] * q[1]) / TABLE_STEP);
    if (i < 0 || i >= this.#rows || k >= this.#columns) return headDistance(this.#machine, q);
    const round = this.#bound[i * this.#columns + k]!;
    // Neither boxes nor meshes need be round, so they are measured as they are.
    let least = Math.min(round, boxesDistance(this.#machine.headBoxes, q));
    for (const { tree } of this.#machine.headMeshes) {
      least = Math.min(least, meshDistance(tree, q, Math.max(0, least)));
    }
    return least;
  }

  #turn(x: number, y: number, z: number): void {
    const [f, q] = [this.frame, this.#q];
    q[0] = f[0]! * x + f[4]! * y + f[8]! * z + f[12]!;
    q[1] = f[1]! * x + f[5]! * y + f[9]! * z + f[13]!;
    q[2] = f[2]! * x + f[6]! * y + f[10]! * z + f[14]!;
    this.height = q[2];
  }
}
