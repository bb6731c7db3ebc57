/**
 * Play of the rotary joints: in a transfer every joint that has play arrives from below, past its value by
 * twice the play and then up to it. All regions are then printed on the same side of the play, and so are
 * the touches of a calibration; inside a region the rotary joints stand still, so no play is passed there.
 */
import { ClearMove } from './clear-move.js';
import type { Scene } from '../../clearance/scene.js';
import type { Transfer } from './transfer.js';

export interface TakenUp {
  readonly transfer: Transfer;
  /** Joints, indices in `Machine.joints`, for which there is no room to come from below. */
  readonly missed: readonly number[];
}

/**
 * @param known false before the first region: it is not known on which side the start lines have left
 *   the play
 */
export function takeUpBacklash(
  scene: Scene,
  start: Float64Array,
  transfer: Transfer,
  known: boolean,
): TakenUp {
  const { machine } = scene.setting;
  const { knots } = transfer;
  const over = knots.at(-2);
  const late = machine.joints.flatMap((joint, j) =>
    joint.kind === 'rotary' && joint.backlash > 0 && comesDown([start, ...knots], j, known)
      ? [j]
      : [],
  );
  if (!over || late.length === 0 || transfer.trouble) return { transfer, missed: [] };
  const free = new ClearMove(scene, transfer.kept / machine.clearance);
  const before = knots.at(-3) ?? start;
  const past = over.slice();
  for (const j of late) past[j]! -= 2 * machine.joints[j]!.backlash;
  if (free.trouble(before, past) || free.trouble(past, over)) {
    return { transfer, missed: late };
  }
  return {
    transfer: { ...transfer, knots: [...knots.slice(0, -2), past, ...knots.slice(-2)] },
    missed: [],
  };
}

/** True if the last turn of joint j goes down, or if it does not turn and nothing is known of it. */
function comesDown(chain: readonly Float64Array[], j: number, known: boolean): boolean {
  for (let i = chain.length - 1; i > 0; i--) {
    const step = chain[i]![j]! - chain[i - 1]![j]!;
    if (Math.abs(step) > 1e-12) return step < 0;
  }
  return !known;
}
