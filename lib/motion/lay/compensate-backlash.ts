/**
 * Compensation of the play of linear joints, for a controller that knows nothing of it. A value that a
 * joint reaches from below is where it stands; one that it reaches from above it overruns by its play, so
 * there the commanded value is lower by the play.
 *
 * Where a joint reverses while material is laid, a block of its own passes the play first: the joint's
 * drive runs to the other flank and the tip stands still. Elsewhere the next move takes it up. The
 * alternative, to spread the play over the block after the reversal, needs no extra block, but the tip then
 * leaves a slanting bead by up to the play times the sine of its slant.
 */
import { jointsOf } from '../../machine/joint-chain.js';
import type { Machine } from '../../machine/machine.js';
import { BlockList, type MotionBlocks, NO_PATH } from './blocks.js';
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

/**
 * @param tolerance by how much a joint may come back before it counts as reversed, mm
 * @param speed of the tip asked for in the blocks that pass the play, mm/s
 */
export function compensateBacklash(
  machine: Machine,
  blocks: MotionBlocks,
  tolerance: number,
  speed: number,
): CompensatedBlocks {
  const { jointCount: n, kind } = blocks;
  const flanks = jointsOf(machine, 'linear').flatMap((j) => {
    const play = machine.joints[j]!.backlash;
    return play > 0 ? [new Flank(j, play, Math.min(tolerance, play), blocks.from[j]!)] : [];
  });
  const out = new BlockList(blocks.from);
  const at = new Uint32Array(kind.length);
  for (let b = 0; b < kind.length; b++) {
    const commanded = blocks.joints.slice(b * n, b * n + n);
    let turned = 0;
    const pass = out.now.slice();
    for (const flank of flanks) {
      const by = flank.follow(commanded[flank.joint]!);
      turned += Math.abs(by);
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

/** On which flank of its play a joint lies. */
class Flank {
  readonly joint: number;
  readonly #play: number;
  readonly #tolerance: number;
  #rises = true;
  /** Farthest value since it last reversed. */
  #farthest: number;

  constructor(joint: number, play: number, tolerance: number, from: number) {
    this.joint = joint;
    this.#play = play;
    this.#tolerance = tolerance;
    this.#farthest = from;
  }

  /** What is added to the commanded values, mm. */
  get shift(): number {
    return this.#rises ? 0 : -this.#play;
  }

  /** Goes on to a value. @returns by how much the shift changes */
  follow(value: number): number {
    const back = this.#rises ? this.#farthest - value : value - this.#farthest;
    if (back > 0 && back <= this.#tolerance) return 0;
    this.#farthest = value;
    if (back <= 0) return 0;
    this.#rises = !this.#rises;
    return this.#rises ? this.#play : -this.#play;
  }
}
