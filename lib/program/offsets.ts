/**
 * Coordinate systems of RS-274/NGC: what is programmed plus the origin of the active system plus
 * the G92 offset is the machine position. Values live in the standard's numbered parameters, in the
 * units in force, and in mm and degrees here.
 */

/** Order of the axes in every parameter block: 5221 is X of the first system, 5222 Y, and so on. */
const PARAMETER_ORDER = 'XYZABCUVW';
const SYSTEM = 5221;
const SYSTEM_STEP = 20;
const ACTIVE_SYSTEM = 5220;
const G92_OFFSET = 5211;
const G92_IN_FORCE = 5210;
const HOME = { 280: 5161, 300: 5181 } as const;
/** Parameters 1 to 5399 (NISTIR 6556). */
export const PARAMETERS = 5400;

export class Offsets {
  readonly origin: Float64Array;
  readonly shift: Float64Array;
  readonly #parameters: Float64Array;
  readonly #place: readonly number[];
  readonly #linear: readonly boolean[];
  #system = 1;
  /** How it stood before the block, if the block has changed it. */
  #before: { origin: Float64Array; shift: Float64Array; parameters: Float64Array } | undefined;

  constructor(
    axes: readonly { readonly letter: string; readonly kind: 'linear' | 'rotary' }[],
    parameters: Float64Array,
  ) {
    this.#parameters = parameters;
    this.#place = axes.map((a) => PARAMETER_ORDER.indexOf(a.letter));
    this.#linear = axes.map((a) => a.kind === 'linear');
    this.origin = new Float64Array(axes.length);
    this.shift = new Float64Array(axes.length);
    parameters[ACTIVE_SYSTEM] = 1;
  }

  /** A block begins: `undo` comes back to here. */
  begin(): void {
    this.#before = undefined;
  }

  undo(): void {
    if (!this.#before) return;
    this.origin.set(this.#before.origin);
    this.shift.set(this.#before.shift);
    this.#parameters.set(this.#before.parameters);
    this.#system = this.#parameters[ACTIVE_SYSTEM]!;
    this.#before = undefined;
  }

  #keep(): void {
    this.#before ??= {
      origin: this.origin.slice(),
      shift: this.shift.slice(),
      parameters: this.#parameters.slice(),
    };
  }

  /** G54 to G59.3 are systems 1 to 9. @param unit mm of one programmed unit */
  select(system: number, unit: number): void {
    this.#keep();
    this.#system = system;
    this.#parameters[ACTIVE_SYSTEM] = system;
    this.#load(this.origin, SYSTEM + SYSTEM_STEP * (system - 1), unit);
  }

  /** G10 L2: the origin of a system along one axis, as programmed. */
  setOrigin(system: number, axis: number, value: number, unit: number): void {
    this.#keep();
    const at = SYSTEM + SYSTEM_STEP * (system - 1) + this.#place[axis]!;
    this.#parameters[at] = value;
    if (system === this.#system) this.origin[axis] = value * this.#unit(axis, unit);
  }

  /** G92: afterwards the machine position reads as `value` along the axis, both in mm or deg. */
  setShift(axis: number, position: number, value: number, unit: number): void {
    this.#keep();
    this.shift[axis] = position - this.origin[axis]! - value;
    this.#store(unit);
  }

  /** G92.1 (parameters too) and G92.2. */
  clearShift(parametersToo: boolean): void {
    this.#keep();
    this.shift.fill(0);
    if (!parametersToo) return;
    this.#parameters.fill(0, G92_IN_FORCE, G92_OFFSET + PARAMETER_ORDER.length);
  }

  /** G92.3: back to what the parameters hold. */
  restoreShift(unit: number): void {
    this.#keep();
    this.#load(this.shift, G92_OFFSET, unit);
  }

  /** Machine position of G28 (280) or G30 (300) along an axis. */
  home(code: 280 | 300, axis: number, unit: number): number {
    return this.#parameters[HOME[code] + this.#place[axis]!]! * this.#unit(axis, unit);
  }

  #store(unit: number): void {
    this.#parameters[G92_IN_FORCE] = 1;
    for (let i = 0; i < this.shift.length; i++) {
      this.#parameters[G92_OFFSET + this.#place[i]!] = this.shift[i]! / this.#unit(i, unit);
    }
  }

  #load(into: Float64Array, at: number, unit: number): void {
    for (let i = 0; i < into.length; i++) {
      into[i] = this.#parameters[at + this.#place[i]!]! * this.#unit(i, unit);
    }
  }

  #unit(axis: number, unit: number): number {
    return this.#linear[axis] ? unit : 1;
  }
}
