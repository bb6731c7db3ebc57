/**
 * Where the head would meet one region while it prints another, whole or a span of layers: machine,
 * regions and paths come in once, and each question is answered from hierarchies that are made once.
 * Beads and paths are taken to within ROUGH, which is far less than any clearance.
 */
import { applyPoint, compose } from '../base/frame.js';
import type { Vec3 } from '../base/vector.js';
import { firstAtLeast } from '../base/sorted.js';
import { type Beads, beadsOf } from '../clearance/beads.js';
import type { Body } from '../clearance/body.js';
import { roundHead } from '../clearance/bodies.js';
import { Meeter } from '../clearance/meet.js';
import { Path } from '../clearance/path.js';
import { thinned } from '../clearance/thin.js';
import { type LayerMap, flatMap } from '../layers/map.js';
import type { Machine } from '../machine/machine.js';
import type { Paths } from '../paths/paths.js';
import type { Region } from '../regions/region.js';

/** mm */
const ROUGH = 0.02;
/** Gaps under this may be touches, for all that rough beads and ways tell, mm. */
export const TOUCH = 2 * ROUGH;

/** Region `by`, once it is there, stands in the head's way while region `hindered` is printed. */
export interface Hindrance {
  readonly hindered: number;
  readonly by: number;
  /** mm; at most the clearance. */
  readonly gap: number;
  /** Of the hindered region. */
  readonly layer: number;
  /** Where the head meets it, part frame, mm. */
  readonly point: Vec3;
}

export class Ways {
  readonly #head: Body;
  readonly #maps: readonly LayerMap[];
  readonly #pathsOf: readonly Paths[];
  readonly #meeter = new Meeter();
  readonly #beads: (Beads | undefined)[] = [];

  constructor(machine: Machine, regions: readonly Region[], pathsOf: readonly Paths[]) {
    this.#head = roundHead(machine);
    this.#maps = regions.map((r) => flatMap(r.direction));
    this.#pathsOf = pathsOf;
  }

  /**
   * @param within gaps from this on do not hinder, mm
   * @param layers from .. to (exclusive) of region i that are printed; left out: all
   * @param until layers of region j below this one are there; left out: all
   */
  hindrance(
    i: number,
    j: number,
    within: number,
    layers: readonly [number, number] = [0, Infinity],
    until = Infinity,
  ): Hindrance | undefined {
    const { path, of } = this.#path(i, layers);
    const beads = (this.#beads[j] ??= beadsOf(this.#pathsOf[j]!, ROUGH));
    const paths = firstAtLeast(this.#pathsOf[j]!.layer, until);
    const meeting = this.#meeter.least({
      body: this.#head,
      path,
      things: beads,
      frame: compose(this.#maps[i]!.layerFromPart, this.#maps[j]!.partFromLayer),
      until: firstAtLeast(beads.path, paths),
      within,
      coarse: 1,
    });
    if (!meeting) return undefined;
    return {
      hindered: i,
      by: j,
      gap: meeting.gap,
      layer: this.#pathsOf[i]!.layer[of[meeting.stretch]!]!,
      point: applyPoint(this.#maps[j]!.partFromLayer, meeting.at),
    };
  }

  /** Where the tip lays in a span of layers, and the path of each stretch. */
  #path(i: number, [from, to]: readonly [number, number]): { path: Path; of: number[] } {
    const { points, start, layer } = this.#pathsOf[i]!;
    const ends: number[] = [];
    const of: number[] = [];
    for (let k = firstAtLeast(layer, from); k < layer.length && layer[k]! < to; k++) {
      const kept = thinned(points, start[k]!, start[k + 1]!, ROUGH);
      for (let n = 1; n < kept.length; n++) {
        for (const p of [kept[n - 1]!, kept[n]!]) {
          ends.push(points[3 * p]!, points[3 * p + 1]!, points[3 * p + 2]!);
        }
        of.push(k);
      }
    }
    return { path: new Path(Float64Array.from(ends), undefined, 2), of };
  }
}
