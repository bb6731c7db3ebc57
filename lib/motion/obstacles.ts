/**
 * The simple solids of the machine file against what moves near them: the head against what stands
 * still or rides with the table, table and printed regions against what stands still or rides with
 * the head. Table and obstacles that lie within the clearance with all joints at zero (a bearing
 * under the table) belong together and are not asked about.
 *
 * A gap costs thousands of distances, but it cannot shrink faster than the joints move. So each pair
 * remembers its last gap and the joint values then, and is measured again only when it could have
 * been used up: a transfer of some hundred samples then costs a few measurements a pair.
 */
import { type Vec3, length, sub } from '../base/vector.js';
import type { Machine } from '../machine/machine.js';
import type { Bodies } from './bodies.js';
import {
  type Guard,
  type HeadSize,
  guardsOf,
  headGap,
  headSize,
  partGap,
  tableGap,
  tablePoints,
} from './gaps.js';

/** An obstacle and what must keep clear of it. */
interface Pair {
  readonly words: string;
  /** How far anything of the two can move against the other for each mm or rad of a joint, mm. */
  readonly weight: Float64Array;
  readonly ofPart: boolean;
  readonly gap: (bodies: Bodies, joints: ArrayLike<number>) => number;
  /** When it was measured last. */
  last:
    { readonly joints: Float64Array; readonly room: number; readonly bodies: Bodies } | undefined;
}

export interface Obstacles {
  readonly machine: Machine;
  /** Remember their last measurement. */
  readonly pairs: readonly Pair[];
}

export interface Room {
  /** At least this much is left of every gap beyond the clearance, mm; negative if one is too small. */
  readonly room: number;
  /** The pair with the least room, in words. */
  readonly words: string;
}

/** What can be known before any joint moves. */
export function obstaclesOf(machine: Machine): Obstacles {
  const head = headSize(machine);
  const table = tablePoints(machine);
  const zero = new Float64Array(machine.joints.length);
  const pairs = guardsOf(machine).flatMap((guard): Pair[] => {
    const carrier = machine.joints[guard.carrier];
    const out: Pair[] = [];
    const add = (who: 'head' | 'table' | 'part', gap: Pair['gap']): void => {
      out.push({
        words: `the ${who} comes within ${machine.clearance} mm of "${guard.name}"`,
        weight: weights(machine, head, guard, who),
        ofPart: who === 'part',
        gap,
        last: undefined,
      });
    };
    const onHead = carrier && !carrier.carriesTable;
    if (!onHead) add('head', (_, joints) => headGap(machine, head, guard, joints));
    if (carrier?.carriesTable) return out;
    if (tableGap(machine, table, guard, zero) >= machine.clearance) {
      add('table', (_, joints) => tableGap(machine, table, guard, joints));
    }
    add('part', (bodies, joints) => partGap(machine, bodies, guard, joints));
    return out;
  });
  return { machine, pairs };
}

/** Room of all pairs; infinite where there is nothing to meet. */
export function roomAt(obstacles: Obstacles, bodies: Bodies, joints: Float64Array): Room {
  let least = Infinity;
  let words = '';
  for (const pair of obstacles.pairs) {
    const room = roomOf(pair, obstacles.machine.clearance, bodies, joints);
    if (room < least) {
      least = room;
      words = pair.words;
    }
  }
  return { room: least, words };
}

function roomOf(pair: Pair, clearance: number, bodies: Bodies, joints: Float64Array): number {
  const { last } = pair;
  if (last && !(pair.ofPart && last.bodies !== bodies)) {
    let moved = 0;
    for (let j = 0; j < joints.length; j++) {
      const step = joints[j]! - last.joints[j]!;
      if (step !== 0) moved += Math.abs(step) * weightOf(pair, bodies, j);
    }
    if (moved === 0 || last.room > moved) return last.room - moved;
  }
  const room = pair.gap(bodies, joints) - clearance;
  pair.last = { joints: joints.slice(), room, bodies };
  return room;
}

/** The part grows: for rotary table joints its own reach counts, which is known only now. */
const weightOf = (pair: Pair, bodies: Bodies, j: number): number => {
  const joint = bodies.machine.joints[j]!;
  const grows = pair.ofPart && joint.kind === 'rotary' && joint.carriesTable;
  return grows
    ? Math.max(pair.weight[j]!, reachAbout(bodies.machine, j, bodies.radius))
    : pair.weight[j]!;
};

/** Farthest from the axis of rotary joint j that something within `radius` of the part origin can be. */
const reachAbout = (machine: Machine, j: number, radius: number): number =>
  radius + length(sub(machine.joints[j]!.point, machine.origin)) + slides(machine, j);

/** How far the linear joints that joint j carries can take things away from its axis, mm. */
function slides(machine: Machine, j: number): number {
  const own = machine.joints[j]!;
  return machine.joints.reduce(
    (sum, joint, i) =>
      i > j && joint.kind === 'linear' && joint.carriesTable === own.carriesTable
        ? sum + Math.max(Math.abs(joint.least), Math.abs(joint.most))
        : sum,
    0,
  );
}

function weights(
  machine: Machine,
  head: HeadSize,
  guard: Guard,
  who: 'head' | 'table' | 'part',
): Float64Array {
  const { face, tableThickness } = machine;
  const rim = face.shape === 'disc' ? face.radius : Math.hypot(...face.size) / 2;
  const tableRadius = Math.hypot(rim, tableThickness);
  return Float64Array.from(machine.joints, (joint, j) => {
    const carrier = machine.joints[guard.carrier];
    const movesGuard = carrier?.carriesTable === joint.carriesTable && j <= guard.carrier;
    const movesOther = joint.carriesTable === (who !== 'head');
    if (!movesGuard && !movesOther) return 0;
    if (joint.kind === 'linear') return 1;
    const far = (centre: Vec3, radius: number): number =>
      length(sub(centre, joint.point)) + radius + slides(machine, j);
    const headCentre: Vec3 = [machine.tip[0], machine.tip[1], machine.tip[2] + head.centre[2]];
    return Math.max(
      movesGuard ? far(guard.ball.centre, guard.ball.radius) : 0,
      movesOther && who === 'head' ? far(headCentre, head.radius) : 0,
      movesOther && who !== 'head' ? reachAbout(machine, j, tableRadius) : 0,
    );
  });
}
