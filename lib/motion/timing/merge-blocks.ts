/**
 * Blocks that are too small for a machine to notice are merged, such that no joint value left out strays
 * from the straight line between those kept by more than a tolerance. A corner that is spread over several
 * tiny blocks then counts as the one corner that it is. Only blocks of one path and with the same wanted
 * section and speed are merged.
 */
import { uint32List } from '../../base/ragged.js';
import type { MotionBlocks, JointPolyline } from '../lay/blocks.js';
import { MoveKind } from '../motion.js';
import { lengthOver, weightsOf } from './path-limits.js';
import type { Machine } from '../../machine/machine.js';

/** Most blocks that are merged into one. */
const MOST_MERGED = 24;
/** Sections and speeds that differ by a smaller share count as the same. */
const SAME_WANT = 0.05;

export interface MergedBlocks {
  readonly blocks: MotionBlocks;
  /** Block c stands for the blocks `start[c] .. start[c + 1]`. */
  readonly start: Uint32Array;
}

/** @param tolerance mm; a radian counts as in the route */
export function mergeBlocks(machine: Machine, fine: MotionBlocks, tolerance: number): MergedBlocks {
  const start = mergedOffsets(machine, fine, (a, b) => alike(fine, a, b), tolerance);
  return { blocks: joined(fine, start), start };
}

/** Offsets of the blocks to be merged: `alike` says whether two of them want the same. */
export function mergedOffsets(
  machine: Machine,
  fine: JointPolyline,
  alike: (a: number, b: number) => boolean,
  tolerance: number,
): Uint32Array {
  const n = fine.joints.length / fine.jointCount;
  const list = uint32List(n / 2 + 16);
  const strays = strayer(fine, weightsOf(machine), tolerance);
  for (let a = 0; a < n;) {
    list.push(a);
    let b = a + 1;
    while (b < n && b - a < MOST_MERGED && alike(a, b) && !strays(a, b + 1)) b++;
    a = b;
  }
  list.push(n);
  return list.take();
}

/** True if two wanted values are the same, near enough. */
export const close = (x: number, y: number): boolean =>
  Math.abs(x - y) <= SAME_WANT * Math.max(x, y);

function alike(f: MotionBlocks, a: number, b: number): boolean {
  return (
    f.kind[a] === f.kind[b] &&
    f.kind[b] !== MoveKind.filament &&
    f.pathKind[a] === f.pathKind[b] &&
    f.layer[a] === f.layer[b] &&
    f.region[a] === f.region[b] &&
    close(f.speed[a]!, f.speed[b]!) &&
    close(f.section[a]!, f.section[b]!)
  );
}

/** True if some end of the blocks a .. b - 2 is too far from the straight line over a .. b - 1. */
function strayer(
  f: JointPolyline,
  weight: readonly number[],
  tolerance: number,
): (a: number, b: number) => boolean {
  const n = f.jointCount;
  const along = new Float64Array(n);
  const at = (b: number, j: number): number => (b < 0 ? f.from[j]! : f.joints[b * n + j]!);
  return (a, b) => {
    let square = 0;
    for (let j = 0; j < n; j++) {
      along[j] = (at(b - 1, j) - at(a - 1, j)) * weight[j]!;
      square += along[j]! ** 2;
    }
    // There and back again is no straight line at all.
    if (!(square > 0)) return true;
    let last = 0;
    for (let i = a; i < b - 1; i++) {
      let [dot, far] = [0, 0];
      for (let j = 0; j < n; j++) {
        const off = (at(i, j) - at(a - 1, j)) * weight[j]!;
        dot += off * along[j]!;
        far += off * off;
      }
      // Only forwards: what turns back is no straight line.
      if (!(dot >= last && dot <= square)) return true;
      last = dot;
      if (far - (dot * dot) / square > tolerance * tolerance) return true;
    }
    return false;
  };
}

/** The path over the ends of merged blocks only. */
export function endsOfMerged(
  { jointCount: n, from, joints }: JointPolyline,
  start: Uint32Array,
): JointPolyline {
  const out = new Float64Array((start.length - 1) * n);
  for (let c = 0; c + 1 < start.length; c++) {
    const end = start[c + 1]! * n;
    out.set(joints.subarray(end - n, end), c * n);
  }
  return { jointCount: n, from, joints: out };
}

function joined(f: MotionBlocks, start: Uint32Array): MotionBlocks {
  const count = start.length - 1;
  const out = {
    ...endsOfMerged(f, start),
    kind: new Uint8Array(count),
    filament: new Float64Array(count),
    length: new Float64Array(count),
    region: new Uint32Array(count),
    layer: new Uint32Array(count),
    pathKind: new Uint8Array(count),
    speed: new Float64Array(count).fill(Infinity),
    section: new Float64Array(count),
  };
  for (let c = 0; c < count; c++) {
    const a = start[c]!;
    const b = start[c + 1]!;
    out.kind[c] = f.kind[a]!;
    out.region[c] = f.region[a]!;
    out.layer[c] = f.layer[a]!;
    out.pathKind[c] = f.pathKind[a]!;
    for (let i = a; i < b; i++) {
      out.filament[c]! += f.filament[i]!;
      out.length[c]! += f.length[i]!;
      out.speed[c] = Math.min(out.speed[c]!, f.speed[i]!);
      out.section[c] = Math.max(out.section[c]!, f.section[i]!);
    }
  }
  return out;
}

/**
 * The times of the merged blocks shared out by length; no block is asked for more than its joints'
 * speed, though it may run a little askew of the merged block that stands for it.
 */
export function sharedOut(
  machine: Machine,
  fine: MotionBlocks,
  { start }: MergedBlocks,
  seconds: Float64Array,
): Float64Array {
  const n = fine.jointCount;
  const weight = weightsOf(machine);
  const out = new Float64Array(fine.kind.length);
  for (let c = 0; c < seconds.length; c++) {
    const a = start[c]!;
    const b = start[c + 1]!;
    if (b === a + 1) {
      out[a] = seconds[c]!;
      continue;
    }
    let sum = 0;
    for (let i = a; i < b; i++) sum += out[i] = lengthOver(fine, weight, i);
    for (let i = a; i < b; i++) {
      let least = 0;
      for (let j = 0; j < n; j++) {
        const step = Math.abs(
          fine.joints[i * n + j]! - (i ? fine.joints[i * n - n + j]! : fine.from[j]!),
        );
        least = Math.max(least, step / machine.joints[j]!.speed);
      }
      out[i] = Math.max(least, (out[i]! / sum) * seconds[c]!);
    }
  }
  return out;
}

/** A quantity of each merged block, divided among its blocks in proportion to their times at the feed. */
export function inShares(
  { start }: MergedBlocks,
  whole: Float64Array,
  seconds: Float64Array,
): Float64Array {
  const out = new Float64Array(seconds.length);
  for (let c = 0; c < whole.length; c++) {
    const [a, b] = [start[c]!, start[c + 1]!];
    let sum = 0;
    for (let i = a; i < b; i++) sum += seconds[i]!;
    for (let i = a; i < b; i++) {
      out[i] = whole[c]! * (sum > 0 ? seconds[i]! / sum : 1 / (b - a));
    }
  }
  return out;
}
