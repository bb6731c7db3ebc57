/**
 * The pieces of the check that may run side by side on other threads: plain records in and out. Each lays what it needs
 * for itself, since the grids would be large to hand over; so they take more processor time together than one piece does
 * (an elbow of 60 layers 8 s on two threads for 5.5 s on one, beside other work).
 */
import type { Machine } from '../machine/machine.js';
import type { BoxTree } from '../mesh/bvh.js';
import { Grids } from './grids.js';
import { type CheckSpan, type HeadFindings, evenSpans, headIn, headSpans } from './head-spans.js';
import { type ShapeVerdict, judgeShape } from './judge-shape.js';
import { LaidPieces, lays } from './laid-pieces.js';
import type { Heights } from './layers.js';
import { PlainDeposit } from './laying.js';
import { type PieceLooks, knownPart, looksUnder, widestOf } from './piece-looks.js';
import type { CheckRules } from './rules.js';
import { FindingList, type SaidFinding } from './tally.js';
import type { Trace } from './trace.js';

/** What every task of a check is given. */
export interface CheckSpec {
  readonly trace: Trace;
  readonly heights: SentHeights;
  readonly machine: Machine;
  readonly part?: BoxTree;
  /** Steepest self-supporting angle, rad. */
  readonly theta: number;
  readonly bounds: CheckRules;
}

/** Heights without what is made again from them. */
interface SentHeights extends Omit<Heights, 'turned'> {
  readonly turned?: Omit<NonNullable<Heights['turned']>, 'pieces'>;
}

/** What lies under the pieces of a span. */
export interface LooksTask extends CheckSpan {
  readonly kind: 'looks';
  readonly spec: CheckSpec;
}

/** The head in a span. */
export interface HeadTask extends CheckSpan {
  readonly kind: 'head';
  readonly spec: CheckSpec;
}

/** The shape of all that is laid, against the part. */
export interface ShapeTask {
  readonly kind: 'shape';
  readonly spec: CheckSpec & { readonly part: BoxTree };
}

/** The shape, and the findings about it. */
export interface ShapeFound extends ShapeVerdict {
  readonly said: readonly SaidFinding[];
}

export type CheckTask = LooksTask | HeadTask | ShapeTask;
export type CheckTaskResult<T extends CheckTask> = T extends LooksTask
  ? PieceLooks
  : T extends HeadTask
    ? HeadFindings
    : ShapeFound;

/** Runs one task of a check, on any thread. */
export type RunCheckTask = <T extends CheckTask>(task: T) => Promise<CheckTaskResult<T>>;

export function doCheckTask(task: CheckTask): CheckTaskResult<CheckTask> {
  const { trace, machine, part, theta } = task.spec;
  const heights = heightsIn(task.spec);
  switch (task.kind) {
    case 'looks': {
      const grids = Grids.for(trace, heights, machine.nozzle.diameter);
      const known = part && knownPart(part, theta);
      return looksUnder(trace, heights, machine, known, grids, task);
    }
    case 'head':
      return headIn(trace, heights, machine, task);
    case 'shape':
      return shapeIn(task.spec, heights);
  }
}

/** What the tasks of a check are, and what came of them. */
export interface SideBySide {
  readonly looks: Promise<PieceLooks[]>;
  readonly head: Promise<HeadFindings>;
  readonly shape: Promise<ShapeFound | undefined>;
}

/** Hands out the tasks of a check. */
export function handOut(run: RunCheckTask, spec: CheckSpec): SideBySide {
  const { trace, part } = spec;
  // The shape is one task, and those of the head wait for no other: they begin first.
  const shape = part ? run({ kind: 'shape', spec: { ...spec, part } }) : Promise.resolve(undefined);
  const looks = evenSpans(trace).map((span) => run({ kind: 'looks', spec, ...span }));
  const head = headSpans(trace).map((span) => run({ kind: 'head', spec, ...span }));
  return {
    looks: Promise.all(looks),
    shape,
    head: Promise.all(head).then((found) => ({
      touches: found.flatMap(({ touches }) => touches),
      meetings: found.flatMap(({ meetings }) => meetings),
    })),
  };
}

/** Heights as they can be sent. */
export function sentHeights({ turned, ...heights }: Heights): SentHeights {
  if (!turned) return heights;
  const { under, depth } = turned;
  return { ...heights, turned: { under, depth } };
}

function heightsIn({ trace, heights: { turned, ...heights } }: CheckSpec): Heights {
  if (!turned) return heights;
  const pieces = new LaidPieces(trace, heights.height);
  for (let b = 1; b < trace.kind.length; b++) if (lays(trace, b)) pieces.add(b);
  return { ...heights, turned: { ...turned, pieces } };
}

function shapeIn(
  { trace, machine, bounds, part }: ShapeTask['spec'],
  heights: Heights,
): ShapeFound {
  const grids = Grids.for(trace, heights, machine.nozzle.diameter);
  const deposit = new PlainDeposit(trace, heights, machine, grids);
  for (let b = 0; b < trace.kind.length; b++) deposit.block(b);
  const list = new FindingList();
  const widest = widestOf(machine);
  const verdict = judgeShape(trace, { grids, heights, widest }, part, bounds, list);
  return { ...verdict, said: list.said };
}
