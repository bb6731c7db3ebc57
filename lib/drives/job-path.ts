/**
 * What a job asks of the joints, block by block, with the least time that each may take: from a planned
 * motion or from a program that was read. Joint values mm and rad, as `Machine.joints`. The time
 * parameterization is that of the plan (motion/timing/time-path.ts) for both, so what is asked of the
 * drives is what the plan counts with.
 */
import type { Machine } from '../machine/machine.js';
import { FeedSource } from '../motion/timing/wanted-times.js';
import type { JointPolyline } from '../motion/lay/blocks.js';
import { close, endsOfMerged, mergedOffsets } from '../motion/timing/merge-blocks.js';
import { type Motion, MoveKind } from '../motion/motion.js';
import { type TimedPath, timedPath, straightening } from '../motion/timing/time-path.js';
import { lengthOver, weightsOf } from '../motion/timing/path-limits.js';
import { BlockFlag, type Program } from '../program/read-program.js';

/** The path of the joints through a job or program, with what is laid on it. */
export interface JointPath extends JointPolyline {
  /** Filament laid during each block, mm; what is drawn back and primed counts as nothing. */
  readonly filament: Float64Array;
  /** Line of the program, or number of the block, from one. */
  readonly line: Uint32Array;
  /** What `line` counts. */
  readonly counts: 'line' | 'block';
  /** True if faster joints would be used: the feed asked for is known independently of their limits. */
  readonly free: boolean;
  /** Blocks `start[i] .. start[i + 1]` are timed as one, over the path `runs`. */
  readonly start: Uint32Array;
  readonly runs: JointPolyline;
  /**
   * Least time of each of those, s: that of the feed asked for, limits of the joints aside where it is known.
   */
  readonly least: Float64Array;
}

/** Feeds are those that job, nozzle and layer time ask for, whatever the joints allow. */
export function pathOfMotion(motion: Motion): JointPath {
  const { jointCount, from, joints, kind } = motion;
  const { start, least } = motion.asked;
  return {
    jointCount,
    from,
    joints,
    filament: motion.filament.map((mm, b) => (kind[b] === MoveKind.deposit ? Math.max(0, mm) : 0)),
    line: Uint32Array.from(kind, (_, b) => b + 1),
    counts: 'block',
    free: true,
    start,
    runs: endsOfMerged(motion, start),
    least,
  };
}

/**
 * Stated feeds count as they are. What comes before the first known place is left out; a joint that
 * no block has placed yet stands where the machine file has it ready.
 * @param deviation how far the controller may round a corner, mm
 */
export function pathOfProgram(program: Program, machine: Machine, deviation: number): JointPath {
  const n = program.jointCount;
  const joints = program.joints.slice();
  const from = program.from.map((v, j) => (Number.isNaN(v) ? machine.ready[j]! : v));
  for (let i = 0; i < joints.length; i++) {
    if (Number.isNaN(joints[i]!)) joints[i] = i < n ? from[i]! : joints[i - n]!;
  }
  const way: JointPolyline = { jointCount: n, from, joints };
  const { seconds, filament } = laidBy(program);
  const start = mergedOffsets(
    machine,
    way,
    sameWish(way, machine, seconds, filament),
    straightening(deviation),
  );
  const least = new Float64Array(start.length - 1);
  for (let i = 0; i < least.length; i++) {
    for (let b = start[i]!; b < start[i + 1]!; b++) least[i]! += seconds[b]!;
  }
  return {
    ...way,
    filament,
    line: program.line,
    counts: 'line',
    free: false,
    start,
    runs: endsOfMerged(way, start),
    least,
  };
}

/** Of each block the time asked for, 0 where nothing states it, and what it lays. */
function laidBy(program: Program): {
  readonly seconds: Float64Array;
  readonly filament: Float64Array;
} {
  const seconds = program.seconds.map((t, b) =>
    (program.flags[b]! & BlockFlag.fromUnknown) !== 0 || Number.isNaN(t) ? 0 : t,
  );
  let drawn = 0;
  const filament = program.filament.map((mm) => {
    const net = mm - drawn;
    drawn = Math.max(0, -net);
    return Math.max(0, net);
  });
  return { seconds, filament };
}

/** Whether two blocks move, at one feed and with one flow. */
function sameWish(
  way: JointPolyline,
  machine: Machine,
  seconds: Float64Array,
  filament: Float64Array,
): (a: number, b: number) => boolean {
  const weight = weightsOf(machine);
  const far = seconds.map((_, b) => lengthOver(way, weight, b));
  const speed = seconds.map((t, b) => (t > 0 ? far[b]! / t : 0));
  const flow = filament.map((mm, b) => (far[b]! > 0 ? mm / far[b]! : 0));
  return (a, b) =>
    far[a]! > 0 && far[b]! > 0 && close(speed[a]!, speed[b]!) && close(flow[a]!, flow[b]!);
}

/** @param deviation how far the controller may round a corner, mm */
export function timed({ runs, least }: JointPath, machine: Machine, deviation: number): TimedPath {
  const ask = {
    least,
    source: new Uint8Array(least.length).fill(FeedSource.asked),
  };
  return timedPath(machine, runs, ask, deviation);
}

/** The machine with another speed and acceleration of joint j, mm or rad; jerk goes with the latter. */
export function withLimits(
  machine: Machine,
  j: number,
  speed: number,
  acceleration: number,
): Machine {
  const joints = machine.joints.map((joint, i) =>
    i === j
      ? { ...joint, speed, acceleration, jerk: (joint.jerk * acceleration) / joint.acceleration }
      : joint,
  );
  return { ...machine, joints };
}
