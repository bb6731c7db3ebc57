/** Places in cells as wide as how far one looks for them, so that only those nearby are visited. */
import { cellKey } from '../base/cell-key.js';
import type { Vec3 } from '../base/vector.js';

export class NearPlaces<T> {
  readonly #reach: number;
  readonly #cells = new Map<number, [Vec3, T][]>();

  /** @param reach how far places are looked for, mm */
  constructor(reach: number) {
    this.#reach = reach;
  }

  add(point: Vec3, value: T): void {
    const key = cellKey(...this.#cellOf(point));
    const list = this.#cells.get(key);
    if (list) list.push([point, value]);
    else this.#cells.set(key, [[point, value]]);
  }

  /** Each place within reach of a point, with how near it is: 1 at the point itself, 0 at the reach. */
  each(p: Vec3, visit: (value: T, near: number) => void): void {
    if (this.#cells.size === 0) return;
    const [i, j, k] = this.#cellOf(p);
    for (let n = 0; n < 27; n++) {
      const key = cellKey(
        i + (n % 3) - 1,
        j + (Math.floor(n / 3) % 3) - 1,
        k + Math.floor(n / 9) - 1,
      );
      for (const [q, value] of this.#cells.get(key) ?? NO_PLACES) {
        const near = 1 - Math.hypot(p[0] - q[0], p[1] - q[1], p[2] - q[2]) / this.#reach;
        if (near > 0) visit(value, near);
      }
    }
  }

  #cellOf([x, y, z]: Vec3): Vec3 {
    return [Math.floor(x / this.#reach), Math.floor(y / this.#reach), Math.floor(z / this.#reach)];
  }
}

const NO_PLACES: readonly never[] = [];
