/**
 * What must keep clear of what at some moment of the job: the bodies of the machine and what is printed by
 * then, as pairs that move against one another. Pairs that one joint carries are rigid and left out;
 * obstacles (and table and obstacles, or head and what carries it) that lie within the clearance with all
 * joints at zero, such as a bearing under the table, belong together and are left out too.
 */
import type { Machine } from '../machine/machine.js';
import { type ClearancePair, gapAt } from './convex/conservative-advancement.js';
import type { BeadShapes } from './bead-shapes.js';
import { RigidBody } from './body.js';
import {
  type CarriedThings,
  HEAD_NAME,
  type MachineBodies,
  bodiesOf,
  lastCarrier,
} from './machine-bodies.js';
import { boxShape } from './convex/support-shape.js';
import { DistanceSearch } from './nearest-on-path.js';
import { type Path, still } from './body-path.js';

/** Beads as far as they are there. */
export interface Laid {
  readonly beads: CarriedThings<BeadShapes>;
  /** Beads from this number on are not there yet. */
  readonly until: number;
  /** The same in fewer beads. */
  readonly rough: { readonly things: BeadShapes; readonly until: number; readonly slack: number };
}

/** A region as far as it is printed. */
export interface PrintedRegion {
  readonly region: number;
  readonly laid: Laid;
  /** Its beads under the base plane of a region, and those beside it. */
  readonly parted: (region: number) => { readonly under: Laid; readonly beside: Laid };
  /** True while a run of curved layers grows on it: its own beads may rise towards the head beside the tip. */
  readonly curved?: boolean;
}

/** What does not depend on the moment. */
export interface Setting {
  readonly machine: Machine;
  /** How far the controller may round a corner of the program, mm of the tip. */
  readonly rounding: number;
  readonly bodies: MachineBodies;
  readonly search: DistanceSearch;
  readonly still: Path;
  /** The half-space under the table's face, as far as anything reaches; undefined where the table is a mesh. */
  readonly plane: CarriedThings | undefined;
  /** Pairs of machine bodies. */
  readonly pairs: readonly ClearancePair[];
}

export interface Scene {
  readonly setting: Setting;
  readonly printed: readonly PrintedRegion[];
}

/** Rounding that is no nearness, mm. */
export const GAP_ROUNDING = 1e-6;
/** A gap at zero that is just the clearance counts as within it, mm. */
export const ZERO_GAP_ROUNDING = 0.01;

/** @param rounding mm; the clearance of the machine counts it already */
export function settingOf(machine: Machine, rounding = 0): Setting {
  const bodies = bodiesOf(machine);
  const search = new DistanceSearch();
  const rest = still();
  const { head, table, obstacles } = bodies;
  const need = machine.clearance;
  const zero = new Float64Array(machine.joints.length);
  const apart = (pair: ClearancePair): boolean =>
    !gapAt(machine, search, pair, zero, rest, need + ZERO_GAP_ROUNDING, 0);
  const side = ({ carrier }: CarriedThings): string =>
    carrier < 0 ? 'frame' : machine.joints[carrier]!.carriesTable ? 'table' : 'head';
  const pairs: ClearancePair[] = [{ body: head, things: table, need }];
  obstacles.forEach((o, i) => {
    const withHead = { body: head, things: o, need };
    if (side(o) !== 'head' || (o.carrier !== head.carrier && apart(withHead))) pairs.push(withHead);
    for (const other of [table, ...obstacles.slice(0, i)]) {
      const pair = { body: other, things: o, need };
      if (other.carrier !== o.carrier && apart(pair)) pairs.push(pair);
    }
  });
  const plane = machine.tableMesh ? undefined : { ...table, things: halfSpace() };
  return { machine, rounding, bodies, search, still: rest, plane, pairs };
}

/** Farther than any part of a machine lies from the middle of its table, mm. */
const FAR_OUT = 5000;

const halfSpace = (): RigidBody =>
  new RigidBody([{ shape: boxShape([-FAR_OUT, -FAR_OUT, -FAR_OUT], [FAR_OUT, FAR_OUT, 0]) }]);

/** The same pairs with the tip counted in. */
export const withTip = (
  pairs: readonly ClearancePair[],
  { head, wholeHead }: MachineBodies,
): ClearancePair[] =>
  pairs.map((pair) => (pair.body === head ? { ...pair, body: wholeHead } : pair));

/**
 * Every pair of the scene.
 * @param at region over whose base the head is, which keeps less under its base plane; -1 where it
 *   is on its way
 * @param own whether what is laid of that region counts; it always does where the region is curved
 */
export function pairsOf({ setting, printed }: Scene, at: number, own: boolean): ClearancePair[] {
  const { machine, bodies, pairs } = setting;
  const need = machine.clearance;
  const table = lastCarrier(machine, true);
  const movers = bodies.obstacles.filter((o) => o.carrier !== table);
  const parts = printed.flatMap(({ region, laid, parted, curved }): ClearancePair[] => {
    if (region === at && !own && !curved) return [];
    const around = movers.flatMap((body) => pairWith(body, need, laid));
    if (at < 0) return [...pairWith(bodies.head, need, laid), ...around];
    const { under, beside } = parted(at);
    return [
      ...pairWith(bodies.head, need, beside),
      ...bodies.overBase.flatMap((keep) => pairWith(keep.body, keep.need, under)),
      ...(region === at && curved ? pairWith(bodies.overSheet, 0, under) : []),
      ...around,
    ];
  });
  return [...parts, ...pairs];
}

const pairWith = (
  body: CarriedThings<RigidBody>,
  need: number,
  { beads, until, rough }: Laid,
): ClearancePair[] => (until > 0 ? [{ body, things: beads, until, rough, need }] : []);

/** "the head comes within 1 mm of region 2"; with nothing to keep, "the head touches region 2" */
export function comesNear({ body, things, need }: ClearancePair): string {
  const turned = things.name.startsWith('region') && body.name !== HEAD_NAME;
  const [who, what] = turned ? [things.name, body.name] : [body.name, things.name];
  return need > 0
    ? `${who} comes within ${Number(need.toFixed(2))} mm of ${what}`
    : `${who} touches ${what}`;
}
