/**
 * What meets first when one joint alone goes from the ready place to an end of its travel: bodies of the head,
 * the table and the obstacles at the machine's clearance, by conservative advancement. A joint without end is
 * taken through one turn either way.
 */
import { type CloseApproach, firstClose } from '../clearance/convex/conservative-advancement.js';
import { type Setting, settingOf, withTip } from '../clearance/scene.js';
import type { Machine } from '../machine/machine.js';

export interface JointSweep {
  /** Index in `Machine.joints`. */
  readonly joint: number;
  /** Where it was going, mm or rad. */
  readonly to: number;
  /** Where it met, mm or rad; undefined where it kept clear all the way. */
  readonly met: number | undefined;
  /** What met what: "the head", "the table" or the quoted name of an obstacle. */
  readonly bodies: readonly [string, string] | undefined;
}

type SweepEnd = Pick<CloseApproach, 'pair' | 't'>;

function firstMeeting(
  setting: Setting,
  pairs: Setting['pairs'],
  a: Float64Array,
  b: Float64Array,
): SweepEnd | undefined {
  let first: SweepEnd | undefined;
  for (const pair of pairs) {
    const found = firstClose(setting.machine, setting.search, pair, a, b, setting.still);
    if (found && !(first && first.t <= found.t)) first = found;
  }
  return first;
}

const namesOf = ({ pair }: SweepEnd): readonly [string, string] => [
  pair.body.name,
  pair.things.name,
];

export interface Sweeps {
  /** Bodies that are too near at the ready place itself; the sweeps are then left out. */
  readonly atReady: readonly [string, string] | undefined;
  /** Bodies of different carriers that lie so near with all joints at zero that nothing keeps them apart. */
  readonly together: readonly (readonly [string, string])[];
  /** For each joint and each way that it has. */
  readonly sweeps: readonly JointSweep[];
}

/**
 * What meets when each joint alone goes from where the joints stand to the ends of its travel.
 * @param ready mm and rad; left out: the ready place
 * @param setting of the machine, where it is asked again and again
 */
export function jointSweeps(
  machine: Machine,
  ready: Float64Array = machine.ready,
  setting: Setting = settingOf(machine),
): Sweeps {
  const pairs = withTip(setting.pairs, setting.bodies);
  const { joints } = machine;
  const here = firstMeeting(setting, pairs, ready, ready);
  const together = takenTogether(setting);
  if (here) return { atReady: namesOf(here), together, sweeps: [] };
  const sweeps = joints.flatMap((joint, j): JointSweep[] => {
    const turn = 2 * Math.PI;
    return [
      Math.max(joint.least, ready[j]! - (joint.endless ? turn : Infinity)),
      Math.min(joint.most, ready[j]! + (joint.endless ? turn : Infinity)),
    ].flatMap((to) => {
      if (to === ready[j]) return [];
      const met = firstMeeting(setting, pairs, ready, ready.with(j, to));
      const at = met && ready[j]! + met.t * (to - ready[j]!);
      return [{ joint: j, to, met: at, bodies: met && namesOf(met) }];
    });
  });
  return { atReady: undefined, together, sweeps };
}

/** A bearing under its table is built so; a pillar that reaches into a cradle is drawn wrong. */
function takenTogether({ bodies, pairs }: Setting): (readonly [string, string])[] {
  const all = [bodies.head, bodies.table, ...bodies.obstacles];
  return all.flatMap((a, i) =>
    all.slice(i + 1).flatMap((b): (readonly [string, string])[] => {
      const kept = pairs.some(
        ({ body, things }) => (body === a && things === b) || (body === b && things === a),
      );
      return kept || a.carrier === b.carrier ? [] : [[a.name, b.name]];
    }),
  );
}
