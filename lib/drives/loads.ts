/**
 * The loads of a job over time: torque, speed and work of every joint, sample by sample, with the part
 * growing as it is laid. The side of the machine that stands still is evaluated again only when the part
 * has grown.
 */
import { type Watch, step } from '../base/watch.js';
import type { Machine } from '../machine/machine.js';
import { type TrajectoryPiece, stateAt } from '../motion/timing/trajectory.js';
import type { TimedPath } from '../motion/timing/time-path.js';
import { ChainDynamics } from '../machine/chain-dynamics.js';
import { GrowingMass, KG_PER_MM3 } from '../machine/mass.js';
import type { JointPath } from './job-path.js';
import { TipTrail } from './trail.js';

/** Blocks between two reports of progress. */
const LOOK = 50_000;
/** Growth of the part, as a share of all that the table carries, at which loads are evaluated again. */
const GROWN = 1e-3;
/** Greatest turn of a joint between two evaluations, rad. */
const PART_TURN = (5 * Math.PI) / 180;
/** Points of a sample: start, middle, end; the weights are Simpson's. */
export const WEIGHTS = [1 / 6, 4 / 6, 1 / 6] as const;

/** Loads at the three points of a time; arrays hold an entry a joint and are reused. SI units. */
export interface Sample {
  /** First of the blocks that are timed as one. */
  readonly block: number;
  /** Time since the job began, at the start of the sample, s. */
  readonly time: number;
  readonly seconds: number;
  /** For each of the three points: place, rad or m. */
  readonly place: readonly Float64Array[];
  /** rad/s or m/s */
  readonly speed: readonly Float64Array[];
  /** rad/s2 or m/s2 */
  readonly acceleration: readonly Float64Array[];
  /** Torque, N m, or force, N, with friction. */
  readonly torque: readonly Float64Array[];
  /** The part of it that friction takes. */
  readonly friction: readonly Float64Array[];
  /** For each joint whether its side of the machine stands still. */
  readonly still: readonly boolean[];
}

/** Where the energy went, J; `work` is what the joints gave, less what they got back. */
export interface Energy {
  work: number;
  /** Sum of the amounts that went either way. */
  turnover: number;
  friction: number;
  kinetic: number;
  potential: number;
  /** Brought in by material that was laid on what moves or stands high. */
  laid: number;
}

export interface LoadRun {
  readonly seconds: number;
  readonly energy: Energy;
  /** kg and, in the part frame, mm. */
  readonly part: { readonly kg: number; readonly centre: readonly [number, number, number] };
}

interface MachineSide {
  readonly chain: ChainDynamics;
  readonly table: boolean;
  readonly v: Float64Array;
  readonly a: Float64Array;
  readonly q: Float64Array;
  fresh: boolean;
  laden: number;
}

/**
 * @param density of the part, g/cm3
 * @param visit called with every sample, which is valid until it returns
 */
export function runLoads(
  path: JointPath,
  { route, times }: TimedPath,
  density: number,
  visit: (sample: Sample, sides: readonly ChainDynamics[]) => void,
  watch?: Watch,
): LoadRun {
  const run = new LoadWalk(path, route.machine, density, visit);
  let last = -LOOK;
  times.follow((stretch) => {
    if (stretch.block >= last + LOOK) {
      last = stretch.block;
      step(watch, 'loads', last, path.least.length);
    }
    run.stretch(stretch);
  });
  return run.end();
}

class LoadWalk {
  readonly #path: JointPath;
  readonly #visit: (sample: Sample, sides: readonly ChainDynamics[]) => void;
  readonly #sides: readonly MachineSide[];
  readonly #chains: readonly ChainDynamics[];
  readonly #scale: readonly number[];
  readonly #dry: readonly number[];
  readonly #drag: readonly number[];
  readonly #rotary: readonly number[];
  readonly #trail: TipTrail;
  readonly #growth = new GrowingMass();
  readonly #kgPerMm: number;
  readonly #sample: { -readonly [K in keyof Sample]: Sample[K] };
  readonly #still: boolean[];
  #time = 0;
  #block = -1;
  readonly #energy: Energy = {
    work: 0,
    turnover: 0,
    friction: 0,
    kinetic: 0,
    potential: 0,
    laid: 0,
  };
  readonly #first: { readonly kinetic: number; readonly potential: number };

  constructor(
    path: JointPath,
    machine: Machine,
    density: number,
    visit: (sample: Sample, sides: readonly ChainDynamics[]) => void,
  ) {
    const n = machine.joints.length;
    this.#path = path;
    this.#visit = visit;
    this.#sides = [false, true].map((table) => {
      const chain = new ChainDynamics(machine, table);
      const size = chain.joints.length;
      return {
        chain,
        table,
        v: new Float64Array(size),
        a: new Float64Array(size),
        q: new Float64Array(size),
        fresh: false,
        laden: 0,
      };
    });
    this.#chains = this.#sides.map((s) => s.chain);
    this.#scale = machine.joints.map((j) => (j.kind === 'rotary' ? 1 : 1e-3));
    this.#dry = machine.joints.map((_, j) => machine.drives?.joints[j]!.friction ?? 0);
    this.#drag = machine.joints.map((_, j) => machine.drives?.joints[j]!.drag ?? 0);
    this.#rotary = machine.joints.flatMap((j, i) => (j.kind === 'rotary' ? [i] : []));
    this.#trail = new TipTrail(machine, path);
    this.#kgPerMm = (Math.PI / 4) * machine.filamentDiameter ** 2 * density * KG_PER_MM3;
    this.#still = machine.joints.map(() => false);
    const three = (): Float64Array[] => WEIGHTS.map(() => new Float64Array(n));
    this.#sample = {
      block: 0,
      time: 0,
      seconds: 0,
      place: three(),
      speed: three(),
      acceleration: three(),
      torque: three(),
      friction: three(),
      still: this.#still,
    };
    for (const { chain, q, v, a } of this.#sides) {
      chain.joints.forEach((j, k) => (q[k] = path.from[j]! * this.#scale[j]!));
      chain.pose(q);
      chain.load(v, a);
    }
    this.#first = this.#stored();
  }

  /** A piece in which a joint turns far is evaluated in parts, as gravity turns with it. */
  stretch(stretch: TrajectoryPiece): void {
    const block = this.#path.start[stretch.block]!;
    while (this.#block < block) this.#lay(this.#block++);
    this.#state(stretch, 0, stretch.seconds);
    let turn = 0;
    for (const v of this.#sample.speed) {
      for (const j of this.#rotary) turn = Math.max(turn, Math.abs(v[j]!));
    }
    const parts = Math.max(1, Math.ceil((turn * stretch.seconds) / PART_TURN));
    const seconds = stretch.seconds / parts;
    this.#sample.block = block;
    this.#sample.seconds = seconds;
    for (let i = 0; i < parts; i++) {
      if (parts > 1) this.#state(stretch, i * seconds, seconds);
      this.#part(seconds);
    }
  }

  /** Fills in the joints at start, middle and end of a part of a piece. */
  #state(stretch: TrajectoryPiece, from: number, seconds: number): void {
    const { place, speed, acceleration } = this.#sample;
    for (let i = 0; i < 3; i++) {
      const point = [place[i]!, speed[i]!, acceleration[i]!] as const;
      stateAt(stretch, from + (seconds * i) / 2, ...point);
      for (const list of point) {
        for (let j = 0; j < list.length; j++) list[j]! *= this.#scale[j]!;
      }
    }
  }

  #part(seconds: number): void {
    const s = this.#sample;
    s.time = this.#time;
    for (const side of this.#sides) this.#side(side);
    this.#sum(seconds);
    this.#visit(s, this.#chains);
    this.#time += seconds;
  }

  /** The part has grown by block b. */
  #lay(b: number): void {
    if (b < 0) return;
    const mm = this.#path.filament[b]!;
    if (!(mm > 0)) return;
    const [from, to] = this.#trail.ends(b);
    this.#growth.add(mm * this.#kgPerMm, from, to);
  }

  #side(side: MachineSide): void {
    const { chain, q, v, a } = side;
    const { joints } = chain;
    const { place, speed, acceleration, torque, friction } = this.#sample;
    let moves = false;
    for (let i = 0; i < 3; i++) {
      for (const j of joints) moves ||= speed[i]![j] !== 0 || acceleration[i]![j] !== 0;
    }
    if (side.table) this.#carry(side);
    for (const j of joints) this.#still[j] = !moves;
    if (!moves && side.fresh) return;
    for (let i = 0; i < 3; i++) {
      for (let k = 0; k < joints.length; k++) {
        const j = joints[k]!;
        q[k] = place[i]![j]!;
        v[k] = speed[i]![j]!;
        a[k] = acceleration[i]![j]!;
      }
      chain.pose(q);
      chain.load(v, a);
      for (let k = 0; k < joints.length; k++) {
        const j = joints[k]!;
        const rub = this.#dry[j]! * Math.sign(v[k]! || speed[1]![j]!) + this.#drag[j]! * v[k]!;
        friction[i]![j] = rub;
        torque[i]![j] = chain.torque[k]! + rub;
      }
    }
    side.fresh = !moves;
  }

  /** Puts the part on the table once it has grown enough to matter. */
  #carry(side: MachineSide): void {
    const { kg } = this.#growth;
    const { chain } = side;
    if (kg - side.laden <= GROWN * (chain.massFrom(chain.joints.length - 1) + kg)) return;
    const before = chain.kinetic() + chain.potential();
    chain.carry(this.#growth.mass());
    chain.pose(side.q);
    chain.load(side.v, side.a);
    this.#energy.laid += chain.kinetic() + chain.potential() - before;
    side.laden = kg;
    side.fresh = false;
  }

  #stored(): { kinetic: number; potential: number } {
    let kinetic = 0;
    let potential = 0;
    for (const chain of this.#chains) {
      kinetic += chain.kinetic();
      potential += chain.potential();
    }
    return { kinetic, potential };
  }

  #sum(seconds: number): void {
    const e = this.#energy;
    const { speed, torque, friction, still } = this.#sample;
    for (let j = 0; j < still.length; j++) {
      if (still[j]) continue;
      for (let i = 0; i < 3; i++) {
        const weight = WEIGHTS[i]! * seconds;
        const power = torque[i]![j]! * speed[i]![j]!;
        e.work += power * weight;
        e.turnover += Math.abs(power) * weight;
        e.friction += friction[i]![j]! * speed[i]![j]! * weight;
      }
    }
  }

  end(): LoadRun {
    while (this.#block < this.#path.line.length) this.#lay(this.#block++);
    const last = this.#stored();
    const first = this.#first;
    this.#energy.kinetic = last.kinetic - first.kinetic;
    this.#energy.potential = last.potential - first.potential;
    const { kg, centre } = this.#growth.mass();
    const part = { kg, centre: this.#trail.inPart(centre) };
    return { seconds: this.#time, energy: this.#energy, part };
  }
}
