/**
 * The recount of a motion over time: places alone, at instants that lie close together, from which speed,
 * acceleration and jerk of every joint follow by differences, and the distance from the blocks. Nothing of
 * the formulas that planned the motion is used.
 */
import type { Machine } from '../../lib/machine/machine.js';
import type { JointPolyline } from '../../lib/motion/lay/blocks.js';
import { stateAt } from '../../lib/motion/timing/trajectory.js';
import type { TimeParameterization } from '../../lib/motion/timing/wanted-times.js';

export interface Followed {
  /** Greatest shares of the joints' limits. */
  readonly speed: number;
  readonly acceleration: number;
  readonly jerk: number;
  /** Greatest steps between pieces: mm or rad, and shares of the limits of speed and acceleration. */
  readonly gap: number;
  readonly kick: number;
  readonly bump: number;
  /** Greatest distance of the linear joints from the blocks while no rotary joint turns, mm. */
  readonly off: number;
  readonly seconds: number;
}

/** Steps of a piece; differences of third order reach over three. */
const STEPS = 6;
/** Pieces shorter than this say nothing by differences, s. */
const SHORT = 2e-5;

export function recountFollowed(
  machine: Machine,
  polyline: JointPolyline,
  times: TimeParameterization,
): Followed {
  const n = machine.joints.length;
  const worst = {
    speed: 0,
    acceleration: 0,
    jerk: 0,
    gap: 0,
    kick: 0,
    bump: 0,
    off: 0,
    seconds: 0,
  };
  const [v, a] = [new Float64Array(n), new Float64Array(n)];
  let last: { q: Float64Array; v: number[]; a: number[]; jerky: boolean } | undefined;
  times.follow((piece) => {
    worst.seconds += piece.seconds;
    const h = piece.seconds / STEPS;
    const at = Array.from({ length: STEPS + 1 }, (_, i) => {
      const q = new Float64Array(n);
      stateAt(piece, i * h, q, v, a);
      return q;
    });
    worst.off = Math.max(worst.off, ...at.map((q) => offBlocks(machine, polyline, piece.block, q)));
    if (last)
      at[0]!.forEach((x, j) => (worst.gap = Math.max(worst.gap, Math.abs(x - last!.q[j]!))));
    if (piece.seconds < SHORT) {
      last = undefined;
      return;
    }
    const ends = machine.joints.map((joint, j) => {
      const q = at.map((x) => x[j]!);
      for (let i = 0; i + 1 <= STEPS; i++) {
        worst.speed = Math.max(worst.speed, Math.abs(q[i + 1]! - q[i]!) / h / joint.speed);
      }
      for (let i = 1; i < STEPS; i++) {
        const second = (q[i + 1]! - 2 * q[i]! + q[i - 1]!) / h ** 2;
        worst.acceleration = Math.max(worst.acceleration, Math.abs(second) / joint.acceleration);
      }
      for (let i = 0; i + 3 <= STEPS; i++) {
        const third = (q[i + 3]! - 3 * q[i + 2]! + 3 * q[i + 1]! - q[i]!) / h ** 3;
        // Places are known to about 1e-13 of 100 mm.
        const noise = 1e-12 / h ** 3;
        worst.jerk = Math.max(worst.jerk, (Math.abs(third) - noise) / joint.jerk);
      }
      const first = (k: number, s: 1 | -1): number =>
        (s * (-11 * q[k]! + 18 * q[k + s]! - 9 * q[k + 2 * s]! + 2 * q[k + 3 * s]!)) / (6 * h);
      const second = (k: number, s: 1 | -1): number =>
        (2 * q[k]! - 5 * q[k + s]! + 4 * q[k + 2 * s]! - q[k + 3 * s]!) / h ** 2;
      return { v0: first(0, 1), v1: first(STEPS, -1), a0: second(0, 1), a1: second(STEPS, -1) };
    });
    machine.joints.forEach((joint, j) => {
      if (!last) return;
      worst.kick = Math.max(worst.kick, Math.abs(ends[j]!.v0 - last.v[j]!) / joint.speed);
      if (joint.jerk < Infinity && last.jerky && h > 10 * SHORT) {
        worst.bump = Math.max(worst.bump, Math.abs(ends[j]!.a0 - last.a[j]!) / joint.acceleration);
      }
    });
    last = {
      q: at[STEPS]!,
      v: ends.map((e) => e.v1),
      a: ends.map((e) => e.a1),
      jerky: h > 10 * SHORT,
    };
  });
  return worst;
}

/** Distance of the linear joints from a block and the ones beside it; 0 where a rotary joint turns. */
function offBlocks(
  machine: Machine,
  { jointCount: n, from, joints }: JointPolyline,
  b: number,
  q: Float64Array,
): number {
  const linear = machine.joints
    .map((_, j) => j)
    .filter((j) => machine.joints[j]!.kind === 'linear');
  const knot = (i: number, j: number): number => (i < 0 ? from[j]! : joints[i * n + j]!);
  const count = joints.length / n;
  let least = Infinity;
  for (let i = Math.max(0, b - 1); i <= Math.min(count - 1, b + 1); i++) {
    const turns = machine.joints.some(
      (joint, j) => joint.kind === 'rotary' && knot(i, j) !== knot(i - 1, j),
    );
    if (turns) return 0;
    let [dot, square] = [0, 0];
    for (const j of linear) {
      const way = knot(i, j) - knot(i - 1, j);
      dot += (q[j]! - knot(i - 1, j)) * way;
      square += way * way;
    }
    const t = square > 0 ? Math.min(1, Math.max(0, dot / square)) : 0;
    const off = Math.hypot(
      ...linear.map((j) => q[j]! - knot(i - 1, j) - t * (knot(i, j) - knot(i - 1, j))),
    );
    least = Math.min(least, off);
  }
  return least;
}
