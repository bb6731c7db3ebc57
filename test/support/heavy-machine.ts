/**
 * A machine that gives and has play, simulated apart from the library: the plain content of a machine file and
 * the blocks of a program come in, where the joints really stand goes out.
 *
 * The load of a joint is the slope of the energy of all that is lifted, by central differences of the chain of
 * the recount; every body is a point of its mass in the middle of its solid, every bead one in its middle.
 * Each joint is a spring between its drive and that load, and stands where both are equal, which bisection
 * finds. Play: between drive and joint there is a gap. Its driven side is pressed to the end to which its load
 * points if that exceeds the dry friction, and else stays where the drive's two ends leave it. Values are
 * those of the drive's lower end, or of the end at which the empty machine lies at its ready values.
 *
 * Units as in the file: mm, deg, N m, N m/deg, N for linear joints. Linear joints do not give, unless the file
 * says so of their belts and a load that changes rests on them, which no machine of the tests has.
 */
import { Chain, type File, type Joint, type Vec, place, seenFrom, unit } from '../recount/chain.js';
import type { Moves } from '../recount/program.js';

/** m/s2, standard (CGPM 1901). */
const GRAVITY = 9.80665;
/** Step of the central differences, deg; the slope of a sine is then short by 1e-9 of itself. */
const SLOPE_STEP = 0.005;
const RAD = Math.PI / 180;

interface Lump {
  /** Index of the joint that carries it. */
  readonly carrier: number;
  kg: number;
  /** With all joints at zero, mm. */
  at: [number, number, number];
}

export interface TrueMachine {
  /** N m/deg by letter, in place of what the file states or its belts give; Infinity: rigid. */
  readonly stiffness?: Readonly<Record<string, number>>;
  /** deg or mm by letter, in place of the file's. */
  readonly play?: Readonly<Record<string, number>>;
  /** N m or N by letter, in place of the file's. */
  readonly friction?: Readonly<Record<string, number>>;
}

export class HeavyMachine {
  readonly joints: readonly Joint[];
  readonly #file: File;
  readonly #chain: Chain;
  readonly #lumps: Lump[];
  readonly #part: Lump;
  readonly #stiffness: readonly number[];
  readonly #friction: readonly number[];
  readonly #plays: readonly number[];
  readonly #readyLoads: readonly number[];
  /** By joint the value of which the gap counts: that of its lower or its upper end. */
  readonly #gapZero: readonly number[];
  /** Where in its gap each joint is, from the lower end. */
  readonly #gap: number[];
  /** Driven side of each joint as it stands without its give. */
  #before: readonly number[];

  constructor(file: File, truth: TrueMachine = {}) {
    this.#file = file;
    this.#chain = new Chain(file);
    this.joints = this.#chain.joints;
    const { drives, ready } = file;
    const by = (letter: string): number => this.joints.findIndex((j) => j.letter === letter);
    this.#lumps = (drives?.bodies ?? []).map(({ carriedBy, mass, solid }) => ({
      carrier: by(carriedBy),
      kg: mass,
      at: [0, 1, 2].map((c) => (solid.from[c]! + solid.to[c]!) / 2) as Lump['at'],
    }));
    this.#part = { carrier: this.#chain.last(true), kg: 0, at: [0, 0, 0] };
    this.#lumps.push(this.#part);
    this.#stiffness = this.joints.map(
      (j) => truth.stiffness?.[j.letter] ?? (j.kind === 'rotary' ? stiffnessOf(file, j) : Infinity),
    );
    this.#friction = this.joints.map(
      (j) => truth.friction?.[j.letter] ?? drives?.joints?.[j.letter]?.friction ?? Infinity,
    );
    this.#plays = this.joints.map((j) => truth.play?.[j.letter] ?? j.backlash ?? 0);
    const start = this.joints.map((j) => ready?.[j.letter] ?? 0);
    this.#readyLoads = this.joints.map((_, j) => this.load(start, j));
    this.#gapZero = this.joints.map((_, j) =>
      this.#end(j, this.#readyLoads[j]!) === 1 ? this.#plays[j]! : 0,
    );
    this.#gap = this.#gapZero.slice();
    this.#before = start;
  }

  /** Lays a bead of some kg at a place over the table, in the table's place at zero, mm. */
  lay(kg: number, [x, y, z]: Vec): void {
    const { kg: old, at } = this.#part;
    const all = old + kg;
    if (!(all > 0)) return;
    this.#part.at = [at[0] * old + x * kg, at[1] * old + y * kg, at[2] * old + z * kg].map(
      (m) => m / all,
    ) as Lump['at'];
    this.#part.kg = all;
  }

  get partKg(): number {
    return this.#part.kg;
  }

  /** N m or N with which joint j holds up what it carries, positive towards rising values. */
  load(values: readonly number[], j: number): number {
    const { kind, letter } = this.joints[j]!;
    const size = kind === 'rotary' ? RAD : 1e-3;
    const [high, low] = [SLOPE_STEP, -SLOPE_STEP].map((by) =>
      this.#energy(values.map((v, i) => (i === j ? v + by : v))),
    );
    const slope = (high! - low!) / (2 * SLOPE_STEP * size);
    const balance = this.#file.drives?.joints?.[letter]?.balance;
    if (!balance) return slope;
    const { torque, at = 0, rate = 0 } = balance;
    return slope - (torque - rate * (values[j]! - at));
  }

  /** J */
  #energy(values: readonly number[]): number {
    this.#chain.set(values);
    let sum = 0;
    for (const { carrier, kg, at } of this.#lumps) {
      if (kg > 0) sum += kg * GRAVITY * place(this.#chain.carried[carrier]!, at)[2] * 1e-3;
    }
    return sum;
  }

  /** The end of its gap to which a load presses a joint; undefined if friction holds it against that. */
  #end(j: number, load: number): 0 | 1 | undefined {
    if (Math.abs(load) <= this.#friction[j]!) return undefined;
    return load > 0 ? 0 : 1;
  }

  /** Where the joints come to stand whose drives go to these values. */
  go(told: readonly number[]): number[] {
    // The drive's ends move, and push the joint only where it is in their way.
    this.joints.forEach((_, j) => {
      const was = this.#before[j]! + this.#gapZero[j]! - told[j]!;
      this.#gap[j] = Math.min(Math.max(was, 0), this.#plays[j]!);
    });
    const pushed = this.#equilibrium(told.map((v, j) => v + this.#gap[j]! - this.#gapZero[j]!));
    this.joints.forEach((_, j) => {
      const end = this.#end(j, this.load(pushed, j));
      if (end !== undefined) this.#gap[j] = end * this.#plays[j]!;
    });
    this.#before = told.map((v, j) => v + this.#gap[j]! - this.#gapZero[j]!);
    return this.#equilibrium(this.#before);
  }

  /** Of springs between drives and loads; joints in turn until none moves on. */
  #equilibrium(drives: readonly number[]): number[] {
    const stands = drives.slice();
    const soft = this.joints.flatMap((_, j) => (this.#stiffness[j] === Infinity ? [] : [j]));
    for (let turn = 0; turn < 6; turn++) {
      let moved = 0;
      for (const j of soft) {
        // Pull of the spring less the load, falling with the value.
        const rest = (v: number): number => {
          stands[j] = v;
          const spring = this.#stiffness[j]! * (drives[j]! - v);
          return spring - (this.load(stands, j) - this.#readyLoads[j]!);
        };
        const before = stands[j]!;
        const found = zeroOf(rest, before - 3, before + 3);
        stands[j] = found;
        moved = Math.max(moved, Math.abs(found - before));
      }
      if (moved < 1e-9) break;
    }
    return stands;
  }
}

/** N m/deg: as stated, or by two spans of belt as parallel springs at the radius of the pulley. */
function stiffnessOf({ drives }: File, joint: Joint): number {
  if (joint.stiffness !== undefined) return joint.stiffness;
  const own = drives?.drives.find((d) => d.ratio?.[joint.letter] !== undefined)?.belt;
  if (!own) return Infinity;
  return ((2 * own.stiffness) / own.span) * own.radius! * (own.radius! / 1000) * RAD;
}

/** Illinois' rule of false position; the function falls. */
function zeroOf(f: (x: number) => number, from: number, to: number): number {
  let [a, b] = [from, to];
  let [fa, fb] = [f(a), f(b)];
  if (fa < 0 || fb > 0) throw new Error('the joint does not hold what it carries');
  for (let i = 0; i < 60; i++) {
    const x = b - (fb * (b - a)) / (fb - fa);
    const y = f(x);
    if (Math.abs(y) < 1e-10) return x;
    if (y > 0 === fb > 0) fa /= 2;
    else [a, fa] = [b, fb];
    [b, fb] = [x, y];
  }
  return b;
}

/** Growth of the part, kg, from which on all is found anew. */
const GROWN = 2e-5;

/**
 * The blocks of a program as such a machine runs them, its part growing.
 * @param density of what is laid, g/cm3
 */
export function runHeavy(file: File, moves: Moves, density: number, truth?: TrueMachine): Moves {
  const machine = new HeavyMachine(file, truth);
  const { jointCount: n, joints: told, filament } = moves;
  const joints = told.slice();
  const chain = new Chain(file);
  const [head, table] = [chain.last(false), chain.last(true)];
  const seen = unit();
  const tipAt = (values: ArrayLike<number>): [number, number, number] => {
    chain.set(values);
    seenFrom(chain.carried[table]!, chain.carried[head]!, seen);
    return place(seen, file.head.tip ?? [0, 0, 0]);
  };
  const rotary = chain.joints.flatMap((j, i) => (j.kind === 'rotary' ? [i] : []));
  const gram = (Math.PI / 4) * file.filament.diameter ** 2 * density * 1e-6;
  let known = { key: '', kg: 0, give: new Array<number>(n).fill(0) };
  let tip = tipAt(moves.from);
  for (let b = 0; b < filament.length; b++) {
    const values = [...told.subarray(b * n, b * n + n)];
    const key = rotary.map((j) => values[j]).join();
    // Linear joints carry no rotary one on the machines at hand, so they change no load of one.
    if (key !== known.key || machine.partKg - known.kg > GROWN) {
      const stands = machine.go(values);
      known = { key, kg: machine.partKg, give: stands.map((v, j) => v - values[j]!) };
    }
    values.forEach((v, j) => (joints[b * n + j] = v + (rotary.includes(j) ? known.give[j]! : 0)));
    const next = tipAt(joints.subarray(b * n, b * n + n));
    const metered = filament[b]!;
    if (metered > 0) {
      machine.lay(metered * gram, [0, 1, 2].map((c) => (tip[c]! + next[c]!) / 2) as never as Vec);
    }
    tip = next;
  }
  return { ...moves, joints };
}
