/**
 * A joint path found by sampling: two trees of joint values grow from both ends towards random values and
 * towards each other until they meet (RRT-connect; Kuffner and LaValle, ICRA 2000, from memory), and the
 * chain is then shortened where a straight move between two of its knots is free. Joints are measured by
 * the time they take, so a step is RRT_STEP seconds of the slowest joint. Seed and budget are fixed: the
 * same job gives the same path.
 */
import { seeded } from '../../base/random.js';
import type { Joint } from '../../machine/machine.js';
import type { ClearMove } from './clear-move.js';

export const RRT_SEED = 20;
/** Moves that are checked before the search gives up. */
export const RRT_BUDGET = 1500;
/** s */
const RRT_STEP = 0.4;
/** Attempts to shorten the chain. */
const PULLS = 120;

interface TreeNode {
  readonly joints: Float64Array;
  readonly from: TreeNode | undefined;
}

/** Joint values between from and to, both left out; undefined if none is found within the budget. */
export function explore(
  free: ClearMove,
  from: Float64Array,
  to: Float64Array,
): Float64Array[] | undefined {
  const { joints } = free.scene.setting.machine;
  const random = seeded(RRT_SEED);
  let judged = 0;
  let a: TreeNode[] = [{ joints: from, from: undefined }];
  let b: TreeNode[] = [{ joints: to, from: undefined }];
  const step = (tree: TreeNode[], goal: Float64Array): TreeNode | undefined => {
    const near = nearest(joints, tree, goal);
    const far = seconds(joints, near.joints, goal);
    const share = Math.min(1, RRT_STEP / far);
    const next = near.joints.map((x, j) => (share === 1 ? goal[j]! : x + share * (goal[j]! - x)));
    judged++;
    if (free.trouble(near.joints, next)) return undefined;
    const node = { joints: next, from: near };
    tree.push(node);
    return node;
  };
  while (judged < RRT_BUDGET) {
    const grown = step(a, sample(joints, from, to, random));
    if (grown) {
      let met = step(b, grown.joints);
      while (met && judged < RRT_BUDGET && seconds(joints, met.joints, grown.joints) > 0) {
        met = step(b, grown.joints);
      }
      if (met && seconds(joints, met.joints, grown.joints) === 0) {
        const [first, last] = a[0]!.joints === from ? [grown, met] : [met, grown];
        const path = [...back(first).reverse(), ...back(last).slice(1)];
        return pulled(free, path, random).slice(1, -1);
      }
    }
    [a, b] = [b, a];
  }
  return undefined;
}

function back(node: TreeNode): Float64Array[] {
  const out: Float64Array[] = [];
  for (let n: TreeNode | undefined = node; n; n = n.from) out.push(n.joints);
  return out;
}

/** Time in which the slowest joint gets from a to b at full speed, s. */
const seconds = (joints: readonly Joint[], a: Float64Array, b: Float64Array): number =>
  joints.reduce((most, j, i) => Math.max(most, Math.abs(b[i]! - a[i]!) / j.speed), 0);

function nearest(
  joints: readonly Joint[],
  tree: readonly TreeNode[],
  goal: Float64Array,
): TreeNode {
  let best = tree[0]!;
  let least = Infinity;
  for (const node of tree) {
    const far = seconds(joints, node.joints, goal);
    if (far < least) [best, least] = [node, far];
  }
  return best;
}

/** Anywhere in the travel; an endless joint up to a turn beyond both ends. */
const sample = (
  joints: readonly Joint[],
  a: Float64Array,
  b: Float64Array,
  random: () => number,
): Float64Array =>
  Float64Array.from(joints, (j, i) => {
    const low = Math.max(j.least, Math.min(a[i]!, b[i]!) - 2 * Math.PI);
    const high = Math.min(j.most, Math.max(a[i]!, b[i]!) + 2 * Math.PI);
    return j.kind === 'linear'
      ? j.least + random() * (j.most - j.least)
      : low + random() * (high - low);
  });

/** Leaves out what lies between two knots where the straight move between them is free. */
function pulled(free: ClearMove, path: Float64Array[], random: () => number): Float64Array[] {
  let out = path;
  for (let n = 0; n < PULLS && out.length > 2; n++) {
    const i = Math.floor(random() * (out.length - 2));
    const j = i + 2 + Math.floor(random() * (out.length - i - 2));
    if (!free.trouble(out[i]!, out[j]!)) out = [...out.slice(0, i + 1), ...out.slice(j)];
  }
  return out;
}
