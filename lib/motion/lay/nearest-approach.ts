/**
 * Where bodies come nearest while part of a run is laid: for every pair of the scene its least distance.
 * Joint values and surroundings are plain records, so that the query may cross to another thread. In flat layers
 * the rotary joints stand still and the blocks are one path for each pair, measured together: the two boxes
 * of the pair decide first, then for beads the height map of what is printed, then the hierarchies of path
 * and beads, and only what comes near is measured. In curved layers they turn (turning-way.ts), and the beads of
 * the run itself count as they come.
 */
import type { Frame } from '../../base/frame.js';
import type { Vec3 } from '../../base/vector.js';
import type { ClearancePair } from '../../clearance/convex/conservative-advancement.js';
import { type BeadData, BeadShapes, ROUGH_BEADS } from '../../clearance/bead-shapes.js';
import type { CarriedThings } from '../../clearance/machine-bodies.js';
import type { RigidBody } from '../../clearance/body.js';
import type { NearestPair } from '../../clearance/nearest-on-path.js';
import type { Path } from '../../clearance/body-path.js';
import { type HeightMap, piecesNear } from '../../clearance/height-map.js';
import { type Laid, type Scene, type Setting, pairsOf, settingOf } from '../../clearance/scene.js';
import type { Machine } from '../../machine/machine.js';
import type { JointPolyline } from './blocks.js';
import { straight } from '../transfer/translation.js';
import { TurningWay } from './turning-way.js';

/** Beads as far as they are there, as plain records without classes. */
export interface PlainLaid {
  readonly beads: Omit<CarriedThings, 'things'> & { readonly things: BeadData };
  readonly until: number;
  readonly rough: {
    readonly things: BeadData;
    readonly until: number;
    readonly slack: number;
  };
}

export interface NearestQuery {
  readonly machine: Machine;
  readonly way: JointPolyline;
  /** Blocks from .. to (exclusive) of the way. */
  readonly from: number;
  readonly to: number;
  /** Region over whose base the head is. */
  readonly region: number;
  /** As it is when the run begins, parted by the base plane of that region. */
  readonly printed: readonly {
    readonly region: number;
    readonly laid: PlainLaid;
    readonly under: PlainLaid;
    readonly beside: PlainLaid;
    readonly curved?: boolean;
  }[];
  /** Of a run of curved layers: how many beads of its own region are there while each of the blocks is made. */
  readonly grown?: Uint32Array;
  /** Least distance known so far; for a pair only what is nearer than it or too near is searched, mm. */
  readonly known: number;
}

export interface Near {
  /** Signed, mm. */
  readonly gap: number;
  readonly block: number;
  /** Point of the things, in their own frame, mm. */
  readonly at: Vec3;
}

/**
 * For each pair of the scene, in its order, where it comes nearest, if that is nearer than what is wanted.
 */
export type Nears = readonly (Near | undefined)[];

export function nearestOf(ask: NearestQuery): Nears {
  const scene = sceneOf(ask);
  const pairs = pairsOf(scene, ask.region, false);
  return ask.grown ? turning(ask, scene, pairs, ask.grown) : standing(ask, scene, pairs);
}

function standing(
  { way, from, to, known: least }: NearestQuery,
  scene: Scene,
  pairs: Pairs,
): Nears {
  const stretch = new RunStretch(scene.setting, way, from, to);
  let known = least;
  return pairs.map((pair) => {
    const near = stretch.nearest(pair, Math.max(pair.need, known));
    if (near) known = Math.min(known, near.gap);
    return near;
  });
}

function turning(ask: NearestQuery, scene: Scene, pairs: Pairs, grown: Uint32Array): Nears {
  const way = new TurningWay(scene.setting, ask.way, ask.from, ask.to);
  const own = scene.printed.find((p) => p.curved)?.laid.beads.things;
  const inSpace = own?.inSpace(grown.at(-1) ?? 0);
  let { known } = ask;
  return pairs.map((pair) => {
    const isOwn = pair.things.things === own;
    const within = isOwn ? pair.need : Math.max(pair.need, known);
    const near =
      isOwn && inSpace
        ? way.nearestGrowing(
            { ...pair, things: { ...pair.things, things: inSpace } },
            within,
            (b) => grown[b]!,
          )
        : way.nearest(pair, within);
    if (near && !isOwn) known = Math.min(known, near.gap);
    return near && { ...near, block: ask.from + near.block };
  });
}

type Pairs = readonly ClearancePair[];

function sceneOf({ machine, printed }: NearestQuery): Scene {
  const known = new Map<BeadData, BeadShapes>();
  const back = (data: BeadData): BeadShapes => {
    const made = known.get(data) ?? new BeadShapes(data);
    known.set(data, made);
    return made;
  };
  const laid = ({ beads, until, rough }: PlainLaid): Laid => ({
    beads: { ...beads, things: back(beads.things) },
    until,
    rough: { ...rough, things: back(rough.things) },
  });
  return {
    setting: settingOf(machine),
    printed: printed.map((p) => {
      const parted = { under: laid(p.under), beside: laid(p.beside) };
      return { ...p, laid: laid(p.laid), parted: () => parted };
    }),
  };
}

/** The path of one body against another, and the same with straight stretches joined. */
interface BodyPaths {
  readonly path: Path;
  readonly joined: Path;
}

/** Blocks a .. b (exclusive); what several pairs have in common is computed once. */
class RunStretch {
  readonly #setting: Setting;
  readonly #first: number;
  readonly #joints: Float64Array;
  readonly #n: number;
  /** By how the bodies are moved. */
  readonly #ways = new Map<string, BodyPaths>();
  readonly #heightMaps = new Map<
    BeadShapes,
    { readonly frame: Frame; readonly heightMap: HeightMap }[]
  >();

  constructor(setting: Setting, way: JointPolyline, a: number, b: number) {
    this.#setting = setting;
    this.#first = a;
    this.#n = way.jointCount;
    this.#joints = jointsBetween(way, a - 1, b);
  }

  nearest(pair: ClearancePair, within: number): Near | undefined {
    const { body, things } = pair;
    const way = straight(this.#setting.machine, body, things, this.#joints, this.#n);
    if (!way.comesWithin(body.things, things.things, within)) return undefined;
    let ways = this.#ways.get(way.key);
    if (!ways) {
      const path = way.path();
      this.#ways.set(way.key, (ways = { path, joined: path.joined(ROUGH_BEADS) }));
    }
    return this.#nearestOn(ways, way.frame, pair, within);
  }

  /**
   * Rough first: most pairs of runs are clear by more than rough beads and ways differ from what they
   * are, and a gap is given as the least that it can be. What is too close to a touch or to the
   * clearance to be decided this way is measured exactly.
   */
  #nearestOn(
    { path, joined }: BodyPaths,
    frame: Frame,
    { body, things, until, rough, need }: ClearancePair,
    within: number,
  ): Near | undefined {
    const slack = ROUGH_BEADS + (rough?.slack ?? 0);
    const { search } = this.#setting;
    const ask = { body: body.things, frame };
    const above = rough && this.#fromAbove(body);
    const heightMap =
      above && !search.begunInside({ ...ask, path: joined, things: rough.things })
        ? this.#heightMapOf(rough, frame)
        : undefined;
    const worth = (p: Path, near: number): Path =>
      heightMap ? piecesNear(heightMap, body.things, p, near) : p;
    // The stretches of the true least distance may lie twice the slack from where the rough one does.
    const way = worth(joined, within + 3 * slack);
    const first = search.least({
      ...ask,
      path: way,
      things: rough?.things ?? things.things,
      ...(rough && { until: rough.until }),
      within: within + slack,
    });
    if (!first) return undefined;
    const known = { ...first, gap: first.gap - slack };
    const at = joined.origin(heightMap ? way.origin(first.stretch) : first.stretch);
    const unsure = (limit: number): boolean => Math.abs(first.gap - limit) <= slack;
    if (rough && !unsure(need) && !unsure(0)) return this.#near(known, at);
    const some = heightMap ? path.only(finer(joined, way)) : path;
    const fine = worth(some, first.gap + 2 * slack);
    const exact = search.least({
      ...ask,
      path: fine,
      things: things.things,
      ...(until !== undefined && { until }),
      within: first.gap + slack,
    });
    if (!exact) return this.#near(known, at);
    return this.#near(exact, heightMap ? some.origin(fine.origin(exact.stretch)) : exact.stretch);
  }

  /** What is carried as the head is approaches from above. */
  #fromAbove({ carrier }: CarriedThings<RigidBody>): boolean {
    return this.#setting.machine.joints[carrier]?.carriesTable === false;
  }

  #heightMapOf({ things, until }: Required<ClearancePair>['rough'], frame: Frame): HeightMap {
    const known = this.#heightMaps.get(things) ?? [];
    this.#heightMaps.set(things, known);
    let same = known.find((k) => k.frame.every((v, i) => v === frame[i]));
    if (!same) known.push((same = { frame, heightMap: things.heightMap(frame, until) }));
    return same.heightMap;
  }

  #near({ gap, at }: Pick<NearestPair, 'gap' | 'at'>, stretch: number): Near {
    return { gap, at, block: this.#first + stretch };
  }
}

/** Numbers of the stretches from which those were joined of which there are pieces, each once. */
function finer(joined: Path, pieces: Path): Uint32Array {
  const out: number[] = [];
  let last = -1;
  for (let i = 0; i < pieces.tree.count; i++) {
    const s = pieces.origin(i);
    if (s === last) continue;
    for (let k = joined.origin(s); k < joined.origin(s + 1); k++) out.push(k);
    last = s;
  }
  return Uint32Array.from(out);
}

/** Joint values at the ends of blocks first .. to (exclusive); block -1 is where the motion begins. */
function jointsBetween(way: JointPolyline, first: number, to: number): Float64Array {
  const n = way.jointCount;
  if (first >= 0) return way.joints.subarray(first * n, to * n);
  const out = new Float64Array((to + 1) * n);
  out.set(way.from);
  out.set(way.joints.subarray(0, to * n), n);
  return out;
}
