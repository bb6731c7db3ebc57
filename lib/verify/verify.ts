/**
 * The check: what the machine would do with a program's text, and everything that is wrong with it. It
 * reads the text with the reader and runs the machine forward; it shares nothing with the planning of what
 * it checks.
 *
 * Tolerance for rounding: a written position is off by up to half its last decimal, so a block's speed by
 * one decimal over its time; that much beyond a limit is no finding.
 */
import type { Finding } from '../base/fault.js';
import { type Watch, step } from '../base/watch.js';
import type { Machine } from '../machine/machine.js';
import type { Material } from '../machine/material.js';
import { type BoxTree, treeOf } from '../mesh/bvh.js';
import type { Mesh } from '../mesh/mesh.js';
import { linePatterns, readOptions } from '../program/options.js';
import { type Program, readProgram } from '../program/read-program.js';
import { reportAstray } from './astray.js';
import { type CheckRules, checkRules } from './rules.js';
import { judgeDry } from './unfed-moves.js';
import { judgeLayers } from './judge-layers.js';
import { judgeStarts } from './judge-starts.js';
import { judgeTurning } from './judge-turning.js';
import { prologueEnd } from './prologue.js';
import { Tally } from './tally.js';
import { reportFeed } from './feed.js';
import { judgeFlow } from './flow.js';
import { type PrintFigures, judgePrint } from './judge.js';
import { type RunCheckTask, handOut, sentHeights } from './check-tasks.js';
import { type ShapeFigures, type ShapeVerdict, judgeShape } from './judge-shape.js';
import { heightsOf } from './layers.js';
import { type Print, printOf, printWith } from './print.js';
import type { Surface } from './shape.js';
import { SELF_SUPPORTING } from './bead-support.js';
import { LONGEST_BRIDGE } from './hanging-stretches.js';
import { type Trace, TraceKind, traceOf } from './trace.js';
import { type JointFigures, Walk, placeOf } from './walk.js';

export type { PrintFigures } from './judge.js';
export type { RunShape, ShapeFigures } from './judge-shape.js';
export type { Surface } from './shape.js';
export { type Trace, TraceKind } from './trace.js';

/** A stretch of bead that hangs; block of the trace at which it begins. */
export interface InAir {
  readonly block: number;
  readonly lengthMm: number;
  readonly mm2: number;
  /** Over the inside of the part, as far as that is known: between beads of fill. */
  readonly overFill: boolean;
}

/** What is known from elsewhere and compared with the program; what is omitted is not compared. */
export interface Facts {
  /** Material that is to be laid, mm3. */
  readonly plannedVolumeMm3?: number;
  /** Range that the nozzle can keep, mm3/s. */
  readonly flow?: Material['flow'];
  /** Of the material, g/cm3: what is laid weighs on joints that give. Left out: it weighs nothing. */
  readonly density?: number;
  /**
   * Longest span that the machine lays from one carried place to the other, mm. Left out: none, but
   * `LONGEST_BRIDGE` where no part is known, for then nothing distinguishes sparse fill inside from air.
   */
  readonly bridge?: number;
  /** What is allowed; left out: as the schema has it. */
  readonly bounds?: CheckRules;
  /** Steepest self-supporting angle from the build direction, rad; left out: 45 deg. */
  readonly overhang?: number;
  /** The part as it is to stand on the table; without it nothing is said about its shape. */
  readonly part?: Mesh;
}

/** What the program does. All of it survives JSON. */
export interface ProgramCheck {
  readonly lines: number;
  /** Blocks that move, meter or wait. */
  readonly blocks: number;
  /** Time at the stated feeds, rapid moves at the joints' full speed; no acceleration counted. */
  readonly seconds: number;
  /** Filament that leaves the nozzle: what is drawn back and primed again counts once. */
  readonly filamentMm: number;
  readonly volumeMm3: number;
  /** Laid over planned, if a planned volume was given. */
  readonly volumeShare?: number;
  /** Length of the tip's path over the part while it lays material, mm. */
  readonly depositMm: number;
  /** Least and greatest flow while material is laid, mm3/s; left out if none is. */
  readonly flow?: { readonly least: number; readonly most: number };
  /** Lowest height of the tip over the table face, mm; left out if it never is over it. */
  readonly lowestTipMm?: number;
  readonly joints: readonly JointFigures[];
  /** The print in the computer; left out if nothing is laid. */
  readonly print?: PrintFigures;
  /** What is printed against the part; left out where no part is known. */
  readonly shape?: ShapeFigures;
  /** How many places of each code; `findings` has the first errors, and warnings run by run (tally.ts). */
  readonly counts: Readonly<Record<string, number>>;
  readonly findings: readonly Finding[];
}

/** Share by which the laid volume may differ from the planned one. */
const VOLUME_SHARE = 0.01;

/** What the check says, and the motion that it looked at. */
export interface Verdict {
  readonly check: ProgramCheck;
  readonly trace: Trace;
  /** Height of the bead that each block lays, mm; given where the head turns somewhere while it lays. */
  readonly height?: Float64Array;
  /** Samples over the part's surface with the error at each; left out where no part is known. */
  readonly surface?: Surface;
  readonly inAir: readonly InAir[];
}

/**
 * Reads a program back and says what would come out.
 * @param text the program, whole or in pieces that end where lines end
 */
export function verify(
  text: string | readonly string[],
  machine: Machine,
  facts: Facts,
  watch?: Watch,
): Verdict {
  const read = readBack(text, machine, facts, watch);
  const { trace, tally, tree, span, theta, bounds } = read;
  const print = printOf(trace, machine, tree, span, theta, watch);
  const figures = print && judgePrint(trace, print, tree, tally);
  const shape = print && tree && judgeShape(trace, print, tree, bounds, tally, watch);
  return verdictOn(read, machine, facts, print, figures, shape);
}

/**
 * The same verdict, with what takes longest handed out as tasks that may run side by side.
 * @param run runs a task, on any thread
 */
export async function verifyBy(
  run: RunCheckTask,
  text: string | readonly string[],
  machine: Machine,
  facts: Facts,
  watch?: Watch,
): Promise<Verdict> {
  const read = readBack(text, machine, facts, watch);
  const { trace, tally, tree, span, theta, bounds } = read;
  if (trace.runStart.length === 0) return verdictOn(read, machine, facts);
  const heights = heightsOf(trace, machine.nozzle.diameter);
  const spec = { trace, heights: sentHeights(heights), machine, theta, bounds };
  const tasks = handOut(run, tree ? { ...spec, part: tree } : spec);
  // What fails while another is waited for is told when its turn comes.
  for (const task of [tasks.looks, tasks.head, tasks.shape]) task.catch(() => undefined);
  const looks = await tasks.looks;
  const laid = printWith({ heights, looks }, trace, machine, tree, span, theta, watch);
  const print: Print = { ...laid, ...(await tasks.head) };
  const figures = judgePrint(trace, print, tree, tally);
  const shape = await tasks.shape;
  if (shape) tally.addAll(shape.said);
  return verdictOn(read, machine, facts, print, figures, shape);
}

/** A program that was read back, with what its blocks say one by one, and the bounds for what they do together. */
interface ReadBack {
  readonly tally: Tally;
  readonly program: Program;
  /** All of it, and without what is laid where the machine cannot be. */
  readonly whole: Trace;
  readonly trace: Trace;
  readonly walk: Walk;
  readonly flow: ReturnType<typeof judgeFlow>;
  readonly tree: BoxTree | undefined;
  readonly span: number;
  readonly theta: number;
  readonly bounds: CheckRules;
}

function readBack(
  text: string | readonly string[],
  machine: Machine,
  facts: Facts,
  watch: Watch | undefined,
): ReadBack {
  const tally = new Tally();
  const program = readProgram(
    text,
    { ...readOptions(machine), onFault: (fault) => tally.addFault(fault) },
    watch,
  );
  const own = prologueEnd(text, linePatterns(machine.dialect.start));
  const whole = traceOf(program, machine, { ownEnd: own, density: facts.density }, watch);
  const walk = new Walk(machine, program, whole, own, tally);
  const blocks = program.seconds.length;
  for (let b = 0; b < blocks; b++) {
    if (b % 100_000 === 0) step(watch, 'check', b, blocks);
    walk.block(b);
  }
  const trace = within(whole, walk, tally);
  const flow = judgeFlow(trace, program.seconds, machine, tally, facts.flow);
  step(watch, 'check', blocks, blocks);
  reportWhole(program, tally);
  reportFeed(trace, program, machine, tally);
  const tree = facts.part && treeOf(facts.part);
  return {
    tally,
    program,
    whole,
    trace,
    walk,
    flow,
    tree,
    span: facts.bridge ?? (tree ? 0 : LONGEST_BRIDGE),
    theta: facts.overhang ?? SELF_SUPPORTING,
    bounds: facts.bounds ?? checkRules.parse({}),
  };
}

/** What is judged once it is known what is laid, and all of it together. */
function verdictOn(
  { tally, program, whole, trace, walk, flow, bounds }: ReadBack,
  machine: Machine,
  facts: Facts,
  print?: Print,
  figures?: PrintFigures,
  shape?: ShapeVerdict,
): Verdict {
  if (print) {
    const looks = judgeLayers(trace, print, machine.nozzle.diameter, bounds, tally);
    judgeStarts(trace, print, looks, bounds, tally);
    judgeTurning(trace, print, bounds, tally);
    judgeDry(whole, program.seconds, print, bounds, tally);
    reportAstray(trace, print, shape?.outside, tally);
  }
  const volumeShare = compareVolume(walk.volume, facts.plannedVolumeMm3, tally);
  const check: ProgramCheck = {
    lines: program.lines,
    blocks: program.seconds.length,
    seconds: program.seconds.reduce((a, b) => a + b, 0),
    filamentMm: walk.filament,
    volumeMm3: walk.volume,
    ...(volumeShare === undefined ? {} : { volumeShare }),
    depositMm: walk.depositLength,
    ...(flow ? { flow } : {}),
    ...(Number.isFinite(walk.lowestTip) ? { lowestTipMm: walk.lowestTip } : {}),
    joints: walk.joints(),
    ...(figures ? { print: figures } : {}),
    ...(shape ? { shape: shape.figures } : {}),
    counts: tally.counts(),
    findings: tally.findings(),
  };
  return {
    check,
    trace,
    ...(print?.heights.turned ? { height: print.heights.height } : {}),
    inAir: (print?.stretches.hanging ?? []).map(({ block, length, area, overFill }) => ({
      block,
      lengthMm: length,
      mm2: area,
      overFill,
    })),
    ...(shape ? { surface: shape.surface } : {}),
  };
}

/**
 * The trace with nothing laid from a block on at which the machine cannot be: a program in inches that
 * are millimetres would fill a room of many metres, bead by bead, and no such print says anything.
 */
function within(trace: Trace, { beyond }: Walk, tally: Tally): Trace {
  if (!beyond) return trace;
  const { block: end, where } = beyond;
  tally.add('verify/beyond', 'error', 0, () => ({
    message: `${where}: outside by more than half of it, so what is laid from here on is not judged`,
    at: placeOf(trace, end),
  }));
  const kind = trace.kind.map((k, b) => (b >= end && k === TraceKind.deposit ? TraceKind.link : k));
  return { ...trace, kind, runStart: trace.runStart.filter((b) => b < end) };
}

/** What concerns the program as a whole. */
function reportWhole(program: Program, tally: Tally): void {
  if (program.seconds.length === 0) {
    const message = `${program.lines} lines, and none of them moves anything`;
    tally.add('verify/nothing-moves', 'error', 0, () => ({ message, at: {} }));
  } else if (!program.unitsStated) {
    const message = 'neither G20 nor G21 stands before the first move; read as millimetres';
    tally.add('verify/units-not-stated', 'warning', 0, () => ({
      message,
      at: { line: program.line[0]! },
    }));
  }
}

function compareVolume(
  volume: number,
  planned: number | undefined,
  tally: Tally,
): number | undefined {
  if (planned === undefined || !(planned > 0)) return undefined;
  const share = volume / planned;
  if (Math.abs(share - 1) > VOLUME_SHARE) {
    const off = `${((share - 1) * 100).toFixed(2)}%`;
    const message = `the filament lays ${volume.toFixed(1)} mm3, ${planned.toFixed(1)} mm3 are planned (${off}, the limit is ${VOLUME_SHARE * 100}%)`;
    tally.add('verify/volume', 'error', Math.abs(share - 1), () => ({ message, at: {} }));
  }
  return share;
}
