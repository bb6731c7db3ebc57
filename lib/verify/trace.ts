/**
 * What a program does, block by block, seen from the part: typed arrays with one entry per block.
 * Everything that looks at the motion (findings, deposit, pictures) reads this record. Only forward
 * kinematics; one pass.
 */
import { type Watch, step } from '../base/watch.js';
import { uint32List } from '../base/ragged.js';
import { pointAt } from '../base/vector.js';
import type { Machine } from '../machine/machine.js';
import { KG_PER_MM3 } from '../machine/mass.js';
import { BlockFlag, type Program } from '../program/read-program.js';
import { TipPath } from './tip-path.js';
import { DrivenJoints } from './driven-joints.js';
import { SAME_BUILD_DIRECTION, TraceKind } from './trace-kind.js';
import { joinTurning } from './turning-runs.js';

export { SAME_BUILD_DIRECTION, TraceKind } from './trace-kind.js';

/** Block b ends at `joints[b * jointCount ..]` and `tip[3 * b ..]`. NaN where the place is not known. */
export interface Trace {
  readonly jointCount: number;
  /**
   * mm and rad, order of Machine.joints; block -1 is `from`. Where the joints really stand: where they give
   * or have play this is not what the program tells them (driven-joints.ts).
   */
  readonly joints: Float64Array;
  readonly from: Float64Array;
  /** Tip at the block's end, part frame, mm. */
  readonly tip: Float64Array;
  /** Unit direction up the head at the block's end, part frame. */
  readonly direction: Float64Array;
  /** Time at the block's end at the stated feeds, s. */
  readonly time: Float64Array;
  /** Filament metered, mm; negative when drawn back. */
  readonly filament: Float64Array;
  /** Material that leaves the nozzle, mm3: what is drawn back and primed again counts once. */
  readonly volume: Float64Array;
  /** Metered flow while material is laid, mm3/s; 0 otherwise. */
  readonly flow: Float64Array;
  /** Length of the tip's path over the part, mm. */
  readonly length: Float64Array;
  /** Lowest height of the tip over the table face during the block, mm; infinite beside the face. */
  readonly low: Float64Array;
  /** A `TraceKind` per block. */
  readonly kind: Uint8Array;
  /** Line of the program, from one. */
  readonly line: Uint32Array;
  /** Number of the run (counted from zero) whose material the block lays or leads to. */
  readonly run: Uint32Array;
  /** First deposit of each run: material laid in one direction without another in between, or in curved layers. */
  readonly runStart: Uint32Array;
  /** For each run 1 if the head turns or climbs while it lays. */
  readonly turning: Uint8Array;
}

/** Below this length the tip stands while filament runs: a prime, not a bead, mm. */
export const STANDING = 1e-3;

/** What the trace takes from elsewhere. */
export interface TraceFacts {
  /** Last line of the machine's start text: what is fed there is no material of the part. */
  readonly ownEnd?: number;
  /** Of the material, g/cm3; left out, the part counts as weightless. */
  readonly density?: number | undefined;
}

export function traceOf(
  program: Program,
  machine: Machine,
  { ownEnd = 0, density = 0 }: TraceFacts = {},
  watch?: Watch,
): Trace {
  const n = program.seconds.length;
  const driven = new DrivenJoints(program, machine);
  const trace = {
    jointCount: program.jointCount,
    joints: driven.joints,
    from: program.from,
    tip: new Float64Array(3 * n),
    direction: new Float64Array(3 * n),
    time: new Float64Array(n),
    filament: program.filament,
    volume: new Float64Array(n),
    flow: new Float64Array(n),
    length: new Float64Array(n),
    low: new Float64Array(n),
    kind: new Uint8Array(n),
    line: program.line,
    run: new Uint32Array(n),
  };
  const area = (Math.PI / 4) * machine.filamentDiameter ** 2;
  const path = new TipPath(machine);
  const runs = new Runs(trace.direction, trace.kind, trace.run);
  let known = false;
  let metered = 0;
  let furthest = 0;
  let time = 0;
  for (let b = 0; b < n; b++) {
    if (b % 100_000 === 0) step(watch, 'trace', b, n);
    driven.follow(b);
    known = follow(program, trace.joints, path, b, known);
    trace.tip.set(path.tip, 3 * b);
    trace.direction.set(path.direction, 3 * b);
    trace.length[b] = path.length;
    trace.low[b] = path.lowest;
    const seconds = program.seconds[b]!;
    time += seconds;
    trace.time[b] = time;
    const fed = program.filament[b]!;
    metered += fed;
    const own = program.line[b]! <= ownEnd;
    if (metered > furthest) {
      if (!own) trace.volume[b] = (metered - furthest) * area;
      furthest = metered;
    }
    const moves = path.length > STANDING;
    if (fed > 0 && moves && known && !own) {
      if (seconds > 0) trace.flow[b] = (fed * area) / seconds;
      trace.kind[b] = TraceKind.deposit;
      runs.deposit(b);
      if (b > 0) {
        const kg = trace.volume[b]! * density * KG_PER_MM3;
        driven.lay(kg, pointAt(trace.tip, b - 1), pointAt(trace.tip, b));
      }
    } else trace.kind[b] = moves || arrives(program, b) ? TraceKind.link : TraceKind.wait;
  }
  runs.end(n);
  step(watch, 'trace', n, n);
  const all = { ...trace, runStart: runs.take() };
  return { ...all, ...joinTurning(all) };
}

/** Whether block b moves from a place that is not known. */
const arrives = ({ flags }: Program, b: number): boolean =>
  (flags[b]! & BlockFlag.fromUnknown) !== 0;

/** Follows the path through block b. @returns whether its end is known */
function follow(
  { jointCount: n, flags }: Program,
  joints: Float64Array,
  path: TipPath,
  b: number,
  known: boolean,
): boolean {
  for (let i = 0; i < n; i++) {
    if (!Number.isNaN(joints[b * n + i]!)) continue;
    path.lose();
    return false;
  }
  if (!known || flags[b]! & BlockFlag.fromUnknown) path.stand(joints, b * n);
  else path.run(joints, (b - 1) * n, b * n);
  return true;
}

/** Distinguishes runs by the head's direction, and transfers from links on the moves between them. */
class Runs {
  readonly #starts = uint32List();
  readonly #direction: Float64Array;
  readonly #kind: Uint8Array;
  readonly #run: Uint32Array;
  /** First block after the last deposit, and where that run began. */
  #after = 0;
  #start = -1;

  constructor(direction: Float64Array, kind: Uint8Array, run: Uint32Array) {
    this.#direction = direction;
    this.#kind = kind;
    this.#run = run;
  }

  deposit(b: number): void {
    const first = this.#start < 0;
    if (first || !this.#same(b, this.#start)) {
      this.#starts.push(b);
      this.#start = b;
    }
    let turns = first;
    for (let i = this.#after; i < b && !turns; i++) turns = !this.#same(i, b);
    this.#way(b, turns);
    this.#run[b] = this.#starts.length - 1;
    this.#after = b + 1;
  }

  end(n: number): void {
    this.#way(n, true);
  }

  take(): Uint32Array {
    return this.#starts.take();
  }

  #way(to: number, turns: boolean): void {
    const run = Math.max(0, this.#starts.length - 1);
    for (let i = this.#after; i < to; i++) {
      this.#run[i] = run;
      if (turns && this.#kind[i] === TraceKind.link) this.#kind[i] = TraceKind.transfer;
    }
  }

  #same(a: number, b: number): boolean {
    const d = this.#direction;
    const [i, k] = [3 * a, 3 * b];
    return d[i]! * d[k]! + d[i + 1]! * d[k + 1]! + d[i + 2]! * d[k + 2]! >= SAME_BUILD_DIRECTION;
  }
}
