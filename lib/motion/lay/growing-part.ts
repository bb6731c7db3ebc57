/**
 * The part as it is printed: runs are added as they are laid, and at every moment it gives the scene (exact
 * beads) and boxes of the surface (for heights that err to the high side) of what is there.
 */
import { applyDirection, applyPoint, compose } from '../../base/frame.js';
import { faceFrame } from '../../machine/joint-chain.js';
import { firstAtLeast } from '../../base/sorted.js';
import { BeadShapes, ROUGH_BEADS, beadsOf } from '../../clearance/bead-shapes.js';
import type { ClearancePair } from '../../clearance/convex/conservative-advancement.js';
import { type CarriedThings, lastCarrier } from '../../clearance/machine-bodies.js';
import type { Laid, PrintedRegion, Scene, Setting } from '../../clearance/scene.js';
import { pathFrame } from '../../layers/layer-map.js';
import type { Layers } from '../../layers/layers.js';
import { type Boxes, boxesOf, turnedBox } from '../../order/boxes.js';
import type { RegionRun } from '../../order/order.js';
import type { Paths } from '../../paths/paths.js';
import type { Region } from '../../regions/region.js';

export interface GrowthInput {
  readonly setting: Setting;
  readonly regions: readonly Region[];
  readonly layersOf: readonly Pick<Layers, 'map' | 'top'>[];
  readonly pathsOf: readonly Paths[];
}

/** Beads, exact and to within ROUGH_BEADS. */
interface Both {
  readonly beads: CarriedThings<BeadShapes>;
  readonly rough: BeadShapes;
}

interface Parted {
  readonly under: Both;
  readonly beside: Both;
}

interface Grown extends Both {
  /** By the region whose base plane parts them. */
  readonly parted: Map<number, Parted>;
  /** Boxes of the surface, rising by their lowest height along the build direction. */
  readonly boxes: Boxes;
  readonly heights: Float64Array;
  /** Paths and boxes that are there. */
  paths: number;
  boxCount: number;
}

export class GrowingPart {
  readonly #input: GrowthInput;
  readonly #grown = new Map<number, Grown>();
  readonly #sorted = new Map<BeadShapes, BeadShapes>();

  constructor(input: GrowthInput) {
    this.#input = input;
  }

  get setting(): Setting {
    return this.#input.setting;
  }

  /** Everything of the run's region up to the run's last layer is there from now on. */
  add({ region, lastLayer }: RegionRun): void {
    const paths = this.#input.pathsOf[region]!;
    const { map, top } = this.#input.layersOf[region]!;
    const grown = this.#of(region);
    grown.paths = firstAtLeast(paths.layer, lastLayer + 1);
    // Sheets are not level: what of the part lies under one is not told by heights, so all of it counts.
    grown.boxCount =
      map.kind === 'flat' ? firstAtLeast(grown.heights, top[lastLayer]!) : grown.heights.length;
  }

  #start(region: number): Grown {
    const { setting, regions, layersOf, pathsOf } = this.#input;
    const { map } = layersOf[region]!;
    return {
      beads: carriedBeads(setting, region, pathsOf[region]!, layersOf[region]!),
      rough: beadsOf(pathsOf[region]!, ROUGH_BEADS),
      parted: new Map(),
      ...rising(boxesOf(regions[region]!.mesh), pathFrame(map).layerFromPart),
      paths: 0,
      boxCount: 0,
    };
  }

  scene(): Scene {
    return { setting: this.#input.setting, printed: [...this.#grown].map(this.#printed) };
  }

  /**
   * The scene while a run of curved layers is laid, of whose region the first `paths` are there. They are what the tip
   * prints on, all of them, and the head keeps the distance from them that it keeps over a base.
   */
  sceneOnSheets(region: number, paths: number): Scene {
    const grown = this.#of(region);
    const laid = laidOf(grown, paths);
    const nothing = laidOf(grown, 0);
    return {
      setting: this.#input.setting,
      printed: [
        ...[...this.#grown].filter(([other]) => other !== region).map(this.#printed),
        { region, laid, parted: () => ({ under: laid, beside: nothing }), curved: true },
      ],
    };
  }

  /** The same pair with beads in the order of space: a short way passes few of their boxes, however many layers there are. */
  inSpace(pair: ClearancePair): ClearancePair {
    const { things } = pair.things;
    if (!(things instanceof BeadShapes)) return pair;
    const sorted = this.#sorted.get(things) ?? things.inSpace(things.count);
    this.#sorted.set(things, sorted);
    return { ...pair, things: { ...pair.things, things: sorted } };
  }

  /** How many beads of the region its first `paths` are. */
  beadsUntil(region: number, paths: number): number {
    return firstAtLeast(this.#of(region).beads.things.path, paths);
  }

  #of(region: number): Grown {
    const grown = this.#grown.get(region) ?? this.#start(region);
    this.#grown.set(region, grown);
    return grown;
  }

  readonly #printed = ([region, grown]: [number, Grown]): PrintedRegion => {
    const { paths } = grown;
    return {
      region,
      laid: laidOf(grown, paths),
      parted: (at) => {
        const { under, beside } = this.#parted(region, grown, at);
        return { under: laidOf(under, paths), beside: laidOf(beside, paths) };
      },
    };
  };

  /** The beads of a region, parted by the base plane of another one. */
  #parted(region: number, { beads, rough, parted }: Grown, at: number): Parted {
    const known = parted.get(at);
    if (known) return known;
    const { layerFromPart } = pathFrame(this.#input.layersOf[region]!.map);
    const { point, normal } = this.#input.regions[at]!.base;
    const plane = {
      point: applyPoint(layerFromPart, point),
      normal: applyDirection(layerFromPart, normal),
    };
    const [exact, fewer] = [beads.things.parted(plane), rough.parted(plane)];
    const made = {
      under: { beads: { ...beads, things: exact.under }, rough: fewer.under },
      beside: { beads: { ...beads, things: exact.beside }, rough: fewer.beside },
    };
    parted.set(at, made);
    return made;
  }

  boxes(): Boxes[] {
    return [...this.#grown.values()]
      .filter((g) => g.boxCount > 0)
      .map((g) => g.boxes.subarray(0, 6 * g.boxCount));
  }
}

/** @param paths paths of the region that are there */
const laidOf = ({ beads, rough }: Both, paths: number): Laid => ({
  beads,
  until: firstAtLeast(beads.things.path, paths),
  rough: { things: rough, until: firstAtLeast(rough.path, paths), slack: ROUGH_BEADS },
});

/** The beads of a region, riding on the table. */
export const carriedBeads = (
  { machine }: Pick<Setting, 'machine'>,
  region: number,
  paths: Paths,
  { map }: Pick<Layers, 'map'>,
): CarriedThings<BeadShapes> => ({
  name: `region ${region + 1}`,
  things: beadsOf(paths),
  carrier: lastCarrier(machine, true),
  fixed: compose(faceFrame(machine), pathFrame(map).partFromLayer),
});

function rising(boxes: Boxes, layerFromPart: Float64Array): Pick<Grown, 'boxes' | 'heights'> {
  const count = boxes.length / 6;
  const lowest = Array.from(
    { length: count },
    (_, i) => turnedBox(layerFromPart, boxes, 6 * i)[2]![0]!,
  );
  const order = [...lowest.keys()].sort((a, b) => lowest[a]! - lowest[b]!);
  const sorted = new Float64Array(boxes.length);
  order.forEach((i, at) => sorted.set(boxes.subarray(6 * i, 6 * i + 6), 6 * at));
  return { boxes: sorted, heights: Float64Array.from(order, (i) => lowest[i]!) };
}
