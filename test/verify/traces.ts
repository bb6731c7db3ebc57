/** Traces spelled block by block, without a program: what a block does, and where the tip goes. */
import { type Vec3, length, sub } from '../../lib/base/vector.js';
import { type Trace, TraceKind } from '../../lib/verify/trace.js';
import { joinTurning } from '../../lib/verify/turning-runs.js';

export interface Block {
  readonly to: Vec3;
  /** mm3; laid on the way if given. */
  readonly volume?: number;
  /** Left out: a deposit if material is given, else a link. */
  readonly kind?: TraceKind;
  readonly flow?: number;
  readonly seconds?: number;
  readonly run?: number;
  /** Up the head; left out: as the block before. */
  readonly direction?: Vec3;
}

/** Block 0 stands at `from`, the head `up`; line b + 1 is that of block b. */
export function traceOfBlocks(from: Vec3, blocks: readonly Block[], up: Vec3 = [0, 0, 1]): Trace {
  const all: Block[] = [{ to: from, kind: TraceKind.transfer }, ...blocks];
  const kind = all.map(
    (b) => b.kind ?? (b.volume === undefined ? TraceKind.link : TraceKind.deposit),
  );
  let d = up;
  let time = 0;
  const run = all.map((b) => b.run ?? 0);
  const runStart = [...new Set(run)].map((r) =>
    all.findIndex((_, b) => run[b] === r && kind[b] === TraceKind.deposit),
  );
  const trace = {
    jointCount: 0,
    joints: new Float64Array(0),
    from: new Float64Array(0),
    tip: Float64Array.from(all.flatMap((b) => b.to)),
    direction: Float64Array.from(all.flatMap((b) => (d = b.direction ?? d))),
    time: Float64Array.from(all, (b) => (time += b.seconds ?? 1)),
    filament: Float64Array.from(all, (b) => b.volume ?? 0),
    volume: Float64Array.from(all, (b) => b.volume ?? 0),
    flow: Float64Array.from(all, (b) => b.flow ?? 0),
    length: Float64Array.from(all, (b, i) => (i ? length(sub(b.to, all[i - 1]!.to)) : 0)),
    low: new Float64Array(all.length),
    kind: Uint8Array.from(kind),
    line: Uint32Array.from(all, (_, b) => b + 1),
    run: Uint32Array.from(run),
    runStart: Uint32Array.from(runStart.filter((b) => b >= 0)),
  };
  return { ...trace, ...joinTurning(trace) };
}

/** A level of straight beads back and forth: from y = 0 on, `count` of them, `pitch` apart. */
export function zigzag(
  count: number,
  size: number,
  pitch: number,
  z: number,
  section: number,
  run = 0,
): Block[] {
  return Array.from({ length: count }, (_, i): Block[] => {
    const [a, b] = i % 2 ? [size, 0] : [0, size];
    const y = i * pitch;
    return [
      { to: [a, y, z], run },
      { to: [b, y, z], volume: size * section, run },
    ];
  }).flat();
}
