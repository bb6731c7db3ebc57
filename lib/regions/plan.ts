/**
 * A part and the limits of a machine go in; regions in printing order come out, with what stays
 * unsupported, measured on the full mesh.
 *
 * The searches run on a simplified mesh, their cuts are made again on the full one, polished and
 * measured there. Plain searches come first: if one leaves nothing, that is the plan. Otherwise searches
 * with leaning planes follow, strict and not, each of which wins on some parts; where the pose is free,
 * in the poses in which a quick search leaves least. (The pose with least hanging to begin with is not
 * the best, nor the one in which a search with square planes leaves least.)
 */
import type { Finding } from '../base/fault.js';
import { type Frame, applyPoints, compose, shift } from '../base/frame.js';
import type { Mesh } from '../base/mesh.js';
import { DEG } from '../base/vector.js';
import { type Watch, step } from '../base/watch.js';
import type { SolidKernel } from '../kernel/solid.js';
import { moved } from '../mesh/build.js';
import { massOf } from '../mesh/measure.js';
import { hanging, onTable, prepare } from '../overhang/overhang.js';
import type { TableRules } from './body.js';
import { type Ceilings, uncutUnder } from './ceilings.js';
import { askedFindings } from './answers.js';
import { askedCuts } from './asked.js';
import type { SearchLimits } from './limits.js';
import type { Move } from './move.js';
import { onPedestal } from './pedestal.js';
import { poses } from './pose.js';
import { type SimplifySpec, forSearch, simplified } from './refine.js';
import { whatStays } from './remains.js';
import type { Region } from './region.js';
import { headTable } from './room.js';
import { type Built, type ReplaySpec, regionsOf, replayed } from './replay.js';
import type { RegionRules } from './rules.js';
import { type Steer, faceNear, steerIn, steered } from './steer.js';
import type { Tagged } from './section.js';
import { NOTHING, type Plan, better, tiltOf } from './sketch.js';
import {
  type Found,
  PLAIN,
  QUICK,
  type SearchSpec,
  type Way,
  directionsFor,
  foundBy,
  fullWays,
} from './ways.js';

export { type Found, type SearchSpec, foundBy } from './ways.js';
export { type ReplaySpec, replayed } from './replay.js';
export { type SimplifySpec, simplified } from './refine.js';

export interface RegionPlan {
  /** In printing order. */
  readonly regions: readonly Region[];
  /** Flag a triangle for each region: 1 where it hangs. */
  readonly hanging: readonly Uint8Array[];
  /** The part in its pose on the table, its pedestal with it. */
  readonly part: Mesh;
  /** Part frame from the mesh that was handed in. */
  readonly partFromGiven: Frame;
  readonly unsupported: {
    /** Of the part as handed in, built along the table normal. */
    readonly asPlacedMm2: number;
    /** The least that any one direction leaves in which the whole part can be built off the table. */
    readonly bestSingleDirectionMm2: number;
    readonly plannedMm2: number;
  };
  readonly findings: readonly Finding[];
}

/** Does the large pieces of the work somewhere, with the limits of the same machine and rules. */
export interface Searching {
  /** `foundBy`. */
  search(spec: SearchSpec): Promise<Found>;
  /** `replayed`. */
  replay(spec: ReplaySpec): Promise<Plan>;
  /** `simplified`. */
  simplify(spec: SimplifySpec): Promise<Mesh>;
}

const onThisThread = (limits: SearchLimits, watch?: Watch): Searching => ({
  search: (spec) => Promise.resolve(foundBy(spec, limits, watch)),
  replay: (spec) => Promise.resolve(replayed(spec, limits)),
  simplify: (spec) => Promise.resolve(simplified(spec)),
});

/**
 * @param part closed mesh standing on z = 0, mm
 * @param work left out: all is done on this thread. The plan is the same wherever it is done.
 * @param bridged does not hang in what is built along the table normal, in the pose that it is known for
 * @throws the signal's reason when cancelled
 */
export async function planRegions(
  part: Mesh,
  limits: SearchLimits,
  rules: RegionRules,
  kernel: SolidKernel,
  watch?: Watch,
  work: Searching = onThisThread(limits, watch),
  bridged?: Ceilings,
): Promise<RegionPlan> {
  const table: TableRules = { theta: rules.overhang * DEG, foot: rules.foot };
  // Turning changes nothing about what can be left out, so that is found out once.
  const little = await work.simplify({ mesh: part, triangles: rules.detail });
  const stances = stancesOf({ part, little }, rules, kernel, bridged);
  const {
    stance,
    full,
    plan: found,
  } = await new Searches(work, limits, rules, watch).best(stances);
  const { mesh } = full;
  const { steer } = stance;
  const single = regionsOf(singlePlan(full, limits, rules, steer), table);
  const plans = [regionsOf(found, table)];
  if (single.regions.length <= rules.most) plans.push(single);
  const built = plans.reduce((a, b) => (areaOf(b) < areaOf(a) - NOTHING ? b : a));
  return {
    ...built,
    part: mesh,
    partFromGiven: stance.frame,
    unsupported: {
      asPlacedMm2: uprightArea(part, table),
      bestSingleDirectionMm2: Math.min(areaOf(single), uprightArea(mesh, table)),
      plannedMm2: areaOf(built),
    },
    findings: [
      ...pedestalFinding(part, mesh, rules),
      ...askedFindings({ part: mesh, regions: built.regions, steer, limits, rules }),
      ...whatStays(built.regions, built.hanging, limits, table.theta),
    ],
  };
}

const areaOf = ({ regions }: Built): number =>
  regions.reduce((sum, region) => sum + region.unsupportedArea, 0);

function uprightArea(mesh: Mesh, { theta, foot }: TableRules): number {
  return hanging(prepare(mesh), [0, 0, 1], theta, onTable(mesh, foot)).area;
}

/** Even directions over the sphere for the best single one. */
const SINGLES = 220;

/**
 * The plan of the one direction that leaves least when the whole part is built along it: what rests on
 * the table, and all the rest along the direction. It is one that the machine reaches, with the head over
 * the table, and whose layers lean against the table no more than planes may.
 */
function singlePlan(
  full: Tagged,
  limits: SearchLimits,
  { overhang, foot, lean, most }: RegionRules,
  steer: Steer,
): Plan {
  const theta = overhang * DEG;
  const { mesh } = full;
  const p = prepare(mesh);
  const carried = onTable(mesh, foot);
  const direction = directionsFor(mesh, limits, SINGLES)
    .filter((d) => tiltOf(d) <= lean * DEG && limits.leastTipHeight(tiltOf(d)) <= foot)
    .map((d) => ({ d, area: hanging(p, d, theta, carried).area }))
    .reduce((best, one) => (one.area < best.area ? one : best)).d;
  const rules = { theta, foot, limits: steered(limits, steer), most, prefer: direction };
  // Clear of the foot by more than rounding.
  const cut = { point: [0, 0, foot + 1e-5] as const, normal: [0, 0, 1] as const, direction };
  const cuts = tiltOf(direction) > 0 ? [...steer.cuts, cut] : steer.cuts;
  return askedCuts(full, cuts, rules, headTable(limits)).start;
}

/** A pose with the small mesh that the searches work on in it, and the full one when it is wanted. */
interface Stance {
  readonly frame: Frame;
  readonly small: (triangles: number) => Tagged;
  readonly full: () => Tagged;
  /** What the user asks, in this pose. */
  readonly steer: Steer;
  /** Corners of the faces that are to stay whole. */
  readonly faces: readonly Float64Array[];
}

/**
 * The poses to choose from, on their pedestals if there are any.
 * @param little the part, simplified
 */
function stancesOf(
  { part, little }: { readonly part: Mesh; readonly little: Mesh },
  rules: RegionRules,
  kernel: SolidKernel,
  bridged: Ceilings | undefined,
): Stance[] {
  const { pedestal, foot, detail } = rules;
  const steady = pedestal > 0 ? 0 : rules.steady * DEG;
  const all = poses(part, kernel, rules.pose === 'free' ? rules.poses : 0, steady);
  const less = simplified({ mesh: little, triangles: detail / 2 });
  const lift = (mesh: Mesh): Mesh =>
    pedestal > 0 ? onPedestal(mesh, pedestal, Math.max(foot, LEAST_FOOT)) : mesh;
  const faces = rules.steer.whole.map((p) => faceNear(part, p));
  return all.map((frame) =>
    stanceOf(compose(shift([0, 0, pedestal]), frame), {
      small: (triangles) =>
        forSearch(lift(moved(triangles < detail ? less : little, frame)), triangles),
      full: () => lift(moved(part, frame)),
    }),
  );

  function stanceOf(
    frame: Frame,
    { small, full }: { small: (triangles: number) => Mesh; full: () => Mesh },
  ): Stance {
    const same = bridged?.partFromGiven.every((x, i) => x === frame[i]) ?? false;
    const ceilings = same ? bridged!.layers : [];
    return {
      small: (triangles) => uncutUnder(small(triangles), ceilings),
      full: () => uncutUnder(full(), ceilings),
      frame,
      steer: steerIn(frame, rules.steer),
      faces: faces.map((face) => applyPoints(frame, face)),
    };
  }
}

/** A pedestal holds on to the part by at least this, mm. */
const LEAST_FOOT = 0.05;

function pedestalFinding(part: Mesh, mesh: Mesh, { pedestal, foot }: RegionRules): Finding[] {
  if (pedestal === 0) return [];
  const volume = massOf(mesh).volume - massOf(part).volume;
  const at = pedestal + Math.max(foot, LEAST_FOOT);
  return [
    {
      code: 'regions/pedestal',
      severity: 'note',
      message: `the part stands on a pedestal of ${pedestal} mm and ${volume.toFixed(0)} mm3, to be sawn off ${at.toFixed(2)} mm over the table`,
    },
  ];
}

/** In how many poses the full searches run. */
const POSES_KEPT = 3;
/** What a quick search leaves where plain ones have no chance, mm2. */
const HARD = 1;
/** Plans of more pieces than this are not searched again for fewer. */
const FEWER_FROM = 4;

const lesser = (best: Plan, p: Plan): Plan => (better(p, best) < 0 ? p : best);

/** A stance with its meshes made. */
interface Place {
  readonly stance: Stance;
  readonly full: Tagged;
  readonly small: Tagged;
  /** The cuts that are asked for, as they come out on the full mesh. */
  readonly asked: readonly Move[];
}

interface Best extends Place {
  readonly plan: Plan;
}

/** The searches of one plan, counted as they end. */
class Searches {
  readonly #work: Searching;
  readonly #rules: RegionRules;
  readonly #limits: SearchLimits;
  readonly #watch: Watch | undefined;
  #done = 0;
  #total = 0;

  constructor(work: Searching, limits: SearchLimits, rules: RegionRules, watch: Watch | undefined) {
    this.#work = work;
    this.#rules = rules;
    this.#watch = watch;
    this.#limits = limits;
  }

  /** The cuts are asked for in any case, whatever a search on its small mesh could make of them. */
  #placeOf(stance: Stance): Place {
    const full = stance.full();
    const { steer } = stance;
    const { overhang, foot, most } = this.#rules;
    const limits = steered(this.#limits, steer);
    const rules = { theta: overhang * DEG, foot, most, limits, prefer: steer.prefer };
    const { start } = askedCuts(full, steer.cuts, rules, headTable(this.#limits));
    const asked = start.pieces.map((p) => p.move);
    return { stance, full, small: stance.small(this.#rules.detail), asked };
  }

  async best(stances: readonly Stance[]): Promise<Best> {
    const likely = await this.#likely(stances);
    const kept = likely.map(({ stance }) => this.#placeOf(stance));
    // Where a quick search left much, plain ones will not leave nothing: all run at once.
    const hard = likely[0]!.cost > HARD;
    const plain = (): Promise<Best> => this.#searches(kept[0]!, PLAIN);
    const first = hard ? undefined : await plain();
    if (first && first.plan.cost <= NOTHING) return this.#fewer(first);
    // Those that take longest begin first, so that no thread is left with one at the end.
    const full = fullWays(this.#rules).map((way) =>
      kept.map((place) => this.#searches(place, [way])),
    );
    const plans = await Promise.all([first ?? plain(), ...full.flat()]);
    return plans.reduce((best, p) => (better(p.plan, best.plan) < 0 ? p : best));
  }

  async #search(
    { steer, faces }: Stance,
    part: Tagged,
    way: Way,
    general = this.#rules,
  ): Promise<Found> {
    const rules = { ...general, steer };
    this.#total++;
    step(this.#watch, 'regions', this.#done, this.#total);
    const found = await this.#work.search({ part, faces, setting: { rules, way } });
    this.#done++;
    step(this.#watch, 'regions', this.#done, this.#total);
    return found;
  }

  /** The best plan of several ways, made on the full mesh. */
  async #searches(place: Place, ways: readonly Way[], rules = this.#rules): Promise<Best> {
    const { stance, full, small, asked } = place;
    const { steer, faces } = stance;
    const setting = { rules: { ...rules, steer } };
    const plans = await Promise.all(
      ways.map(async (way) => {
        const { moves } = await this.#search(stance, small, way, rules);
        const all = [...asked, ...moves.filter((m) => !m.asked)];
        return this.#work.replay({ full, moves: all, faces, setting });
      }),
    );
    return { ...place, plan: plans.reduce(lesser) };
  }

  /** The poses in which a quick search leaves least, the earlier where they are as good. */
  async #likely(stances: readonly Stance[]): Promise<{ stance: Stance; cost: number }[]> {
    if (stances.length === 1) return [{ stance: stances[0]!, cost: 0 }];
    const costs = await Promise.all(
      stances.map(
        async (stance) =>
          (await this.#search(stance, stance.small(this.#rules.detail / 2), QUICK)).cost,
      ),
    );
    return stances
      .map((stance, i) => ({ stance, cost: costs[i]!, i }))
      .sort((a, b) => (Math.abs(a.cost - b.cost) > NOTHING ? a.cost - b.cost : a.i - b.i))
      .slice(0, POSES_KEPT);
  }

  /**
   * A plan that leaves nothing came first by its cost alone; leaning planes, no more cuts than would
   * pay, look for one of fewer regions. Plans of many regions are left as they are: the search would
   * cost more than the region is worth.
   */
  async #fewer(best: Best): Promise<Best> {
    const pieces = best.plan.pieces.length;
    if (pieces < 3 || pieces > FEWER_FROM) return best;
    const rules = { ...this.#rules, most: pieces };
    const ways = [...PLAIN, ...fullWays(rules)].filter((way) => !way.tolerant);
    const { plan } = await this.#searches(best, ways, rules);
    return { ...best, plan: lesser(best.plan, plan) };
  }
}
