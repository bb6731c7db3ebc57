/**
 * Whether two bodies keep a distance while the joints run straight from one set of values to another,
 * turning included. Conservative advancement (Mirtich, 1996, from memory): the distance is measured, and
 * the move advances by as much as the fastest point of either body would need to use it up, so between two
 * measurements nothing can come nearer than asked. A distance within TIGHT of what is asked counts as too
 * small.
 */
import { compose, inverse } from '../../base/frame.js';
import type { Machine } from '../../machine/machine.js';
import type { BeadShapes } from '../bead-shapes.js';
import type { RigidBody } from '../body.js';
import { type CarriedThings, machineFrom, mostMoved } from '../machine-bodies.js';
import { type NearestPair, type DistanceSearch } from '../nearest-on-path.js';
import { type Path } from '../body-path.js';

/** mm */
const TIGHT = 1e-3;
/** Far away a distance need not be known better than to this share. */
const FAR_ACCURACY = 0.3;

export interface ClearancePair {
  readonly body: CarriedThings<RigidBody>;
  readonly things: CarriedThings;
  /** Things from this index on are not there yet. */
  readonly until?: number;
  /** Fewer things that contain all of `things` up to a tolerance, mm. */
  readonly rough?: { readonly things: BeadShapes; readonly until: number; readonly slack: number };
  /** Distance that is kept, mm. */
  readonly need: number;
}

export interface CloseApproach {
  readonly pair: ClearancePair;
  readonly meeting: NearestPair;
  /** Where on the move, 0 to 1. */
  readonly t: number;
  readonly joints: Float64Array;
}

/** The first place where the pair is nearer than it may be; undefined if there is none on the whole move. */
export function firstClose(
  machine: Machine,
  search: DistanceSearch,
  pair: ClearancePair,
  a: Float64Array,
  b: Float64Array,
  still: Path,
): CloseApproach | undefined {
  const speed = mostMoved(machine, pair.body, a, b) + mostMoved(machine, pair.things, a, b);
  for (let t = 0; ;) {
    const joints = a.map((x, j) => x + t * (b[j]! - x));
    const within = speed * (1 - t) + pair.need + TIGHT;
    let meeting = gapAt(machine, search, pair, joints, still, within, FAR_ACCURACY);
    if (!meeting) return undefined;
    // The least distance is at least this share of one that was measured roughly.
    let room = (1 - FAR_ACCURACY) * meeting.gap - pair.need;
    if (room < (meeting.gap - pair.need) / 2) {
      const exact = gapAt(machine, search, pair, joints, still, within, 0);
      if (!exact) return undefined;
      meeting = exact;
      room = exact.gap - pair.need;
    }
    if (room < TIGHT) return { pair, meeting, t, joints };
    if (t === 1) return undefined;
    t = Math.min(1, t + room / speed);
  }
}

/** The distance at joint values, to within a share; undefined if it is more than `within`, mm. */
export function gapAt(
  machine: Machine,
  search: DistanceSearch,
  pair: ClearancePair,
  joints: Float64Array,
  still: Path,
  within: number,
  coarse: number,
): NearestPair | undefined {
  const frame = compose(
    inverse(machineFrom(machine, pair.body, joints)),
    machineFrom(machine, pair.things, joints),
  );
  return search.least({
    body: pair.body.things,
    path: still,
    things: pair.things.things,
    frame,
    ...(pair.until !== undefined && { until: pair.until }),
    within,
    accuracy: coarse,
  });
}
