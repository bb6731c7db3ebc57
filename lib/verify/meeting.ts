/**
 * Head, carriage, table and print against each other and against the solids of the machine file, at any
 * time. A distance cannot shrink by more than the joints have moved, so each pair remembers its last
 * distances and the joints then, and is measured again only when the path from there could have used them up
 * (conservative advancement); where bodies are nearer than their points can resolve, at every LEAST_MOTION.
 */
import { applyPoint, compose, inverse } from '../base/frame.js';
import { type Vec3, length, sub } from '../base/vector.js';
import type { Machine } from '../machine/machine.js';
import {
  type SampledBody,
  PrintedCells,
  SURFACE_SPACING,
  guardBodies,
  headBody,
  leastDistance,
  tableBody,
} from './bodies.js';
import type { Trace } from './trace.js';

export interface Meeting {
  readonly block: number;
  /** What touches what. */
  readonly words: string;
  /** Share of the block's way at which it is found. */
  readonly at: number;
  /** A place of the touch, part frame, if it is on table or print. */
  readonly point?: Vec3;
}

/** Least motion between two looks at bodies that are near, mm. */
const LEAST_MOTION = 0.5;
/** Where balls around bodies are farther apart than this, their points are not asked, mm. */
const POINTS_WITHIN = 5;
/** No point of a surface is farther than this from one that stands for it, mm. */
const POINTS_MISS = SURFACE_SPACING * Math.SQRT1_2;

interface BodyPair {
  readonly a: SampledBody;
  /** Undefined stands for what is printed. */
  readonly b: SampledBody | undefined;
  /** Looked at only while the head turns: what the head's map does not see. */
  readonly turning: boolean;
  /** How far the two can move against each other for a mm or rad of each joint, mm. */
  readonly weight: Float64Array;
  /** The last looks, each with a lower bound of the distance, mm, and the joints; taken in turn. */
  readonly looks: readonly PairLook[];
  turn: number;
}

interface PairLook {
  gap: number;
  readonly joints: Float64Array;
}

/**
 * Looks that a pair remembers: to and fro over a layer one look serves where another one did before, and the last one
 * alone would be made anew on each line.
 */
const KEPT_LOOKS = 8;

export class Meetings {
  readonly found: Meeting[] = [];
  readonly #trace: Trace;
  readonly #printed: PrintedCells;
  readonly #pairs: BodyPair[];
  readonly #joints: Float64Array;
  readonly #table: SampledBody;

  /** @param corner below all that is laid along each axis of the part, mm */
  constructor(trace: Trace, machine: Machine, corner: Vec3) {
    this.#trace = trace;
    this.#printed = new PrintedCells(corner);
    this.#table = tableBody(machine);
    this.#pairs = pairsOf(machine, this.#table);
    this.#joints = new Float64Array(machine.joints.length);
  }

  /** Forgets all distances. */
  forget(): void {
    this.#pairs.forEach(forgetLooks);
  }

  /** Judges the path of block b. @param turning whether the head turns against the part on it */
  before(b: number, turning: boolean): void {
    const { joints, jointCount: n } = this.#trace;
    if (b === 0 || Number.isNaN(joints[b * n]! + joints[b * n - n]!)) return;
    const from = b * n - n;
    for (const pair of this.#pairs) {
      if (pair.turning && !turning) {
        forgetLooks(pair);
        continue;
      }
      // The way from where it was looked is a convex function of the motion: its ends decide.
      const apart = (look: PairLook): boolean =>
        isApart(pair, look, joints, b * n) && isApart(pair, look, joints, from);
      if (pair.looks.some(apart)) continue;
      let moved = 0;
      for (let j = 0; j < n; j++) {
        moved += Math.abs(joints[b * n + j]! - joints[from + j]!) * pair.weight[j]!;
      }
      if (moved > 0) this.#along(b, pair, moved);
    }
  }

  /** The bead of block b stands from now on. */
  after(b: number): void {
    const { tip } = this.#trace;
    const [i, k] = [3 * b - 3, 3 * b];
    const way = this.#trace.length[b]!;
    const pieces = Math.max(1, Math.ceil(way / PrintedCells.fine));
    let fresh = false;
    for (let n = 1; n <= pieces; n++) {
      const t = n / pieces;
      const p = [0, 1, 2].map((c) => tip[i + c]! + t * (tip[k + c]! - tip[i + c]!));
      if (this.#printed.add(p as unknown as Vec3)) fresh = true;
    }
    // What is new may be near to anything.
    if (fresh) for (const pair of this.#pairs) if (!pair.b) forgetLooks(pair);
  }

  /** Looks at a pair as often along the block as its distance requires; reports one touch per block. */
  #along(b: number, pair: BodyPair, moved: number): void {
    const { joints, jointCount: n } = this.#trace;
    let done = 0;
    for (;;) {
      const t = done / moved;
      for (let j = 0; j < n; j++) {
        const from = joints[b * n - n + j]!;
        this.#joints[j] = from + t * (joints[b * n + j]! - from);
      }
      const { gap, touch } = this.#gapOf(pair);
      const look = pair.looks[(pair.turn = (pair.turn + 1) % KEPT_LOOKS)]!;
      look.gap = gap;
      look.joints.set(this.#joints);
      if (touch) {
        const words = `${pair.a.name} touches ${pair.b?.name ?? 'what is printed'}`;
        const onPart = !pair.b || pair.b === this.#table;
        // Reported once for the block; the next one is looked at anew.
        this.found.push({ block: b, words, at: t, ...(onPart ? { point: touch } : {}) });
        return;
      }
      done += Math.max(LEAST_MOTION, gap);
      if (!(done < moved)) return;
    }
  }

  /** A lower bound of the distance, and a point in the frame of b if the two touch. */
  #gapOf({ a, b }: BodyPair): { gap: number; touch: Vec3 | undefined } {
    const joints = this.#joints;
    const aFromB = compose(
      inverse(a.frame(joints)),
      b ? b.frame(joints) : this.#table.frame(joints),
    );
    if (!b) return this.#printedGap(a, (p) => a.distance(applyPoint(aFromB, p)));
    const bFromA = inverse(aFromB);
    const apart = Math.max(
      a.distance(applyPoint(aFromB, b.ball.centre)) - b.ball.radius,
      b.distance(applyPoint(bFromA, a.ball.centre)) - a.ball.radius,
    );
    if (apart > POINTS_WITHIN) return { gap: apart, touch: undefined };
    const one = leastDistance(b, aFromB, a.distance);
    if (one.gap === 0) return { gap: 0, touch: one.point };
    const two = leastDistance(a, bFromA, b.distance);
    if (two.gap === 0) return { gap: 0, touch: applyPoint(bFromA, two.point!) };
    return { gap: Math.max(0, Math.min(one.gap, two.gap) - POINTS_MISS), touch: undefined };
  }

  #printedGap(
    a: SampledBody,
    distance: (p: Vec3) => number,
  ): { gap: number; touch: Vec3 | undefined } {
    let least = Infinity;
    let touch: Vec3 | undefined;
    let looked = false;
    this.#printed.middles.forEach((middle, cell) => {
      const coarse = distance(middle) - PrintedCells.half;
      if (coarse >= least || touch) return;
      if (coarse > 0) {
        least = coarse;
        return;
      }
      looked = true;
      for (const p of this.#printed.finePoints(cell)) {
        const d = distance(p);
        least = Math.min(least, d);
        // The tip itself stands on what it has laid.
        if (d === 0 && !(a.carrier >= 0 && this.#isAtTip(p))) touch = p;
      }
    });
    // In a cell that was looked into, new beads do not ask for a new look.
    const known = looked ? Math.min(least - PrintedCells.fine, LEAST_MOTION) : least;
    return { gap: Math.max(0, known), touch };
  }

  /** Whether a place is within a cell of the tip at the joints in work. */
  #isAtTip(p: Vec3): boolean {
    const partFromHead = compose(
      inverse(this.#table.frame(this.#joints)),
      this.#pairs[0]!.a.frame(this.#joints),
    );
    return length(sub(applyPoint(partFromHead, [0, 0, 0]), p)) < 2 * PrintedCells.fine;
  }
}

function forgetLooks({ looks }: BodyPair): void {
  for (const look of looks) look.gap = 0;
}

/** Whether the two cannot have come together on the way from a look to other joints. */
function isApart({ weight }: BodyPair, look: PairLook, joints: Float64Array, at: number): boolean {
  if (!(look.gap > 0)) return false;
  let way = 0;
  for (let j = 0; j < weight.length; j++) {
    way += Math.abs(joints[at + j]! - look.joints[j]!) * weight[j]!;
  }
  return way < look.gap;
}

function pairsOf(machine: Machine, table: SampledBody): BodyPair[] {
  const head = headBody(machine);
  const guards = guardBodies(machine);
  const onHead = (body: SampledBody): boolean =>
    body === head || (body.carrier >= 0 && !machine.joints[body.carrier]!.carriesTable);
  const onTable = (body: SampledBody): boolean =>
    body === table || (body.carrier >= 0 && machine.joints[body.carrier]!.carriesTable);
  const pairs: BodyPair[] = [];
  const zero = new Float64Array(machine.joints.length);
  const add = (a: SampledBody, b: SampledBody | undefined, turning = false): void => {
    pairs.push({
      a,
      b,
      turning,
      weight: weightsOf(machine, a, b ?? table),
      looks: Array.from({ length: KEPT_LOOKS }, () => ({ gap: 0, joints: zero.slice() })),
      turn: 0,
    });
  };
  // The head's own pairs stand first.
  add(head, undefined, true);
  add(head, table, true);
  for (const guard of guards) if (!onHead(guard)) add(head, guard);
  guards.forEach((guard, i) => {
    if (!onTable(guard)) {
      add(guard, undefined);
      if (!belong(machine, guard, table)) add(guard, table);
    }
    for (const other of guards.slice(i + 1)) {
      const still = [guard, other].every(onHead) || [guard, other].every(onTable);
      const frame = guard.carrier < 0 && other.carrier < 0;
      if (!still && !frame && !belong(machine, guard, other)) add(guard, other);
    }
  });
  return pairs;
}

/** What lies within the clearance with all joints at zero (a bearing under the table) belongs together. */
function belong(machine: Machine, a: SampledBody, b: SampledBody): boolean {
  const zero = new Float64Array(machine.joints.length);
  const aFromB = compose(inverse(a.frame(zero)), b.frame(zero));
  const { gap } = leastDistance(b, aFromB, a.distance);
  const back = leastDistance(a, inverse(aFromB), b.distance);
  return Math.min(gap, back.gap) < machine.clearance;
}

function weightsOf(machine: Machine, a: SampledBody, b: SampledBody): Float64Array {
  return Float64Array.from(machine.joints, (joint, j) => {
    const carries = (body: SampledBody): boolean =>
      body.carrier >= j && machine.joints[body.carrier]!.carriesTable === joint.carriesTable;
    // Both are carried by it: it does not move them against each other.
    if (carries(a) === carries(b)) return 0;
    if (joint.kind === 'linear') return 1;
    const body = carries(a) ? a : b;
    const zero = body.frame(new Float64Array(machine.joints.length));
    const far = body.points.reduce(
      (most, p) => Math.max(most, length(sub(applyPoint(zero, p), joint.point))),
      PRINT_REACH,
    );
    return far + slides(machine, j);
  });
}

/** What is printed may reach this far from a rotary axis, mm. */
const PRINT_REACH = 250;

/** How far the linear joints that joint j carries can take things away from its axis, mm. */
function slides(machine: Machine, j: number): number {
  const own = machine.joints[j]!;
  return machine.joints.reduce(
    (sum, joint, i) =>
      i > j && joint.kind === 'linear' && joint.carriesTable === own.carriesTable
        ? sum + Math.max(Math.abs(joint.least), Math.abs(joint.most))
        : sum,
    0,
  );
}
