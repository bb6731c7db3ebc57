/**
 * Writes moves as RS-274 blocks, with only the words that have changed. What always holds: a written
 * position is the rounded exact one (errors never add up), filament likewise from its running sum; F stands
 * in every inverse-time block and again after each change of feed mode; no inverse-time block asks for less
 * than the least rate of 0.1 units a minute, which an interpreter would silently run faster.
 *
 * That last rule cannot be met by dividing a block (length times F stays the same), so a block in which a
 * rotary axis turns and X Y Z hardly move is rewritten: motion of up to HELD_MOTION is left for the next
 * block (positions are absolute, so it is made up there), and more than that becomes a turn with X Y Z
 * standing still, in the full time, and a short straight block after it.
 */
import { Fault } from '../base/fault.js';
import { DEG } from '../base/vector.js';
import type { Machine } from '../machine/machine.js';
import type { Lines } from './lines.js';
import { feedText, fixed, powerOfTen } from './number.js';
import { AxisGroup, LEAST_RATE, RateLength, groupOf } from './rate.js';
import { STILL_TIP, tipLength } from './tip.js';

/** Motion that may be deferred to the next block, mm. Half the error allowed between plan and program. */
const HELD_MOTION = 5e-4;
/** Time that may be deferred to the next block when nothing is left to move after rounding, s. */
const LATE = 1e-3;
/** Room for the rounding of F against the least rate. */
const RATE_ROOM = 1 + 1e-4;
/** Feed of the short straight block after a rewritten turn, mm/s, if the joints allow it. */
const STEP_SPEED = 1;
/** No machine has rounded positions beyond this, mm or deg. */
const FARTHEST_POSITION = 1e6;

type FeedMode = 'G93' | 'G94';

export class Speller {
  readonly #machine: Machine;
  readonly #out: Lines;
  readonly #letters: readonly string[];
  readonly #groups: readonly AxisGroup[];
  readonly #rotary: readonly boolean[];
  readonly #decimals: readonly number[];
  /** Counts of the last decimal for one mm or rad. */
  readonly #scale: readonly number[];
  readonly #power: readonly number[];
  readonly #filamentGroup: AxisGroup;
  readonly #filamentPower: number;
  readonly #stepFeed: number;
  readonly #rate = new RateLength();
  readonly #exact = new RateLength();

  /** Joint values of the last move, unrounded, and counts of what is written and comes next. */
  readonly #last: Float64Array;
  readonly #written: Float64Array;
  readonly #next: Float64Array;
  /** Filament: exact sum with its compensation (Neumaier), count written and count to come. */
  #sum = 0;
  #compensation = 0;
  #metered = 0;
  #meter = 0;
  #mode: FeedMode | '' = '';
  #feed = '';
  #moving = false;
  #restate = true;
  #late = 0;

  constructor(machine: Machine, from: ArrayLike<number>, out: Lines) {
    const { joints, dialect } = machine;
    this.#machine = machine;
    this.#out = out;
    this.#letters = joints.map((j) => j.letter);
    this.#groups = joints.map((j) => groupOf(j.letter));
    this.#rotary = joints.map((j) => j.kind === 'rotary');
    this.#decimals = joints.map((j) => dialect.decimals[j.kind]);
    this.#power = this.#decimals.map(powerOfTen);
    this.#scale = joints.map((j, i) => this.#power[i]! / (j.kind === 'rotary' ? DEG : 1));
    this.#filamentGroup = groupOf(dialect.filament.letter);
    this.#filamentPower = powerOfTen(dialect.decimals.filament);
    const slowest = Math.min(
      ...joints.filter((j) => j.kind === 'linear').map((j) => j.speed),
      STEP_SPEED,
    );
    this.#stepFeed = slowest * 60;
    this.#last = Float64Array.from({ length: joints.length }, (_, i) => from[i]!);
    this.#written = new Float64Array(joints.length);
    this.#next = new Float64Array(joints.length);
    this.#round(from, 0);
    this.#written.set(this.#next);
  }

  /** Filament metered so far as the program says it, mm. */
  get filament(): number {
    return this.#metered / this.#filamentPower;
  }

  /** After lines that are not ours: every mode and position is stated again in the next block. */
  restate(): void {
    this.#mode = '';
    this.#feed = '';
    this.#moving = false;
    this.#restate = true;
  }

  /** Lines that are not ours have brought the joints to these values (or near them). */
  moved(joints: ArrayLike<number>): void {
    this.#round(joints, 0);
    this.#written.set(this.#next);
    for (let i = 0; i < this.#last.length; i++) this.#last[i] = joints[i]!;
    this.restate();
  }

  /** A slow straight block to the place where the motion starts, wherever the machine is. */
  start(feed: number): void {
    this.#block('G94', feed);
  }

  /**
   * One block of the motion, which may become no line, one or two.
   * @param joints values from `at`, mm and rad
   * @param filament mm
   * @param seconds time of the block
   * @param filamentOnly true if the block exists for its filament
   */
  move(
    joints: ArrayLike<number>,
    at: number,
    filament: number,
    seconds: number,
    filamentOnly: boolean,
  ): void {
    this.#addFilament(filament);
    this.#round(joints, at);
    this.#measure();
    const time = seconds + this.#late;
    const moves = this.#moves();
    if (moves && !(time > 0)) {
      throw new Error(`a block that moves takes ${time} s`);
    }
    this.#late = 0;
    if (!moves) this.#stand(time, filamentOnly);
    else if (this.#turns()) this.#turn(time);
    else this.#straight(joints, at, filament, time);
    for (let i = 0; i < this.#last.length; i++) this.#last[i] = joints[at + i]!;
  }

  #addFilament(by: number): void {
    const sum = this.#sum + by;
    this.#compensation +=
      Math.abs(this.#sum) >= Math.abs(by) ? this.#sum - sum + by : by - sum + this.#sum;
    this.#sum = sum;
    this.#meter = Math.round((sum + this.#compensation) * this.#filamentPower);
  }

  #round(joints: ArrayLike<number>, at: number): void {
    for (let i = 0; i < this.#next.length; i++) {
      const count = Math.round(joints[at + i]! * this.#scale[i]!);
      if (!(Math.abs(count) <= FARTHEST_POSITION * this.#power[i]!)) {
        throw new Error(`joint ${this.#letters[i]} at ${joints[at + i]}`);
      }
      this.#next[i] = count;
    }
  }

  /** Length of the rounded move by the rule of F. */
  #measure(): void {
    this.#rate.clear();
    for (let i = 0; i < this.#next.length; i++) {
      const by = this.#next[i]! - this.#written[i]!;
      if (by !== 0) this.#rate.add(this.#groups[i]!, by / this.#power[i]!);
    }
    const metered = this.#meter - this.#metered;
    if (metered !== 0) this.#rate.add(this.#filamentGroup, metered / this.#filamentPower);
  }

  #moves(): boolean {
    return this.#next.some((count, i) => count !== this.#written[i]);
  }

  #turns(): boolean {
    return this.#rotary.some((r, i) => r && this.#next[i] !== this.#written[i]);
  }

  /** No joint moves: filament alone, a dwell, or (too short for either) left for the next block. */
  #stand(time: number, filamentOnly: boolean): void {
    const metered = Math.abs(this.#meter - this.#metered) / this.#filamentPower;
    if (metered > 0 && (filamentOnly || time >= LATE)) {
      if (!(time > 0)) throw new Error(`${metered} mm of filament in ${time} s`);
      this.#block('G94', (metered * 60) / time);
    } else if (time >= LATE) this.#dwell(time);
    else this.#late = time;
  }

  #dwell(time: number): void {
    const count = Math.round(time * 1000);
    if (count > 0) this.#out.add(`G4 P${fixed(count, 3)}`);
    this.#late = Math.max(0, time - count / 1000);
  }

  /**
   * F comes from the unrounded length, so that a path at one speed has one F; where rounding or
   * held motion changes the length much, the time counts instead.
   */
  #straight(joints: ArrayLike<number>, at: number, filament: number, time: number): void {
    this.#exact.clear();
    for (let i = 0; i < this.#last.length; i++) {
      this.#exact.add(this.#groups[i]!, joints[at + i]! - this.#last[i]!);
    }
    this.#exact.add(this.#filamentGroup, filament);
    const rounded = this.#rate.length();
    const same = this.#exact.group() === this.#rate.group();
    const exact = this.#exact.length();
    const fits = same && Math.abs(exact - rounded) < 0.5 * rounded;
    this.#block('G94', ((fits ? exact : rounded) * 60) / time);
  }

  /** A rotary axis turns. */
  #turn(time: number): void {
    const { rotaryFeed, rotaryFeedMeaning } = this.#machine.dialect;
    const byTip = rotaryFeed === 'G94' && rotaryFeedMeaning === 'tip';
    const length = byTip ? this.#tipOrTurn() : this.#rate.length();
    if ((length * 60) / time >= LEAST_RATE * RATE_ROOM) {
      this.#block(rotaryFeed, rotaryFeed === 'G93' ? 60 / time : (length * 60) / time);
    } else if (!byTip && this.#rate.group() < AxisGroup.abc) this.#split(length, time);
    else {
      const least = LEAST_RATE * RATE_ROOM;
      const lasts = (length * 60) / least;
      this.#dwell(time - lasts);
      this.#block(rotaryFeed, rotaryFeed === 'G93' ? 60 / lasts : least);
    }
  }

  /** Turns with the group that F would measure standing still; its motion waits or follows. */
  #split(length: number, time: number): void {
    const group = this.#rate.group();
    const target = this.#next.slice();
    const meter = this.#meter;
    for (let i = 0; i < target.length; i++) {
      if (this.#groups[i] === group) this.#next[i] = this.#written[i]!;
    }
    const metersToo = this.#filamentGroup === group;
    if (metersToo) this.#meter = this.#metered;
    this.#measure();
    this.#turn(time);
    if (length <= HELD_MOTION && !metersToo) return;
    this.#next.set(target);
    this.#meter = meter;
    this.#measure();
    if (this.#rate.length() > 0) this.#block('G94', this.#stepFeed);
  }

  /** Length of the tip's path of the rounded move, mm; the turn in degrees if the tip stands. */
  #tipOrTurn(): number {
    const from = this.#written.map((count, i) => count / this.#scale[i]!);
    const to = this.#next.map((count, i) => count / this.#scale[i]!);
    const tip = tipLength(this.#machine, from, to);
    if (tip >= STILL_TIP) return tip;
    return Math.hypot(
      ...this.#rotary.map((r, i) =>
        r ? (this.#next[i]! - this.#written[i]!) / this.#power[i]! : 0,
      ),
    );
  }

  #block(mode: FeedMode, feed: number): void {
    const f = feedText(feed);
    if (f === undefined) {
      throw new Fault('program/too-slow', `a feed of ${feed} a minute is below 0.000001`, {
        line: this.#out.count + 1,
      });
    }
    let line = '';
    if (mode !== this.#mode) {
      line = `${mode} `;
      this.#mode = mode;
      this.#feed = '';
    }
    if (!this.#moving) line += 'G1 ';
    for (let i = 0; i < this.#next.length; i++) {
      const count = this.#next[i]!;
      if (count === this.#written[i] && !this.#restate) continue;
      line += `${this.#letters[i]}${fixed(count, this.#decimals[i]!)} `;
      this.#written[i] = count;
    }
    if (this.#meter !== this.#metered) line += this.#filamentWord();
    if (mode === 'G93' || f !== this.#feed) {
      line += `F${f} `;
      this.#feed = f;
    }
    this.#moving = true;
    this.#restate = false;
    this.#out.add(line.slice(0, -1));
  }

  #filamentWord(): string {
    const { filament, decimals } = this.#machine.dialect;
    const count = filament.mode === 'absolute' ? this.#meter : this.#meter - this.#metered;
    this.#metered = this.#meter;
    return `${filament.letter}${fixed(count, decimals.filament)} `;
  }
}
