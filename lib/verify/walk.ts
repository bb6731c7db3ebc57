/**
 * Goes through the blocks of a program that was read and judges each: joint travel and speed, steps of
 * speed from block to block, the tip against the table face, feeds that an interpreter changes. Sums up
 * what the whole of it does.
 */
import type { Place } from '../base/fault.js';
import { DEG } from '../base/vector.js';
import type { Joint, Machine } from '../machine/machine.js';
import { BlockFlag, type Program } from '../program/read-program.js';
import type { Tally } from './tally.js';
import { type Trace, TraceKind } from './trace.js';

/** What a joint does in the whole program; mm and mm/s, or deg and deg/s. */
export interface JointFigures {
  readonly letter: string;
  readonly least: number;
  readonly most: number;
  /** Greatest speed, rapid moves and what the rounding of a short block explains apart. */
  readonly speed: number;
  /** Greatest speed over the joint's limit. */
  readonly speedShare: number;
}

/** Share of a speed limit by which exceeding it is no finding: feeds are written with six digits. */
const SPEED_ROOM = 1e-3;
/** Moves of at least this many last decimals (0.02 mm at four) show how a joint is to change its speed. */
const NOTICED = 200;
/** Share of its travel by which a joint must be outside of it: a wrong unit, and not a part too large. */
const FAR_OUTSIDE = 0.5;
/** Depth under the table face that is no finding, mm. */
const TABLE_ROOM = 1e-3;

export class Walk {
  volume = 0;
  depositLength = 0;
  lowestTip = Infinity;
  /**
   * First block at which a joint is so far outside its travel that nothing from there on is printed, and
   * where.
   */
  beyond: { readonly block: number; readonly where: string } | undefined;
  readonly #machine: Machine;
  readonly #program: Program;
  readonly #ownEnd: number;
  readonly #tally: Tally;
  readonly #trace: Trace;
  readonly #area: number;
  /** Last decimal of a written position, mm or rad. */
  readonly #decimal: readonly number[];
  readonly #least: Float64Array;
  readonly #most: Float64Array;
  readonly #speed: Float64Array;
  /** Speeds and time of the stretch before; time 0 if its end says nothing of the next one's begin. */
  readonly #before: Float64Array;
  #beforeTime = 0;
  /** The stretch in work, in blocks that are too short by themselves: ways of the joints, and time. */
  readonly #way: Float64Array;
  #wayTime = 0;
  #known = false;
  #raised = 0;

  constructor(machine: Machine, program: Program, trace: Trace, ownEnd: number, tally: Tally) {
    const { joints, dialect } = machine;
    const n = joints.length;
    this.#machine = machine;
    this.#program = program;
    this.#ownEnd = ownEnd;
    this.#tally = tally;
    this.#trace = trace;
    this.#area = (Math.PI / 4) * machine.filamentDiameter ** 2;
    this.#decimal = joints.map((j) => 10 ** -dialect.decimals[j.kind] * unitOf(j));
    this.#least = new Float64Array(n).fill(Infinity);
    this.#most = new Float64Array(n).fill(-Infinity);
    this.#speed = new Float64Array(n);
    this.#before = new Float64Array(n);
    this.#way = new Float64Array(n);
  }

  /** Filament that leaves the nozzle, mm. */
  get filament(): number {
    return this.volume / this.#area;
  }

  joints(): JointFigures[] {
    return this.#machine.joints.map((j, i) => {
      const seen = this.#least[i]! <= this.#most[i]!;
      const u = unitOf(j);
      return {
        letter: j.letter,
        least: seen ? this.#least[i]! / u : 0,
        most: seen ? this.#most[i]! / u : 0,
        speed: this.#speed[i]! / u,
        speedShare: this.#speed[i]! / j.speed,
      };
    });
  }

  /** Judges block b; blocks come in order. */
  block(b: number): void {
    const { jointCount: n, seconds, flags } = this.#program;
    const flag = flags[b]!;
    const from = (b - 1) * n;
    const to = b * n;
    if (!this.#isKnown(to)) {
      if (!(flag & BlockFlag.dwell)) this.#reportUnknown(b);
      this.#known = false;
      this.#lose();
      this.#meter(b);
      return;
    }
    this.#checkTravel(b, to);
    const starts = !this.#known || (flag & BlockFlag.fromUnknown) !== 0;
    this.#known = true;
    this.#checkTable(b);
    if (flag & BlockFlag.raised) this.#reportRaised(b);
    if (flag & BlockFlag.rapid && !starts) this.#reportRapid(b, from, to);
    if (flag & (BlockFlag.rapid | BlockFlag.dwell) || starts) this.#lose();
    else this.#checkSpeed(b, from, to, seconds[b]!);
    this.#meter(b);
  }

  #isKnown(at: number): boolean {
    for (let i = 0; i < this.#program.jointCount; i++) {
      if (Number.isNaN(this.#program.joints[at + i]!)) return false;
    }
    return true;
  }

  /** The position of the machine has not been stated: nothing of the block can be judged. */
  #reportUnknown(b: number): void {
    const line = this.#program.line[b]!;
    if (line <= this.#ownEnd) return;
    const message = 'no block before says where every joint stands, so this one is not judged';
    this.#tally.add('verify/place-unknown', 'warning', 0, () => ({ message, at: { line } }));
  }

  #reportRapid(b: number, from: number, to: number): void {
    const { joints, jointCount, line } = this.#program;
    if (line[b]! <= this.#ownEnd) return;
    let moving = 0;
    for (let i = 0; i < jointCount; i++) if (joints[from + i] !== joints[to + i]) moving++;
    if (moving < 2) return;
    const at = this.#place(b);
    const message = `a rapid move of ${moving} joints: whether they arrive together, and so the way between, is the controller's matter`;
    this.#tally.add('verify/rapid-way', 'note', moving, () => ({ message, at }));
  }

  #checkTravel(b: number, to: number): void {
    this.#machine.joints.forEach((joint, i) => {
      const value = this.#program.joints[to + i]!;
      this.#least[i] = Math.min(this.#least[i]!, value);
      this.#most[i] = Math.max(this.#most[i]!, value);
      const over = Math.max(joint.least - value, value - joint.most);
      if (over <= this.#decimal[i]! / 2 + 1e-9) return;
      const where = (): string =>
        `${joint.letter} at ${show(joint, value)}, its travel is ${show(joint, joint.least)} to ${show(joint, joint.most)}`;
      if (over > FAR_OUTSIDE * (joint.most - joint.least))
        this.beyond ??= { block: b, where: where() };
      const code = joint.endless ? 'verify/cable-turns' : 'verify/joint-travel';
      const at = this.#place(b);
      this.#tally.add(code, 'error', over, () => ({
        message: where(),
        at,
      }));
    });
  }

  #checkTable(b: number): void {
    const lowest = this.#trace.low[b]!;
    this.lowestTip = Math.min(this.lowestTip, lowest);
    if (lowest >= -TABLE_ROOM) return;
    const at = this.#place(b);
    this.#tally.add('verify/below-table', 'error', -lowest, () => ({
      message: `the tip is ${(-lowest).toFixed(3)} mm under the table face`,
      at,
    }));
  }

  #reportRaised(b: number): void {
    const { raised } = this.#program;
    while (this.#raised < raised.length && raised[this.#raised]!.block < b) this.#raised++;
    const move = raised[this.#raised];
    // The other pieces of an arc.
    if (move?.block !== b) return;
    const at = this.#place(b);
    const [lasts, asked] = [move.lastsSeconds, move.askedSeconds].map((t) => t.toFixed(3));
    this.#tally.add('verify/feed-raised', 'error', move.askedSeconds, () => ({
      message: `length times F is below 0.1, so the block lasts ${lasts} s and not the ${asked} s it asks for`,
      at,
    }));
  }

  /** Joint speeds, and how fast they would have to change to keep the feeds. */
  #checkSpeed(b: number, from: number, to: number, time: number): void {
    if (!(time > 0)) {
      this.#lose();
      return;
    }
    const { joints } = this.#program;
    let noticed = false;
    for (let i = 0; i < this.#speed.length; i++) {
      const joint = this.#machine.joints[i]!;
      const way = joints[to + i]! - joints[from + i]!;
      const speed = Math.abs(way) / time;
      const room = this.#decimal[i]! / time;
      if (speed - room > this.#speed[i]!) this.#speed[i] = speed - room;
      if (speed > joint.speed * (1 + SPEED_ROOM) + room) this.#reportSpeed(b, joint, speed);
      this.#way[i]! += way;
      if (Math.abs(this.#way[i]!) >= NOTICED * this.#decimal[i]!) noticed = true;
    }
    this.#wayTime += time;
    if (noticed) this.#checkChange(b);
  }

  /** The speeds of the stretch that ends with block b against those of the one before. */
  #checkChange(b: number): void {
    const time = this.#wayTime;
    const together = (time + this.#beforeTime) / 2;
    let hardest = -1;
    let share = 1;
    for (let i = 0; i < this.#speed.length; i++) {
      const speed = this.#way[i]! / time;
      if (this.#beforeTime > 0) {
        const rounding = this.#decimal[i]! / time + this.#decimal[i]! / this.#beforeTime;
        const change = Math.abs(speed - this.#before[i]!) - rounding;
        const over = change / together / this.#machine.joints[i]!.acceleration;
        if (over > share) {
          share = over;
          hardest = i;
        }
      }
      this.#before[i] = speed;
    }
    this.#beforeTime = time;
    this.#way.fill(0);
    this.#wayTime = 0;
    if (hardest >= 0) this.#reportAcceleration(b, this.#machine.joints[hardest]!, share);
  }

  /** What follows says nothing about how speeds change. */
  #lose(): void {
    this.#beforeTime = 0;
    this.#way.fill(0);
    this.#wayTime = 0;
  }

  #reportSpeed(b: number, joint: Joint, speed: number): void {
    const at = this.#place(b);
    this.#tally.add('verify/joint-speed', 'error', speed / joint.speed, () => ({
      message: `${joint.letter} at ${show(joint, speed)}/s, its limit is ${show(joint, joint.speed)}/s`,
      at,
    }));
  }

  /** Not a fault of the program as such: the controller slows down there, and the block takes longer. */
  #reportAcceleration(b: number, joint: Joint, share: number): void {
    const at = this.#place(b);
    this.#tally.add('verify/feed-not-kept', 'note', share, () => ({
      message: `to keep the feed ${joint.letter} would need ${share.toFixed(1)} times its acceleration of ${show(joint, joint.acceleration)}/s2, so the controller slows down here`,
      at,
    }));
  }

  #meter(b: number): void {
    const { volume, kind, length } = this.#trace;
    this.volume += volume[b]!;
    if (kind[b] === TraceKind.deposit) this.depositLength += length[b]!;
  }

  #place(b: number): Place {
    return placeOf(this.#trace, b);
  }
}

/** The line of block b, and where the tip stands at its end and when. */
export function placeOf({ line, tip, time }: Trace, b: number): Place {
  const [x, y, z] = [0, 1, 2].map((c) => round3(tip[3 * b + c]!)) as [number, number, number];
  const known = Number.isFinite(x + y + z);
  return {
    line: line[b]!,
    time: round3(time[b]!),
    ...(known ? { point: [x, y, z], frame: 'part' } : {}),
  };
}

/** Finer digits of a place say nothing to anyone. */
const round3 = (v: number): number => Math.round(v * 1000) / 1000 + 0;

const unitOf = (joint: Joint): number => (joint.kind === 'rotary' ? DEG : 1);

function show(joint: Joint, value: number): string {
  const shown = Number((value / unitOf(joint)).toFixed(3));
  return `${shown} ${joint.kind === 'rotary' ? 'deg' : 'mm'}`;
}
