/**
 * The order in which regions are printed. A region never comes before one that it stands on, nor, where
 * that can be avoided, after one that would stand in the head's way (precede.ts). Among the orders that are
 * left the one with the least turning and travel between regions is taken, by beam search: the best WIDTH
 * beginnings of each length are kept, which for up to about eight free regions is all of them.
 */
import { Fault, type Finding } from '../base/fault.js';
import { type Vec3, length, sub } from '../base/vector.js';
import { solveRotaries } from '../machine/inverse.js';
import type { Machine } from '../machine/machine.js';
import type { Paths } from '../paths/paths.js';
import type { Region } from '../regions/region.js';
import { inTurns } from './interleave.js';
import { comesBefore, precedence } from './precede.js';
import { type Hindrance, HindranceSearch } from './head-in-the-way.js';

/** Layers firstLayer .. lastLayer (both included) of one region, printed without leaving it. */
export interface RegionRun {
  readonly region: number;
  readonly firstLayer: number;
  readonly lastLayer: number;
}

export interface Sequence {
  readonly runs: readonly RegionRun[];
  readonly findings: readonly Finding[];
  /** Pairs that no order and no turns keep from touching. */
  readonly stuck: readonly Hindrance[];
}

/** Beginnings kept of each length. */
const WIDTH = 400;

/**
 * @throws Fault `order/cycle` if regions stand on one another in a circle
 */
export function orderRuns(
  machine: Machine,
  regions: readonly Region[],
  pathsOf: readonly Paths[],
): Sequence {
  const { before, cycles } = precedence(machine, regions, pathsOf);
  const findings: Finding[] = [];
  const order = quickest(machine, regions, before);
  const whole = order.flatMap((region): RegionRun[] => {
    const layers = pathsOf[region]!.layer;
    if (layers.length > 0) {
      return [{ region, firstLayer: layers[0]!, lastLayer: layers.at(-1)! }];
    }
    findings.push({
      code: 'order/nothing-to-lay',
      severity: 'warning',
      message: `region ${region + 1} of ${regions[region]!.volume.toFixed(2)} mm3 has no paths`,
      at: { region },
    });
    return [];
  });
  return { ...turnsTaken(machine, regions, pathsOf, before, cycles, whole), findings };
}

/**
 * Regions that are in one another's way, and stand on nothing of one another, are printed in turns
 * where that alone is clear; the others are stuck.
 */
function turnsTaken(
  machine: Machine,
  regions: readonly Region[],
  pathsOf: readonly Paths[],
  before: readonly (readonly number[])[],
  cycles: readonly Hindrance[],
  whole: readonly RegionRun[],
): Pick<Sequence, 'runs' | 'stuck'> {
  const stands = regions.map((r) => r.standsOn);
  const stuck: Hindrance[] = [];
  let runs = [...whole];
  for (const cycle of cycles) {
    const { hindered: b, by: a } = cycle;
    const places = [a, b].map((r) => runs.filter((run) => run.region === r));
    const [first, second] = [places[0]![0], places[1]![0]];
    const free =
      places.every((p) => p.length === 1) &&
      !comesBefore(stands, a, b) &&
      !comesBefore(stands, b, a) &&
      between(runs, first!, second!).every(
        ({ region }) => !comesBefore(before, a, region) && !comesBefore(before, region, b),
      );
    const turns =
      free &&
      inTurns(
        new HindranceSearch(machine, regions, pathsOf),
        { region: a, layers: first!.lastLayer + 1 },
        { region: b, layers: second!.lastLayer + 1 },
      );
    if (!turns) {
      stuck.push(cycle);
      continue;
    }
    const at = runs.indexOf(first!);
    runs = [...runs.slice(0, at), ...turns, ...runs.slice(at + 1).filter((r) => r !== second)];
  }
  return { runs, stuck };
}

/** Runs that stand between two others. */
function between(
  runs: readonly RegionRun[],
  first: RegionRun,
  second: RegionRun,
): readonly RegionRun[] {
  const [i, j] = [runs.indexOf(first), runs.indexOf(second)].sort((x, y) => x - y);
  return runs.slice(i! + 1, j);
}

interface Beginning {
  readonly order: readonly number[];
  readonly done: readonly boolean[];
  /** Joint values at the end; only the rotary ones count. */
  readonly joints: ArrayLike<number>;
  readonly cost: number;
}

/** @param before for each region those that must come before it */
function quickest(
  machine: Machine,
  regions: readonly Region[],
  before: readonly (readonly number[])[],
): readonly number[] {
  let beginnings: Beginning[] = [
    { order: [], done: regions.map(() => false), joints: machine.ready, cost: 0 },
  ];
  for (let n = 0; n < regions.length; n++) {
    const best = new Map<string, Beginning>();
    for (const beginning of beginnings) {
      for (let r = 0; r < regions.length; r++) {
        if (beginning.done[r] || before[r]!.some((b) => !beginning.done[b])) continue;
        for (const next of extended(machine, regions, beginning, r)) {
          const key = keyOf(next, r);
          const known = best.get(key);
          if (!known || next.cost < known.cost) best.set(key, next);
        }
      }
    }
    // Stable: of equal costs the order as given wins.
    beginnings = [...best.values()].sort((a, b) => a.cost - b.cost).slice(0, WIDTH);
    if (beginnings.length === 0) throw cycle(before);
  }
  return beginnings[0]!.order;
}

const keyOf = (b: Beginning, last: number): string =>
  `${b.done.map(Number).join('')} ${last} ${Array.from(b.joints, (v) => v.toFixed(6)).join(' ')}`;

function extended(
  machine: Machine,
  regions: readonly Region[],
  beginning: Beginning,
  r: number,
): Beginning[] {
  const region = regions[r]!;
  const last = beginning.order.at(-1);
  const from: Vec3 = last === undefined ? [0, 0, 0] : regions[last]!.base.point;
  const away = length(sub(region.base.point, from)) / slowestRun(machine);
  const done = beginning.done.map((d, i) => d || i === r);
  const order = [...beginning.order, r];
  const solutions = solveRotaries(machine, region.direction, beginning.joints);
  const inside = solutions.filter((s) => s.violations.length === 0);
  const usable = inside.length ? inside : solutions;
  // A direction out of reach is reported by the motion stage; it costs no turning here.
  if (usable.length === 0) {
    return [{ order, done, joints: beginning.joints, cost: beginning.cost + away }];
  }
  return usable.map(({ joints }) => ({
    order,
    done,
    joints,
    cost: beginning.cost + away + turning(machine, beginning.joints, joints),
  }));
}

const slowestRun = (machine: Machine): number =>
  machine.joints.reduce((v, j) => (j.kind === 'linear' ? Math.min(v, j.speed) : v), Infinity);

/** Time in which the slower of the two rotary joints turns at its full speed, s. */
function turning(machine: Machine, a: ArrayLike<number>, b: ArrayLike<number>): number {
  let most = 0;
  machine.joints.forEach((j, i) => {
    if (j.kind === 'rotary') most = Math.max(most, Math.abs(b[i]! - a[i]!) / j.speed);
  });
  return most;
}

function cycle(before: readonly (readonly number[])[]): Fault {
  const stuck = before.flatMap((b, r) => (b.length ? [r] : []));
  return new Fault(
    'order/cycle',
    `regions ${stuck.map((i) => i + 1).join(' ')} stand on one another in a circle, so none of them can come first`,
    { region: stuck[0]! },
  );
}
