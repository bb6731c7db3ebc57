/**
 * Where the machine stands and how it gets to the next position: words of a block become joint values, time
 * and filament. Positions are kept as machine positions in mm and degrees, so that a change of units or
 * offsets never moves anything.
 */
import { pieceCount, pointOn } from './arc.js';
import { type ArcPlane, planeAxes, readArc } from './arc-words.js';
import { type BlockReader, indexOf } from './block.js';
import { BlockBounds } from './block-bounds.js';
import { Offsets } from './offsets.js';
import type { ProgramReadOptions } from './options.js';
import { AxisGroup, LEAST_RATE, RateLength, groupOf } from './rate.js';
import { BlockFlag, type Recorder } from './recorder.js';
import { STILL_TIP } from './tip.js';
import { DEG } from '../base/vector.js';

const INCH = 25.4;
const ARC_ERROR = 0.001;
const P = indexOf('P');

/** What a block leaves in force for those after it. */
interface Modes {
  /** mm of one programmed unit */
  readonly unit: number;
  readonly absolute: boolean;
  readonly inverse: boolean;
  readonly feed: number;
  readonly plane: ArcPlane;
}

export class MoveInterpreter {
  unitsStated = false;
  readonly #options: ProgramReadOptions;
  readonly #reader: BlockReader;
  readonly #out: Recorder;
  readonly #offsets: Offsets;
  /** Letter index of each axis, its group for F, and whether it is linear. */
  readonly #index: readonly number[];
  readonly #groups: readonly AxisGroup[];
  readonly #linear: readonly boolean[];
  readonly #filament: number;
  readonly #filamentGroup: AxisGroup;
  readonly #position: Float64Array;
  readonly #target: Float64Array;
  readonly #rate = new RateLength();
  readonly #bounds: BlockBounds;
  readonly #before: Float64Array;
  #counter = 0;
  #counterBefore = 0;
  #modes: Modes = { unit: 1, absolute: true, inverse: false, feed: 0, plane: 170 };
  #modesBefore = this.#modes;
  #feedHere = false;
  #bits = 0;

  constructor(options: ProgramReadOptions, reader: BlockReader, out: Recorder) {
    const { axes, start, filament } = options;
    this.#options = options;
    this.#reader = reader;
    this.#out = out;
    this.#offsets = new Offsets(axes, reader.parameters);
    this.#index = axes.map((a) => indexOf(a.letter));
    this.#groups = axes.map((a) => groupOf(a.letter));
    this.#linear = axes.map((a) => a.kind === 'linear');
    this.#filament = filament ? indexOf(filament.letter) : -1;
    this.#filamentGroup = filament ? groupOf(filament.letter) : AxisGroup.none;
    this.#position = Float64Array.from(axes, (a, i) => {
      const value = start ? start[i]! : 0;
      return a.kind === 'rotary' ? value / DEG : value;
    });
    this.#target = this.#position.slice();
    this.#before = this.#position.slice();
    this.#bounds = new BlockBounds(reader, options);
  }

  /** A block begins: `undo` comes back to here. */
  begin(): void {
    this.#before.set(this.#position);
    this.#modesBefore = this.#modes;
    this.#counterBefore = this.#counter;
    this.#offsets.begin();
  }

  undo(): void {
    this.#position.set(this.#before);
    this.#modes = this.#modesBefore;
    this.#counter = this.#counterBefore;
    this.#offsets.undo();
  }

  forget(): void {
    this.#position.fill(NaN);
  }

  /** G93 or G94; F must be given again after the change to G94. */
  setFeedMode(inverse: boolean): void {
    if (inverse !== this.#modes.inverse) this.#set({ inverse, feed: 0 });
  }

  setFeed(feed: number | undefined): void {
    this.#feedHere = feed !== undefined;
    if (feed !== undefined && feed !== this.#modes.feed) this.#set({ feed });
  }

  setPlane(plane: ArcPlane): void {
    this.#set({ plane });
  }

  setUnit(inches: boolean): void {
    this.#set({ unit: inches ? INCH : 1 });
    this.unitsStated = true;
  }

  setAbsolute(absolute: boolean): void {
    this.#set({ absolute });
  }

  selectSystem(system: number): void {
    this.#offsets.select(system, this.#modes.unit);
  }

  #set(modes: Partial<Modes>): void {
    this.#modes = { ...this.#modes, ...modes };
  }

  dwell(seconds: number): void {
    this.#bounds.time(seconds);
    this.#out.add(this.#position, seconds, 0, this.#reader.line, BlockFlag.dwell);
  }

  /** G10 L2, G28, G30, G92 to G92.3; other codes of the group do nothing here. */
  nonModal(code: number): void {
    const { block } = this.#reader;
    if (code === 100) {
      this.#index.forEach((index, axis) => {
        if (!block.has(index)) return;
        this.#offsets.setOrigin(block.value[P]!, axis, block.value[index]!, this.#modes.unit);
      });
    } else if (code === 920) this.#setShift();
    else if (code === 921 || code === 922) this.#offsets.clearShift(code === 921);
    else if (code === 923) this.#offsets.restoreShift(this.#modes.unit);
    else if (code === 280 || code === 300) this.#goHome(code);
  }

  /** @param motion group 1 code in tenths. @param machineFrame G53 stands in the block */
  move(motion: number, machineFrame: boolean): void {
    this.#aim(machineFrame);
    if (motion !== 0) this.#checkFeed(motion);
    if (motion === 0) this.#rapid(this.#meter());
    else if (motion === 10) this.#straight(this.#meter());
    else this.#sweep(motion === 20);
  }

  #setShift(): void {
    const { block } = this.#reader;
    this.#index.forEach((index, axis) => {
      if (!block.has(index)) return;
      const value = block.value[index]! * this.#unitOf(axis);
      // Where the place is not known, G92 makes it known.
      if (Number.isNaN(this.#position[axis]!)) {
        this.#position[axis] = value + this.#offsets.origin[axis]! + this.#offsets.shift[axis]!;
      } else this.#offsets.setShift(axis, this.#position[axis]!, value, this.#modes.unit);
    });
    if (this.#filament >= 0 && block.has(this.#filament)) {
      this.#counter = block.value[this.#filament]! * this.#modes.unit;
    }
  }

  /** With every axis, by way of the position that the axis words name, if there are any. */
  #goHome(code: 280 | 300): void {
    const { block } = this.#reader;
    if (this.#index.some((index) => block.has(index))) {
      this.#aim(false);
      this.#rapid(0);
    }
    for (let i = 0; i < this.#target.length; i++) {
      this.#target[i] = this.#offsets.home(code, i, this.#modes.unit);
    }
    this.#bounds.places(this.#target);
    this.#rapid(0);
  }

  #unitOf(axis: number): number {
    return this.#linear[axis] ? this.#modes.unit : 1;
  }

  /** Filament that the block meters, mm; running sums do not depend on G90 and G91. */
  #meter(): number {
    const { block } = this.#reader;
    if (this.#filament < 0 || !block.has(this.#filament)) return 0;
    const value = block.value[this.#filament]! * this.#modes.unit;
    const by = this.#options.filament!.mode === 'absolute' ? value - this.#counter : value;
    this.#bounds.filament(by, this.#filament);
    this.#counter += by;
    return by;
  }

  /** The machine position at the block's end; steps from a place that is not known stay unknown. */
  #aim(machineFrame: boolean): void {
    const { seen, value } = this.#reader.block;
    const { origin, shift } = this.#offsets;
    const { absolute } = this.#modes;
    for (let i = 0; i < this.#target.length; i++) {
      const index = this.#index[i]!;
      const here = this.#position[i]!;
      if (!(seen & (1 << index))) {
        this.#target[i] = here;
        continue;
      }
      const by = value[index]! * this.#unitOf(i);
      if (machineFrame) this.#target[i] = by;
      else if (absolute) this.#target[i] = by + origin[i]! + shift[i]!;
      else this.#target[i] = here + by;
    }
    this.#bounds.places(this.#target);
  }

  #rapid(filament: number): void {
    this.#bounds.turns(this.#position, this.#target);
    let seconds = 0;
    let unknown = 0;
    for (let i = 0; i < this.#target.length; i++) {
      const by = Math.abs(this.#target[i]! - this.#position[i]!);
      if (by > 0) seconds = Math.max(seconds, by / this.#options.axes[i]!.speed);
      else if (Number.isNaN(by)) unknown = BlockFlag.fromUnknown;
    }
    this.#arrive(seconds, filament, BlockFlag.rapid | unknown);
  }

  #checkFeed(motion: number): void {
    const name = `G${motion / 10}`;
    if (this.#modes.inverse && !this.#feedHere) {
      this.#reader.faultAt(-1, 'feed-missing', `${name} in G93 needs F in its block`);
    }
    if (!(this.#modes.feed > 0)) {
      const what = this.#feedHere ? 'feed-zero' : 'feed-missing';
      this.#reader.faultAt(-1, what, `${name} with a feed of 0`);
    }
  }

  #straight(filament: number): void {
    this.#bounds.turns(this.#position, this.#target);
    this.#rate.clear();
    let turns = false;
    let known = true;
    const { seen } = this.#reader.block;
    for (let i = 0; i < this.#target.length; i++) {
      if (!(seen & (1 << this.#index[i]!))) continue;
      const by = this.#target[i]! - this.#position[i]!;
      if (by === 0) continue;
      if (Number.isNaN(by)) known = false;
      this.#rate.add(this.#groups[i]!, by);
      if (!this.#linear[i]) turns = true;
    }
    if (filament !== 0) this.#rate.add(this.#filamentGroup, filament);
    const counts = this.#rate.group();
    // Degrees stay degrees whatever the unit of length.
    const unit = counts === AxisGroup.abc ? 1 : this.#modes.unit;
    let length = this.#rate.length() / unit;
    if (turns && known && this.#options.tip && !this.#modes.inverse)
      length = this.#tipLength(length);
    const seconds = this.#timeOf(known ? length : NaN);
    this.#arrive(seconds, filament, this.#bits);
  }

  #tipLength(otherwise: number): number {
    const joints = (from: Float64Array): Float64Array =>
      from.map((v, i) => (this.#linear[i] ? v : v * DEG));
    const tip = this.#options.tip!(joints(this.#position), joints(this.#target));
    if (tip >= STILL_TIP) return tip / this.#modes.unit;
    const turns = this.#target.map((v, i) => (this.#linear[i] ? 0 : v - this.#position[i]!));
    return turns.some((t) => t !== 0) ? Math.hypot(...turns) : otherwise;
  }

  /**
   * Time of a move by the feed in force; flags go into `#bits`.
   * @param length in units, or NaN if the start is not known
   */
  #timeOf(length: number): number {
    this.#bits = this.#modes.inverse ? BlockFlag.inverseTime : 0;
    if (Number.isNaN(length)) {
      this.#bits |= BlockFlag.fromUnknown;
      return this.#modes.inverse ? 60 / this.#modes.feed : 0;
    }
    if (!this.#modes.inverse) return (length / this.#modes.feed) * 60;
    const rate = length * this.#modes.feed;
    const seconds = (length / Math.max(LEAST_RATE, rate)) * 60;
    if (length > 0 && rate < LEAST_RATE) {
      this.#bits |= BlockFlag.raised;
      this.#out.raised.push({
        block: this.#out.blocks,
        askedSeconds: 60 / this.#modes.feed,
        lastsSeconds: seconds,
      });
    }
    return seconds;
  }

  #arrive(seconds: number, filament: number, flags: number): void {
    this.#bounds.time(seconds);
    this.#position.set(this.#target);
    this.#out.add(this.#position, seconds, filament, this.#reader.line, flags);
  }

  /** G2 and G3: straight pieces within the arc error, other axes and filament moving linearly. */
  #sweep(clockwise: boolean): void {
    const [a, b, h] = planeAxes(this.#reader, this.#modes.plane, this.#options.axes);
    const from = this.#position.slice();
    const to = this.#target.slice();
    if (Number.isNaN(from[a]! + from[b]! + from[h]! + to[a]! + to[b]! + to[h]!)) {
      this.#reader.faultAt(
        -1,
        'place-unknown',
        'an arc from where no block before has said that the machine stands',
      );
    }
    const arc = readArc(
      this.#reader,
      this.#modes.plane,
      this.#modes.unit,
      [from[a]!, from[b]!],
      [to[a]!, to[b]!],
      clockwise,
    );
    this.#bounds.turns(from, to);
    const filament = this.#meter();
    const inPlane = (Math.abs(arc.sweep) * (arc.radiusFrom + arc.radiusTo)) / 2;
    const length = Math.hypot(inPlane, to[h]! - from[h]!);
    const pieces = pieceCount(arc, this.#options.arcError ?? ARC_ERROR);
    this.#bounds.arc(Math.max(arc.radiusFrom, arc.radiusTo), pieces);
    const whole = this.#timeOf(length / this.#modes.unit);
    this.#bounds.time(whole);
    const seconds = whole / pieces;
    const flags = this.#bits | BlockFlag.arc;
    for (let k = 1; k <= pieces; k++) {
      const share = k / pieces;
      for (let i = 0; i < to.length; i++) {
        this.#target[i] = k === pieces ? to[i]! : from[i]! + (to[i]! - from[i]!) * share;
      }
      if (k < pieces) [this.#target[a], this.#target[b]] = pointOn(arc, share);
      this.#arrive(seconds, filament / pieces, flags);
    }
  }
}
