/**
 * Blocks that are too small for a machine to notice, taken together: blocks come in, fewer blocks whose
 * ends lie on the same path go out, so that no joint value left out strays from the straight way
 * between those kept by more than a tolerance. A corner that is spread over several tiny blocks then
 * counts as the one corner that it is. Only blocks of one path and one wish are taken together.
 */
import { uint32List } from '../base/ragged.js';
import { type Blocks } from './blocks.js';
import { MoveKind } from './motion.js';
import { weightsOf } from './route.js';
import type { Machine } from '../machine/machine.js';

/** At most so many blocks are taken together. */
const MOST = 24;
/** Sections and speeds that differ by less are the same wish, as a share. */
const SAME = 0.05;

export interface Coarse {
  readonly blocks: Blocks;
  /** Block c stands for the blocks `start[c] .. start[c + 1]`. */
  readonly start: Uint32Array;
}

/** @param tolerance mm; a radian counts as in the route */
export function coarsened(machine: Machine, fine: Blocks, tolerance: number): Coarse {
  const list = uint32List(fine.kind.length / 2 + 16);
  const strays = strayer(fine, weightsOf(machine), tolerance);
  const n = fine.kind.length;
  for (let a = 0; a < n;) {
    list.push(a);
    let b = a + 1;
    while (b < n && b - a < MOST && alike(fine, a, b) && !strays(a, b + 1)) b++;
    a = b;
  }
  list.push(n);
  const start = list.take();
  return { blocks: joined(fine, start), start };
}

function alike(f: Blocks, a: number, b: number): boolean {
  const close = (x: number, y: number): boolean => Math.abs(x - y) <= SAME * Math.max(x, y);
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

/** True if some end of the blocks a .. b - 2 is too far from the straight way over a .. b - 1. */
function strayer(
  f: Blocks,
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
    // There and back again is no straight way at all.
    if (!(square > 0)) return true;
    let last = 0;
    for (let i = a; i < b - 1; i++) {
      let [dot, far] = [0, 0];
      for (let j = 0; j < n; j++) {
        const off = (at(i, j) - at(a - 1, j)) * weight[j]!;
        dot += off * along[j]!;
        far += off * off;
      }
      // On the way forwards only: what turns back is no straight way.
      if (!(dot >= last && dot <= square)) return true;
      last = dot;
      if (far - (dot * dot) / square > tolerance * tolerance) return true;
    }
    return false;
  };
}

function joined(f: Blocks, start: Uint32Array): Blocks {
  const count = start.length - 1;
  const n = f.jointCount;
  const out = {
    jointCount: n,
    from: f.from,
    joints: new Float64Array(count * n),
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
    for (let j = 0; j < n; j++) out.joints[c * n + j] = f.joints[(b - 1) * n + j]!;
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
 * The times of the coarse blocks shared out by length; no block is asked for more than its joints'
 * speed, though it may run a little askew of the way that stands for it.
 */
export function sharedOut(
  machine: Machine,
  fine: Blocks,
  { start }: Coarse,
  seconds: Float64Array,
): Float64Array {
  const n = fine.jointCount;
  const out = new Float64Array(fine.kind.length);
  for (let c = 0; c < seconds.length; c++) {
    const a = start[c]!;
    const b = start[c + 1]!;
    if (b === a + 1) {
      out[a] = seconds[c]!;
      continue;
    }
    let sum = 0;
    for (let i = a; i < b; i++) sum += out[i] = wayOf(fine, weightsOf(machine), i);
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

function wayOf(f: Blocks, weight: readonly number[], b: number): number {
  const n = f.jointCount;
  let sum = 0;
  for (let j = 0; j < n; j++) {
    const step = f.joints[b * n + j]! - (b ? f.joints[b * n - n + j]! : f.from[j]!);
    sum += (step * weight[j]!) ** 2;
  }
  return Math.sqrt(sum);
}
