/**
 * What a machine file says of stiffness and friction, held against the loads, belts and motors of the same
 * file: a number in another unit contradicts one of them.
 */
import { beltStiffness } from './belt.js';
import { jointsOf } from './joint-chain.js';
import type { RefuseMachine } from './line-templates.js';
import type { Joint, Machine } from './machine.js';
import { RestLoads } from './rest-loads.js';
import { statesWeights } from './standing-joints.js';
import { DEG } from '../base/vector.js';

/** No joint that lays beads gives more under the machine's own weight, deg (common practice, no source). */
const MOST_GIVE = 3;
/**
 * A joint is no stiffer than the belts through which it is held, which are in series with all the rest; belts
 * are stiffer at their working tension than their data say, though not by more than this (no source).
 */
const OVER_BELTS = 3;
/** Values of each rotary joint, over its travel or one turn, at which loads are looked at. */
const POSES_EACH = 25;

/** @throws what `refuse` throws: `machine/stiffness`, `machine/friction` */
export function checkHold(machine: Machine, refuse: RefuseMachine): void {
  machine.joints.forEach((joint, j) => {
    checkBelts(machine, joint, j, refuse);
    checkFriction(machine, joint, j, refuse);
  });
  if (!statesWeights(machine)) return;
  const worst = greatestLoads(machine);
  machine.joints.forEach(({ letter, stiffness }, j) => {
    if (stiffness === undefined) return;
    const give = worst[j]! / stiffness / DEG;
    if (give <= MOST_GIVE) return;
    refuse(
      'stiffness',
      `joint ${letter} would give ${digits(give)} deg under the ${digits(worst[j]!)} N m that it carries, the limit is ${MOST_GIVE} deg: its stiffness of ${digits(stiffness * DEG)} is read as N m/deg; was a compliance, in deg/(N m), meant?`,
      'stiffness',
    );
  });
}

function checkBelts(
  machine: Machine,
  { letter, stiffness }: Joint,
  j: number,
  refuse: RefuseMachine,
): void {
  const belts = beltStiffness(machine, j);
  if (stiffness === undefined || belts === undefined || stiffness <= OVER_BELTS * belts) return;
  refuse(
    'stiffness',
    `joint ${letter} has a stiffness of ${digits(stiffness * DEG)} N m/deg, ${digits(stiffness / belts)} times the ${digits(belts * DEG)} N m/deg of its belts, the limit is ${OVER_BELTS} times; was it measured in N m/rad? 1 N m/deg is 57.3 N m/rad`,
    'stiffness',
  );
}

function checkFriction(
  { drives }: Machine,
  { letter, kind }: Joint,
  j: number,
  refuse: RefuseMachine,
): void {
  const friction = drives?.joints[j]!.friction;
  const own = drives?.drives.filter((d) => d.turns[j] !== 0) ?? [];
  if (friction === undefined || own.length === 0) return;
  const most = own.reduce((sum, { motor, count, turns, efficiency = 1 }) => {
    return sum + count * Math.max(...motor.torques) * Math.abs(turns[j]!) * efficiency;
  }, 0);
  if (friction < most) return;
  const unit = kind === 'rotary' ? 'N m' : 'N';
  refuse(
    'friction',
    `joint ${letter} has a friction of ${digits(friction)} ${unit}, and ${own.map((d) => d.name).join(' and ')} bring it ${digits(most)} ${unit} at most: it would never move`,
    `drives.joints.${letter}.friction`,
  );
}

/** Greatest change of the load of each joint against the ready values, N m or N; the table empty. */
export function greatestLoads(machine: Machine): Float64Array {
  const loads = new RestLoads(machine);
  const ready = loads.at(machine.ready).slice();
  const worst = new Float64Array(ready.length);
  const [p, q] = jointsOf(machine, 'rotary') as [number, number];
  const at = machine.ready.slice();
  for (const first of valuesOf(machine.joints[p]!)) {
    for (const second of valuesOf(machine.joints[q]!)) {
      at[p] = first;
      at[q] = second;
      const here = loads.at(at);
      worst.forEach((w, j) => (worst[j] = Math.max(w, Math.abs(here[j]! - ready[j]!))));
    }
  }
  return worst;
}

function valuesOf({ least, most }: Joint): number[] {
  const from = Math.max(least, -Math.PI);
  const to = Math.min(most, Math.PI);
  return Array.from({ length: POSES_EACH }, (_, i) => from + ((to - from) * i) / (POSES_EACH - 1));
}

const digits = (x: number): number => Number(x.toPrecision(4));
