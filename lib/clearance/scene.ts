/**
 * What must keep clear of what at some moment of the job: the bodies of the machine and what is printed
 * by then, as pairs of which one moves against the other. Pairs that one joint carries are rigid;
 * obstacles (and table and obstacles, or head and what carries it) that lie within the clearance with
 * all joints at zero, such as a bearing under the table, belong together and are not asked about.
 */
import type { Machine } from '../machine/machine.js';
import { type Pair, gapAt } from './advance.js';
import type { Beads } from './beads.js';
import type { Body } from './body.js';
import { type Carried, HEAD, type MachineBodies, bodiesOf } from './bodies.js';
import { Meeter } from './meet.js';
import { type Path, still } from './path.js';

/** A region as far as it is printed. */
export interface Printed {
  readonly region: number;
  readonly beads: Carried<Beads>;
  /** Beads from this number on are not there yet. */
  readonly until: number;
  /** The same in fewer beads. */
  readonly rough: { readonly things: Beads; readonly until: number; readonly slack: number };
}

/** What does not depend on the moment. */
export interface Setting {
  readonly machine: Machine;
  readonly bodies: MachineBodies;
  readonly meeter: Meeter;
  readonly still: Path;
  /** Pairs of machine bodies. */
  readonly pairs: readonly Pair[];
}

export interface Scene {
  readonly setting: Setting;
  readonly printed: readonly Printed[];
}

/** A gap at zero that is just the clearance counts as within it, mm. */
const ROUNDING = 0.01;

export function settingOf(machine: Machine): Setting {
  const bodies = bodiesOf(machine);
  const meeter = new Meeter();
  const rest = still();
  const { head, table, obstacles } = bodies;
  const need = machine.clearance;
  const zero = new Float64Array(machine.joints.length);
  const apart = (pair: Pair): boolean =>
    !gapAt(machine, meeter, pair, zero, rest, need + ROUNDING, 0);
  const side = ({ carrier }: Carried): string =>
    carrier < 0 ? 'frame' : machine.joints[carrier]!.carriesTable ? 'table' : 'head';
  const pairs: Pair[] = [{ body: head, things: table, need }];
  obstacles.forEach((o, i) => {
    const withHead = { body: head, things: o, need };
    if (side(o) !== 'head' || (o.carrier !== head.carrier && apart(withHead))) pairs.push(withHead);
    for (const other of [table, ...obstacles.slice(0, i)]) {
      const pair = { body: other, things: o, need };
      if (other.carrier !== o.carrier && apart(pair)) pairs.push(pair);
    }
  });
  return { machine, bodies, meeter, still: rest, pairs };
}

/** The same pairs with the tip counted in. */
export const withTip = (pairs: readonly Pair[], { head, wholeHead }: MachineBodies): Pair[] =>
  pairs.map((pair) => (pair.body === head ? { ...pair, body: wholeHead } : pair));

/** Every pair of the scene, those with region `own` left out. */
export function pairsOf({ setting, printed }: Scene, own = -1): Pair[] {
  const { machine, bodies, pairs } = setting;
  const need = machine.clearance;
  const movers: Carried<Body>[] = [bodies.head, ...bodies.obstacles];
  const parts = printed.flatMap(({ region, beads, until, rough }) =>
    region === own || until === 0
      ? []
      : movers
          .filter((m) => m.carrier !== beads.carrier)
          .map((body): Pair => ({ body, things: beads, until, rough, need })),
  );
  return [...parts, ...pairs];
}

/** "the head comes within 1 mm of region 2" */
export function comesNear({ body, things, need }: Pair): string {
  const turned = things.name.startsWith('region') && body.name !== HEAD;
  const [who, what] = turned ? [things.name, body.name] : [body.name, things.name];
  return `${who} comes within ${need} mm of ${what}`;
}
