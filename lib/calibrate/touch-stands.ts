/**
 * Where the joints stand at a touch, from the values that it reads: by what the machine file knows of give and
 * flanks (machine/standing-joints.ts), and by two unknowns that a fit may add for each rotary joint.
 *
 *   wind-up  further give, proportional to the change of the joint's load since the ready values; it needs the
 *            weights, for they make the pattern over the poses
 *   play     further play, which shows where the load holds the joint on its upper flank and not where it is
 *            held on the lower one or, by its friction, has come from below
 *
 * The loads are those of the machine as drawn: an axis that is a millimetre off changes them by less than a
 * hundredth, and so the wind-up by less than a touch can show.
 */
import { greatestLoads } from '../machine/hold-check.js';
import { jointsOf } from '../machine/joint-chain.js';
import type { Machine } from '../machine/machine.js';
import { RestLoads } from '../machine/rest-loads.js';
import {
  type HeldFlank,
  StandingJoints,
  flankHeld,
  statesWeights,
} from '../machine/standing-joints.js';

/** Of a load this many times the friction both flanks are found within the tilts that are touched. */
const LEAST_OVER_FRICTION = 3;
/** Friction is known to this factor (common practice, no source). */
const FRICTION_SPREAD = 1.3;
/** A joint winds up if its load changes by this over the travels, N m. */
const LEAST_CHANGE = 0.1;

/** Of each joint: further give, rad/(N m), and further play, rad. */
export interface Slack {
  readonly give: Float64Array;
  readonly play: Float64Array;
}

/** What one unit of slack moves the joints of a touch by. */
interface SlackPattern {
  /** rad for 1 rad/(N m) of further give. */
  readonly byGive: Float64Array;
  /** rad for 1 rad of further play. */
  readonly byPlay: Float64Array;
}

/** The same, and how far the joints stand from what they are told by the file alone. */
interface KnownPattern extends SlackPattern {
  readonly off: Float64Array;
}

export class TouchStands {
  /** Joints that wind up, indices in `Machine.joints`, with the greatest change of their load, N m. */
  readonly winding: readonly { readonly joint: number; readonly load: number }[];
  /** Joints whose load may choose the flank. */
  readonly loose: readonly number[];
  readonly #machine: Machine;
  readonly #standing: StandingJoints | undefined;
  readonly #loads: RestLoads | undefined;
  readonly #ready: Float64Array;
  readonly #rotary: readonly number[];
  /** By rotary values. */
  readonly #known = new Map<string, KnownPattern>();

  constructor(machine: Machine) {
    this.#machine = machine;
    this.#rotary = jointsOf(machine, 'rotary');
    const weighs = statesWeights(machine);
    this.#loads = weighs ? new RestLoads(machine) : undefined;
    this.#ready = this.#loads?.at(machine.ready).slice() ?? new Float64Array(0);
    this.#standing = StandingJoints.of(machine);
    const loads = weighs ? greatestLoads(machine) : undefined;
    this.winding = this.#rotary.flatMap((joint) => {
      const load = loads?.[joint] ?? 0;
      return load >= LEAST_CHANGE ? [{ joint, load }] : [];
    });
    this.loose = this.winding.flatMap(({ joint, load }) => {
      const friction = this.#frictionOf(joint);
      return friction !== undefined && load > LEAST_OVER_FRICTION * friction ? [joint] : [];
    });
  }

  /** Where the joints stand that a touch has told these values. */
  told(joints: ArrayLike<number>, slack: Slack): Float64Array {
    const known = this.#at(joints);
    return moved(joints, known, slack, known.off);
  }

  /** By the slack alone, of joints that stand there without it. */
  stood(joints: ArrayLike<number>, slack: Slack): Float64Array {
    return moved(joints, this.#slackAt(joints), slack);
  }

  /**
   * On which flank joint j lies where it stands so, a torque of `moment` N m in its rising sense added to its
   * load; 0 where the way of arrival decides, undefined where the load is near the friction.
   */
  heldWith(joints: ArrayLike<number>, j: number, moment: number): HeldFlank | undefined {
    const friction = this.#frictionOf(j);
    if (friction === undefined || !this.#loads) return 0;
    const load = this.#loads.at(joints)[j]! - moment;
    const held = flankHeld(load, FRICTION_SPREAD * friction);
    return held === flankHeld(load, friction / FRICTION_SPREAD) ? held : undefined;
  }

  #at(joints: ArrayLike<number>): KnownPattern {
    const key = this.#rotary.map((j) => joints[j]).join();
    let known = this.#known.get(key);
    if (!known) {
      const stands = Float64Array.from(joints);
      if (this.#standing) standHeld(this.#standing, joints, stands);
      known = { ...this.#slackAt(stands), off: stands.map((v, j) => v - joints[j]!) };
      this.#known.set(key, known);
    }
    return known;
  }

  #slackAt(stands: ArrayLike<number>): SlackPattern {
    const byGive = new Float64Array(stands.length);
    const byPlay = new Float64Array(stands.length);
    const loads = this.#loads?.at(stands);
    for (const { joint } of this.winding) byGive[joint] = this.#ready[joint]! - loads![joint]!;
    for (const j of this.loose) {
      const friction = this.#frictionOf(j)!;
      const upper = (load: number): number => (flankHeld(load, friction) > 0 ? 1 : 0);
      byPlay[j] = upper(loads![j]!) - upper(this.#ready[j]!);
    }
    return { byGive, byPlay };
  }

  #frictionOf(j: number): number | undefined {
    const { drives, dialect } = this.#machine;
    return dialect.play === 'controller' ? undefined : drives?.joints[j]!.friction;
  }
}

const moved = (
  joints: ArrayLike<number>,
  { byGive, byPlay }: SlackPattern,
  { give, play }: Slack,
  off?: Float64Array,
): Float64Array =>
  Float64Array.from(
    joints,
    (v, j) => v + (off?.[j] ?? 0) + byGive[j]! * give[j]! + byPlay[j]! * play[j]!,
  );

/** Where joints stand that come from below to what they are told, each held by its load. */
function standHeld(standing: StandingJoints, told: ArrayLike<number>, out: Float64Array): void {
  standing.standInto(told, out, 0);
  const driven = Float64Array.from(
    told,
    (v, j) => v + standing.flankOf(standing.heldAt(out, 0, j), j),
  );
  standing.standInto(driven, out, 0);
}
