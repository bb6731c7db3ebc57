/**
 * A dense mesh as few small boxes, for bounds of how far it reaches. Boxes that together contain the
 * surface are found by a grid; a box answers how far it reaches in a direction with three products, and
 * every bound errs to the safe side by less than the size of a box.
 */
import type { Frame } from '../base/frame.js';
import type { Mesh } from '../base/mesh.js';
import type { Vec3 } from '../base/vector.js';

/** Edge of the grid that groups the surface, mm. */
const BOX_CELL = 2;

/** Boxes, packed least x y z, greatest x y z, mm, part frame. */
export type Boxes = Float64Array;

/**
 * Boxes that together hold the surface of a mesh: triangles are divided until they are no larger
 * than a cell, and each piece widens the box of the cell that holds its middle.
 */
export function boxesOf(mesh: Mesh): Boxes {
  const cells = new SurfaceCells();
  const { vertices: v, triangles: t } = mesh;
  for (let i = 0; i < t.length; i += 3) {
    const [a, b, c] = [3 * t[i]!, 3 * t[i + 1]!, 3 * t[i + 2]!];
    cells.addTriangle(
      [v[a]!, v[a + 1]!, v[a + 2]!],
      [v[b]!, v[b + 1]!, v[b + 2]!],
      [v[c]!, v[c + 1]!, v[c + 2]!],
    );
  }
  return cells.take();
}

class SurfaceCells {
  readonly #cells = new Map<number, number[]>();

  addTriangle(a: Vec3, b: Vec3, c: Vec3): void {
    const [ab, bc, ca] = [apart(a, b), apart(b, c), apart(c, a)];
    const longest = Math.max(ab, bc, ca);
    if (longest <= BOX_CELL) {
      this.#widen(a, b, c);
    } else if (longest === ab) {
      const m = middle(a, b);
      this.addTriangle(a, m, c);
      this.addTriangle(m, b, c);
    } else if (longest === bc) {
      const m = middle(b, c);
      this.addTriangle(a, b, m);
      this.addTriangle(a, m, c);
    } else {
      const m = middle(c, a);
      this.addTriangle(a, b, m);
      this.addTriangle(m, b, c);
    }
  }

  #widen(...points: readonly [Vec3, Vec3, Vec3]): void {
    const [x, y, z] = [0, 1, 2].map((k) =>
      Math.floor((points[0][k]! + points[1][k]! + points[2][k]!) / 3 / BOX_CELL),
    ) as [number, number, number];
    // 17 bits an axis, enough for 130 m either way, in a number that stays exact.
    const key = ((x + 65536) * 131072 + y + 65536) * 131072 + z + 65536;
    let box = this.#cells.get(key);
    if (!box) this.#cells.set(key, (box = [...points[0], ...points[0]]));
    for (const p of points) {
      for (let k = 0; k < 3; k++) {
        if (p[k]! < box[k]!) box[k] = p[k]!;
        if (p[k]! > box[k + 3]!) box[k + 3] = p[k]!;
      }
    }
  }

  take(): Boxes {
    const out = new Float64Array(this.#cells.size * 6);
    let at = 0;
    for (const box of this.#cells.values()) {
      out.set(box, at);
      at += 6;
    }
    return out;
  }
}

const apart = (a: Vec3, b: Vec3): number =>
  Math.sqrt((a[0] - b[0]) ** 2 + (a[1] - b[1]) ** 2 + (a[2] - b[2]) ** 2);
const middle = (a: Vec3, b: Vec3): Vec3 => [
  (a[0] + b[0]) / 2,
  (a[1] + b[1]) / 2,
  (a[2] + b[2]) / 2,
];

type Extent = readonly [least: number, most: number];

/** Extent along the three axes of another frame of the box at `boxes[at ..]`, mm. */
export function turnedBox(f: Frame, boxes: Boxes, at: number): readonly [Extent, Extent, Extent] {
  const span = (row: number): Extent => {
    let least = f[12 + row]!;
    let most = least;
    for (let c = 0; c < 3; c++) {
      const a = f[4 * c + row]! * boxes[at + c]!;
      const b = f[4 * c + row]! * boxes[at + 3 + c]!;
      least += Math.min(a, b);
      most += Math.max(a, b);
    }
    return [least, most];
  };
  return [span(0), span(1), span(2)];
}
