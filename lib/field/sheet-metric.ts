/**
 * True lengths at a place of layer space: where it lies in the part, how thick a layer of thickness 1 comes out
 * there, and how lengths in the sheet come out. The gradients of the map are constant in each tetrahedron and jump
 * between two; here they are the means at the nodes, blended, so that beads change their size evenly.
 *
 * With J the rows grad u and grad v less their share along the growth, a step q in layer space is J' p of a step p in
 * the sheet, so its length in the part is that of (J J')^(-1/2) q: a symmetric matrix of two by two.
 */
import { type Vec3, dot, unit } from '../base/vector.js';
import { type FieldMap, blend, tetrahedronOver } from './field-map.js';
import { gradientsOf, nodalMeans } from './linear-functions.js';

export interface SheetPlace {
  /** Part frame, mm. */
  readonly point: Vec3;
  /** Direction of growth, unit. */
  readonly direction: Vec3;
  /** Thickness in the part of a layer of thickness 1. */
  readonly thickness: number;
  /** Symmetric matrix xx, xy, yy: a step in layer space times this has its length in the part, mm. */
  readonly lengths: Vec3;
}

export class SheetMetric {
  readonly #map: FieldMap;
  readonly #u: Float64Array;
  readonly #v: Float64Array;
  readonly #share = new Float64Array(4);

  constructor(map: FieldMap) {
    const { lattice, layerNodes } = map;
    const component = (c: number): Float64Array =>
      nodalMeans(
        lattice,
        gradientsOf(
          lattice,
          Float64Array.from({ length: layerNodes.length / 3 }, (_, i) => layerNodes[3 * i + c]!),
        ),
      );
    this.#map = map;
    this.#u = component(0);
    this.#v = component(1);
  }

  /** At a point of layer space; undefined where the map does not reach. */
  at(pLayer: Vec3): SheetPlace | undefined {
    const { lattice, growth } = this.#map;
    const t = tetrahedronOver(this.#map, pLayer, this.#share);
    if (t < 0) return undefined;
    const [u, v, g] = [this.#u, this.#v, growth].map((of) =>
      blend(lattice, of, t, this.#share),
    ) as [Vec3, Vec3, Vec3];
    const long = Math.hypot(...g);
    const direction = unit(g);
    const [ud, vd] = [dot(u, direction), dot(v, direction)];
    return {
      point: blend(lattice, lattice.nodes, t, this.#share),
      direction,
      thickness: 1 / long,
      lengths: inverseRoot(dot(u, u) - ud * ud, dot(u, v) - ud * vd, dot(v, v) - vd * vd),
    };
  }
}

/** The inverse square root of a symmetric positive matrix of two by two, in closed form. */
function inverseRoot(xx: number, xy: number, yy: number): Vec3 {
  // The root is (M + s 1) / t with s the root of the determinant and t that of trace + 2 s (Levinger, Mathematics
  // Magazine 53(4), 1980, from memory).
  const s = Math.sqrt(xx * yy - xy * xy);
  const t = Math.sqrt(xx + yy + 2 * s);
  const [a, b, c] = [(xx + s) / t, xy / t, (yy + s) / t];
  const d = a * c - b * b;
  return [c / d, -b / d, a / d];
}

/** Length in the part of a step in layer space, mm. */
export const sheetLength = ([xx, xy, yy]: Vec3, x: number, y: number): number =>
  Math.hypot(xx * x + xy * y, xy * x + yy * y);

/** Area in the part of one mm2 of layer space. */
export const sheetArea = ([xx, xy, yy]: Vec3): number => xx * yy - xy * xy;
