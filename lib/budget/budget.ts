/**
 * The error budget: how far the tip is to be expected off at places all over the part, by source, from what
 * a program does (as the check read it), the machine and the rules. What the machine file does not state is
 * left out and named, never silently taken as zero.
 *
 * Two kinds are kept apart. Systematic errors have a sign and a bound that holds everywhere alike: they are
 * summed. Random ones are standard uncertainties: the root of the sum of their squares, twice which holds
 * in about 95 % (GUM, JCGM 100:2008, 5.1 and 6.3). Expected is the sum of both.
 */
import { type Watch, step } from '../base/watch.js';
import { ArrivalSide } from '../machine/arrival-side.js';
import type { Machine } from '../machine/machine.js';
import { type Trace, TraceKind } from '../verify/trace.js';
import { JointCompliance } from './compliance.js';
import { type BudgetRules, COVERAGE, type ErrorSource, type SourceName, spotAt } from './spot.js';
import {
  backlashSource,
  calibrationSource,
  cornerSource,
  resolutionSource,
  runOutSource,
} from './sources.js';

export { COVERAGE, type BudgetRules, type SourceName } from './spot.js';

/** A source with its values, mm, one per spot; undefined if nothing about it is stated. */
export type SourceValues = Omit<ErrorSource, 'at'> & { readonly mm: Float64Array | undefined };

export interface ErrorBudget {
  /** Blocks of the program at whose ends the errors are evaluated, rising. */
  readonly blocks: Uint32Array;
  /** Tips there, part frame, mm. */
  readonly points: Float64Array;
  readonly sources: readonly SourceValues[];
  /** mm, one per spot. */
  readonly systematic: Float64Array;
  readonly random: Float64Array;
  readonly expected: Float64Array;
  /** Spot with the greatest expected error. */
  readonly worst: number;
  /** Source that makes most of it there; undefined if nothing is stated. */
  readonly dominant: SourceName | undefined;
}

/** Spots: the calibration's uncertainty takes a millisecond at each. */
const SPOTS = 600;

/** @returns undefined if nothing is laid */
export function budgetOf(
  trace: Trace,
  machine: Machine,
  rules: BudgetRules,
  watch?: Watch,
): ErrorBudget | undefined {
  const blocks = spread(trace);
  if (blocks.length === 0) return undefined;
  const giving = new JointCompliance(machine, trace, rules.density);
  const sources: ErrorSource[] = [
    backlashSource(machine, giving.isHeld),
    giving.source(),
    cornerSource(machine, trace, rules),
    resolutionSource(machine),
    calibrationSource(machine),
    runOutSource(machine),
  ];
  const values = sources.map(({ at }) => at && new Float64Array(blocks.length));
  const flanks = new Flanks(machine, trace);
  blocks.forEach((block, i) => {
    if (i % 50 === 0) step(watch, 'errors', i, blocks.length);
    const since = i > 0 ? blocks[i - 1]! + 1 : 0;
    const spot = spotAt(machine, trace, [since, block], flanks.upTo(block));
    sources.forEach(({ at }, s) => {
      if (at) values[s]![i] = at(spot);
    });
  });
  const counted = sources.map(({ at, ...source }, s): SourceValues => ({
    ...source,
    mm: values[s],
  }));
  return combined(trace, blocks, counted);
}

function combined(
  trace: Trace,
  blocks: Uint32Array,
  sources: readonly SourceValues[],
): ErrorBudget {
  const systematic = new Float64Array(blocks.length);
  const random = new Float64Array(blocks.length);
  for (const { kind, mm, within } of sources) {
    if (!mm || within) continue;
    mm.forEach((e, i) => {
      if (kind === 'systematic') systematic[i]! += e;
      else random[i] = Math.hypot(random[i]!, e);
    });
  }
  const expected = systematic.map((s, i) => s + COVERAGE * random[i]!);
  const worst = expected.indexOf(Math.max(...expected));
  const shares = sources.map(({ kind, mm, within }) =>
    mm && !within ? mm[worst]! * (kind === 'random' ? COVERAGE : 1) : 0,
  );
  const most = Math.max(...shares);
  const points = new Float64Array(3 * blocks.length);
  blocks.forEach((b, i) => points.set(trace.tip.subarray(3 * b, 3 * b + 3), 3 * i));
  return {
    blocks,
    points,
    sources,
    systematic,
    random,
    expected,
    worst,
    dominant: most > 0 ? sources[shares.indexOf(most)]!.name : undefined,
  };
}

/** Beads at even distances along all that is laid. */
function spread({ kind, length }: Trace): Uint32Array {
  let whole = 0;
  for (let b = 0; b < kind.length; b++) if (kind[b] === TraceKind.deposit) whole += length[b]!;
  const every = whole / SPOTS;
  const out: number[] = [];
  let gone = 0;
  for (let b = 0; b < kind.length; b++) {
    if (kind[b] !== TraceKind.deposit) continue;
    gone += length[b]!;
    if (gone < (out.length + 0.5) * every) continue;
    out.push(b);
    gone = Math.min(gone, (out.length + 0.5) * every);
  }
  return Uint32Array.from(out);
}

/** From which side each joint has come. A way back that is no longer than its play, or its give, is none. */
class Flanks {
  readonly #trace: Trace;
  readonly #arrivals: readonly ArrivalSide[];
  readonly #slight: Float64Array;
  #done = 0;

  constructor({ joints }: Machine, trace: Trace) {
    this.#trace = trace;
    this.#slight = Float64Array.from(joints, (j) => Math.max(SLIGHT_TURN, j.backlash));
    this.#arrivals = Array.from(trace.from, (value) => new ArrivalSide(value));
  }

  upTo(block: number): readonly boolean[] {
    const { joints, jointCount: n } = this.#trace;
    for (; this.#done <= block; this.#done++) {
      const at = this.#done * n;
      this.#arrivals.forEach((arrival, j) => arrival.go(joints[at + j]!, this.#slight[j]!));
    }
    return this.#arrivals.map(({ isFromBelow }) => !isFromBelow);
  }
}

/** mm and rad */
const SLIGHT_TURN = 1e-9;
