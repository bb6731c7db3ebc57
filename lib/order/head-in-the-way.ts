/**
 * Where the head would touch or come too near to one region while it prints another, whole or a span of
 * layers. Hierarchies over beads and paths are built once and serve every query. Beads and paths are
 * simplified to within ROUGH_BEADS, which is far less than any clearance.
 */
import { applyDirection, applyPoint, compose } from '../base/frame.js';
import type { Vec3 } from '../base/vector.js';
import { firstAtLeast } from '../base/sorted.js';
import { type BeadShapes, ROUGH_BEADS, beadsOf } from '../clearance/bead-shapes.js';
import type { RigidBody } from '../clearance/body.js';
import { roundHead } from '../clearance/machine-bodies.js';
import { DistanceSearch } from '../clearance/nearest-on-path.js';
import { Path } from '../clearance/body-path.js';
import { simplifiedChain } from '../clearance/convex/simplify-chain.js';
import { type FlatMap, flatMap } from '../layers/layer-map.js';
import { type HeadMargin, marginsBeside, marginsUnder } from '../machine/head.js';
import type { Machine } from '../machine/machine.js';
import type { Paths } from '../paths/paths.js';
import type { Region } from '../regions/region.js';

/** Distances below this may be touches, as far as simplified beads and paths can show, mm. */
const ROUGH_TOUCH = 2 * ROUGH_BEADS;

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

/** Layers of the one region that are printed while the other stands up to a layer; left out: all. */
export interface Stage {
  /** From .. to (exclusive). */
  readonly layers?: readonly [number, number];
  /** Layers below this one are there. */
  readonly until?: number;
}

/** Which part of the head keeps which distance, mm. */
interface Keeping {
  readonly head: RigidBody;
  readonly need: number;
}

export class HindranceSearch {
  readonly #beside: readonly Keeping[];
  readonly #under: readonly Keeping[];
  readonly #regions: readonly Region[];
  readonly #maps: readonly FlatMap[];
  readonly #pathsOf: readonly Paths[];
  readonly #search = new DistanceSearch();
  readonly #beads: (BeadShapes | undefined)[] = [];
  readonly #parted = new Map<string, ReturnType<BeadShapes['parted']>>();

  constructor(machine: Machine, regions: readonly Region[], pathsOf: readonly Paths[]) {
    const keeping = ({ from, need }: HeadMargin): Keeping => ({
      head: roundHead(machine, from),
      need,
    });
    this.#beside = marginsBeside(machine).map(keeping);
    this.#under = marginsUnder(machine).map(keeping);
    this.#regions = regions;
    this.#maps = regions.map((r) => flatMap(r.direction));
    this.#pathsOf = pathsOf;
  }

  /** Where the head comes nearer to region j than it may while region i is printed; undefined if nowhere. */
  hindrance(i: number, j: number, stage: Stage = {}): Hindrance | undefined {
    const { under, beside } = this.#partedBy(i, j);
    return (
      this.#met(i, j, beside, this.#beside, stage) ?? this.#met(i, j, under, this.#under, stage)
    );
  }

  /** The same where it touches. */
  touch(i: number, j: number): Hindrance | undefined {
    const touching = this.#beside.map(({ head }) => ({ head, need: ROUGH_TOUCH }));
    return this.#met(i, j, this.#beadsOf(j), touching, {});
  }

  #beadsOf(j: number): BeadShapes {
    return (this.#beads[j] ??= beadsOf(this.#pathsOf[j]!, ROUGH_BEADS));
  }

  /** The beads of region j by the base plane of region i. */
  #partedBy(i: number, j: number): ReturnType<BeadShapes['parted']> {
    const key = `${i} ${j}`;
    let parted = this.#parted.get(key);
    if (!parted) {
      const { point, normal } = this.#regions[i]!.base;
      const { layerFromPart } = this.#maps[j]!;
      parted = this.#beadsOf(j).parted({
        point: applyPoint(layerFromPart, point),
        normal: applyDirection(layerFromPart, normal),
      });
      this.#parted.set(key, parted);
    }
    return parted;
  }

  #met(
    i: number,
    j: number,
    beads: BeadShapes,
    keepings: readonly Keeping[],
    { layers = [0, Infinity], until = Infinity }: Stage,
  ): Hindrance | undefined {
    const there = firstAtLeast(beads.path, firstAtLeast(this.#pathsOf[j]!.layer, until));
    if (there === 0) return undefined;
    const { path, of } = this.#path(i, layers);
    for (const { head, need } of keepings) {
      const meeting = this.#search.least({
        body: head,
        path,
        things: beads,
        frame: compose(this.#maps[i]!.layerFromPart, this.#maps[j]!.partFromLayer),
        until: there,
        within: need,
        accuracy: 1,
      });
      if (!meeting) continue;
      return {
        hindered: i,
        by: j,
        gap: meeting.gap,
        layer: this.#pathsOf[i]!.layer[of[meeting.stretch]!]!,
        point: applyPoint(this.#maps[j]!.partFromLayer, meeting.at),
      };
    }
    return undefined;
  }

  /** Where the tip lays in a span of layers, and the path of each stretch. */
  #path(i: number, [from, to]: readonly [number, number]): { path: Path; of: number[] } {
    const { points, start, layer } = this.#pathsOf[i]!;
    const ends: number[] = [];
    const of: number[] = [];
    for (let k = firstAtLeast(layer, from); k < layer.length && layer[k]! < to; k++) {
      const kept = simplifiedChain(points, start[k]!, start[k + 1]!, ROUGH_BEADS);
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
