/**
 * What the drives are told so that joints with play stand where a motion wants them.
 *
 * A joint that its load holds on one flank stays there, whatever way it comes: its value is lower by the play
 * on the upper flank (machine/standing-joints.ts). Of the others the way of arrival decides. Rotary joints
 * come from below (transfer/take-up-backlash.ts). Linear joints are compensated where the controller knows
 * nothing of their play: a value that a joint reaches from below is where it stands; one that it reaches from
 * above it overruns by its play, so there the commanded value is lower by the play.
 *
 * Where a joint changes its flank while material is laid, a block of its own passes the play first: the
 * joint's drive runs to the other flank and the tip stands still. Elsewhere the next move takes it up. The
 * alternative, to spread the play over the block after the reversal, needs no extra block, but the tip then
 * leaves a slanting bead by up to the play times the sine of its slant.
 */
import { ArrivalSide } from '../../machine/arrival-side.js';
import type { Machine } from '../../machine/machine.js';
import type { Material } from '../../machine/material.js';
import { type HeldFlank, StandingJoints, flankIsKnown } from '../../machine/standing-joints.js';
import type { MotionRules } from '../rules.js';
import { BlockList, type MotionBlocks, NO_PATH } from './blocks.js';
import { drivenBlocks } from './driven-blocks.js';
import { MoveKind } from '../motion.js';

export interface CompensatedBlocks {
  readonly blocks: MotionBlocks;
  /** New index of each original block. */
  readonly at: Uint32Array;
}

/** True if the program compensates the play of some linear joint. */
export const compensatesBacklash = (machine: Machine): boolean =>
  machine.dialect.play === 'program' &&
  machine.joints.some((j) => j.kind === 'linear' && j.backlash > 0);

/**
 * The machine with the travel that is left where values reached from above are commanded lower by the play.
 */
export const withRoom = (machine: Machine): Machine => ({
  ...machine,
  joints: machine.joints.map((j) =>
    j.kind === 'linear' ? { ...j, least: j.least + j.backlash } : j,
  ),
});

/** How far the tip may be off before the drives follow a give that grows with the part, as a share of the chord error. */
const FOLLOWED_SHARE = 0.3;

/**
 * The blocks as the drives are told them; undefined where they are told what the motion wants.
 * @param blocks with the values at which the joints are to stand
 */
export function toldBlocks(
  machine: Machine,
  blocks: MotionBlocks,
  { density }: Pick<Material, 'density'>,
  { chordError, speed }: MotionRules,
): CompensatedBlocks | undefined {
  const standing = StandingJoints.of(machine);
  if (!standing && !compensatesBacklash(machine)) return undefined;
  const driven =
    standing && drivenBlocks(standing, machine, blocks, density, FOLLOWED_SHARE * chordError);
  const holds = standing && driven && { held: driven.held, standing };
  return compensateBacklash(machine, driven?.blocks ?? blocks, chordError, speed.link, holds);
}

/** Flanks on which loads hold the joints. */
interface HeldJoints {
  /** A `HeldFlank` per joint and block. */
  readonly held: Int8Array;
  readonly standing: Pick<StandingJoints, 'flankOf'>;
}

/**
 * @param tolerance by how much a joint may come back before it counts as reversed, mm
 * @param speed of the tip asked for in the blocks that pass the play, mm/s
 * @param holds left out: no load holds a joint
 */
export function compensateBacklash(
  machine: Machine,
  blocks: MotionBlocks,
  tolerance: number,
  speed: number,
  holds?: HeldJoints,
): CompensatedBlocks {
  const { jointCount: n, kind } = blocks;
  const flanks = machine.joints.flatMap(({ kind: sort, backlash: play }, j) => {
    const arrives = sort === 'linear' && machine.dialect.play === 'program';
    if (!(play > 0 && (arrives || (holds && flankIsKnown(machine, j))))) return [];
    const lower = holds?.standing.flankOf(0, j) ?? 0;
    const allowed = arrives ? Math.min(tolerance, play) : undefined;
    return [new Flank(j, play, lower, allowed, blocks.from[j]!)];
  });
  const out = new BlockList(blocks.from);
  const at = new Uint32Array(kind.length);
  for (let b = 0; b < kind.length; b++) {
    const commanded = blocks.joints.slice(b * n, b * n + n);
    let turned = 0;
    const pass = out.now.slice();
    for (const flank of flanks) {
      const held = (holds?.held[b * n + flank.joint] ?? 0) as HeldFlank;
      const by = flank.follow(commanded[flank.joint]!, held);
      turned += Math.abs(by) * (machine.joints[flank.joint]!.kind === 'rotary' ? LEVER : 1);
      pass[flank.joint]! += by;
      commanded[flank.joint]! += flank.shift;
    }
    const tag = { region: blocks.region[b]!, layer: blocks.layer[b]! };
    if (turned > 0 && kind[b] === MoveKind.deposit) {
      out.push(pass, turned, 0, 0, { ...tag, kind: MoveKind.link, pathKind: NO_PATH, speed });
    }
    at[b] = out.count;
    out.push(commanded, blocks.length[b]!, blocks.section[b]!, blocks.filament[b]!, {
      ...tag,
      kind: kind[b] as MoveKind,
      pathKind: blocks.pathKind[b]!,
      speed: blocks.speed[b]!,
    });
  }
  return { blocks: out.take(), at };
}

/** A turn of 1 rad counts as this, mm, for the time in which play is passed. */
const LEVER = 100;

/** On which flank of its play a joint lies. */
class Flank {
  readonly joint: number;
  readonly #play: number;
  /** How far the joint stands over its value on its lower flank, mm or rad. */
  readonly #lower: number;
  /** Undefined for a joint that comes from below wherever no load holds it. */
  readonly #tolerance: number | undefined;
  /** Reached from below it lies on its lower flank. */
  readonly #arrival: ArrivalSide;

  constructor(
    joint: number,
    play: number,
    lower: number,
    tolerance: number | undefined,
    from: number,
  ) {
    this.joint = joint;
    this.#play = play;
    this.#lower = lower;
    this.#tolerance = tolerance;
    this.#arrival = new ArrivalSide(from);
  }

  /** What is added to the commanded values, mm or rad. */
  get shift(): number {
    return (this.#arrival.isFromBelow ? 0 : -this.#play) - this.#lower;
  }

  /** Goes on to a value, where a load may hold the joint. @returns by how much the shift changes */
  follow(value: number, held: HeldFlank): number {
    const before = this.shift;
    const chosen = held !== 0 || this.#tolerance === undefined;
    if (chosen) this.#arrival.choose(held <= 0, value);
    else this.#arrival.go(value, this.#tolerance);
    return this.shift - before;
  }
}
