/**
 * Runs in which the head turns or climbs while it lays: curved layers. Told by direction alone such a run falls into
 * as many as it has blocks; here those are joined into one, together with the few level layers that lie among them,
 * and what the head turns on the way from bead to bead inside of it is a link and no transfer.
 */
import { SAME_BUILD_DIRECTION, TraceKind } from './trace-kind.js';

/** A block that rises or falls along the head by more than this, and this share of its length, climbs; mm. */
const CLIMB = 6e-4;
const CLIMBING_SLOPE = 2e-3;
/** A run climbs if so much of its length does. */
const CLIMBING_SHARE = 0.2;
/** Levels that differ by less are one, mm. */
const ONE_LEVEL = 0.02;
/** A run of at least so many levels in one direction is one of flat layers, whatever lies about it. */
const FLAT_LEVELS = 3;

/** Of each block its kind and run, of each run its first deposit; the rest as in `Trace`. */
interface RunParts {
  readonly kind: Uint8Array;
  readonly run: Uint32Array;
  readonly runStart: Uint32Array;
}

interface Parts extends RunParts {
  readonly tip: Float64Array;
  readonly direction: Float64Array;
  readonly length: Float64Array;
}

/** Kinds and runs with those of curved layers joined, and for each run 1 if it is of that sort. */
export function joinTurning(trace: Parts): RunParts & { readonly turning: Uint8Array } {
  const { kind, run, runStart } = trace;
  const curved = bridged(trace, curvedRuns(trace));
  if (!curved.includes(1)) return { kind, run, runStart, turning: curved };
  const number = new Uint32Array(runStart.length);
  const starts: number[] = [];
  const turning: number[] = [];
  runStart.forEach((first, r) => {
    const goesOn = r > 0 && curved[r] === 1 && curved[r - 1] === 1;
    if (!goesOn) {
      starts.push(first);
      turning.push(curved[r]!);
    }
    number[r] = starts.length - 1;
  });
  const joined = run.map((r) => number[r]!);
  const kinds = kind.map((k, b) => {
    const within = turning[joined[b]!] === 1 && b > starts[joined[b]!]!;
    const last = b + 1 < kind.length && joined[b + 1] === joined[b];
    return k === TraceKind.transfer && within && last ? TraceKind.link : k;
  });
  return {
    kind: kinds,
    run: joined,
    runStart: Uint32Array.from(starts),
    turning: Uint8Array.from(turning),
  };
}

/** For each run 1 if the head turns while it lays, or, where it does so in another one, climbs on much of it. */
function curvedRuns({ kind, tip, direction, length, run, runStart }: Parts): Uint8Array {
  const turned = new Uint8Array(runStart.length);
  const laid = new Float64Array(runStart.length);
  const climbing = new Float64Array(runStart.length);
  for (let b = Math.max(1, runStart[0] ?? kind.length); b < kind.length; b++) {
    if (kind[b] !== TraceKind.deposit) continue;
    const r = run[b]!;
    const [i, k] = [3 * b, 3 * b - 3];
    let [cosine, rise] = [0, 0];
    for (let c = 0; c < 3; c++) {
      cosine += direction[i + c]! * direction[k + c]!;
      rise += direction[i + c]! * (tip[i + c]! - tip[k + c]!);
    }
    if (cosine < SAME_BUILD_DIRECTION) turned[r] = 1;
    laid[r]! += length[b]!;
    if (Math.abs(rise) > CLIMB + CLIMBING_SLOPE * length[b]!) climbing[r]! += length[b]!;
  }
  if (!turned.includes(1)) return turned;
  return turned.map((t, r) => (t || climbing[r]! > CLIMBING_SHARE * laid[r]! ? 1 : 0));
}

/** The same, with runs of few levels before, between and after those of curved layers. */
function bridged(trace: Parts, curved: Uint8Array): Uint8Array {
  if (!curved.includes(1)) return curved;
  const out = curved.slice();
  let last = -1;
  for (let r = 0; r <= curved.length; r++) {
    if (r < curved.length && curved[r] !== 1) continue;
    const between = curved.subarray(last + 1, r);
    const few = between.every((_, i) => levelsOf(trace, last + 1 + i) < FLAT_LEVELS);
    if (few) out.fill(1, last + 1, r);
    last = r;
  }
  return out;
}

/** How many levels a run lays, up to FLAT_LEVELS. */
function levelsOf({ kind, tip, direction, run, runStart }: Parts, r: number): number {
  const first = runStart[r]!;
  const d = [0, 1, 2].map((c) => direction[3 * first + c]!);
  const levels: number[] = [];
  for (let b = first; b < kind.length && run[b] === r && levels.length < FLAT_LEVELS; b++) {
    if (kind[b] !== TraceKind.deposit) continue;
    const at = [0, 1, 2].reduce((sum, c) => sum + d[c]! * tip[3 * b + c]!, 0);
    if (levels.every((l) => Math.abs(l - at) > ONE_LEVEL)) levels.push(at);
  }
  return levels.length;
}
