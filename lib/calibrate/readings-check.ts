/**
 * Whether readings can be of the plan at all. A touch moves the linear joints along the head's axis alone, so the
 * reading lies on a line through the planned place, a few millimetres along it. Where many readings do not, one
 * reason is looked for that explains them all: columns changed over, another unit, another sign.
 */
import { Fault } from '../base/fault.js';
import { jointsOf } from '../machine/joint-chain.js';
import type { Machine } from '../machine/machine.js';
import { downward } from './touch-contact.js';
import type { TouchReading } from './least-squares.js';
import { type PlanFile, plannedJoints } from './touch-files.js';

/** How far a reading may lie from the planned place along the head's axis, and across it, mm. */
const ALONG_REACH = 30;
const ACROSS_REACH = 1.5;
/** Share of readings off their line from which on they are judged together. */
const MOST_OFF = 0.2;
/** What a unit is taken for. */
const LENGTHS_MISTAKEN: readonly (readonly [name: string, mm: number])[] = [
  ['inch', 25.4],
  ['cm', 10],
  ['m', 1000],
  ['um', 0.001],
];

interface PlacedReading {
  readonly touch: TouchReading;
  /** Planned joint values and those for 1 mm down. */
  readonly planned: Float64Array;
  readonly down: Float64Array;
}

/**
 * @throws Fault `readings/swapped`, `readings/unit`, `readings/sign`, `readings/other-plan`, `readings/place`,
 *   `readings/one-side`
 */
export function checkReadings(
  machine: Machine,
  plan: PlanFile,
  touches: readonly TouchReading[],
  file?: string,
): void {
  const linear = jointsOf(machine, 'linear');
  const placed = touches.flatMap((touch): PlacedReading[] => {
    const planned = plannedJoints(machine, plan, touch.number);
    const down = downward(machine, planned);
    return down ? [{ touch, planned, down }] : [];
  });
  const off = offTheirLine(placed, linear, (v) => v);
  const at = file ? { file } : undefined;
  if (off.length === 0) {
    checkSides(machine, plan, touches, at);
    return;
  }
  if (off.length > MOST_OFF * placed.length) throw foreign(machine, placed, linear, at);
  const { touch, planned } = off[0]!;
  const told = linear.map(
    (i) =>
      `${machine.joints[i]!.letter} ${touch.joints[i]!.toFixed(3)} for ${planned[i]!.toFixed(3)}`,
  );
  throw new Fault(
    'readings/place',
    `touch ${touch.number} reads ${told.join(', ')} mm as planned; only ${ALONG_REACH} mm along the head's axis and ${ACROSS_REACH} mm across it can be: read it again or leave its cells empty`,
    at,
  );
}

/** Sides of a turning joint of which a plan must have so large a share of its touches that readings must have any. */
const PLANNED_SHARE = 0.2;
const SIDES: readonly (readonly [words: string, has: (angle: number) => boolean])[] = [
  ['above 0', (q) => Math.sin(q) > SIDE_MARGIN],
  ['below 0', (q) => Math.sin(q) < -SIDE_MARGIN],
  ['within 90 of 0', (q) => Math.cos(q) > SIDE_MARGIN],
  ['more than 90 from 0', (q) => Math.cos(q) < -SIDE_MARGIN],
];
const SIDE_MARGIN = 0.01;

/** @throws Fault `readings/one-side` where no touch is left on a side of a joint that the plan touches from both */
function checkSides(
  machine: Machine,
  plan: PlanFile,
  touches: readonly TouchReading[],
  at: { file: string } | undefined,
): void {
  const planned = plan.touches.map(({ touch }) => plannedJoints(machine, plan, touch));
  for (const j of jointsOf(machine, 'rotary')) {
    for (const [words, has] of SIDES) {
      const wanted = planned.filter((joints) => has(joints[j]!)).length;
      if (wanted < PLANNED_SHARE * planned.length) continue;
      if (touches.some(({ joints }) => has(joints[j]!))) continue;
      throw new Fault(
        'readings/one-side',
        `none of ${touches.length} readings has ${machine.joints[j]!.letter} ${words} deg, the plan has ${wanted} of ${planned.length} there: from one side nothing tells play, sag and the place of an axis apart; read some of those touches too`,
        at,
      );
    }
  }
}

/** Those whose linear joints, changed in some way, do not lie near the line of their touch. */
function offTheirLine(
  placed: readonly PlacedReading[],
  linear: readonly number[],
  change: (values: readonly number[]) => readonly number[],
): PlacedReading[] {
  return placed.filter(({ touch, planned, down }) => {
    const values = change(linear.map((i) => touch.joints[i]!));
    const by = linear.map((i, k) => values[k]! - planned[i]!);
    const way = linear.map((i) => down[i]!);
    const size = way.reduce((sum, w) => sum + w * w, 0);
    const s = by.reduce((sum, b, k) => sum + b * way[k]!, 0) / size;
    const across = Math.hypot(...by.map((b, k) => b - s * way[k]!));
    return !(across <= ACROSS_REACH && Math.abs(s) <= ALONG_REACH);
  });
}

/** The one reason that explains all readings, if there is one. */
function foreign(
  { joints }: Machine,
  placed: readonly PlacedReading[],
  linear: readonly number[],
  at: { file: string } | undefined,
): Fault {
  const explains = (change: (values: readonly number[]) => readonly number[]): boolean =>
    offTheirLine(placed, linear, change).length <= MOST_OFF * placed.length;
  const letters = linear.map((i) => joints[i]!.letter);
  const order = permutations(linear.map((_, k) => k)).find((p) =>
    explains((v) => p.map((k) => v[k]!)),
  );
  if (order) {
    const told = order.map((k) => letters[k]).join(', ');
    return new Fault(
      'readings/swapped',
      `the columns ${letters.join(', ')} hold what belongs to ${told}: change them over`,
      at,
    );
  }
  const unit = LENGTHS_MISTAKEN.find(([, mm]) => explains((v) => v.map((x) => mm * x)));
  if (unit) {
    return new Fault(
      'readings/unit',
      `the linear joints are read in ${unit[0]}, the form is in mm: multiply them by ${unit[1]}`,
      at,
    );
  }
  const turned = letters.find((_, n) => explains((v) => v.map((x, k) => (k === n ? -x : x))));
  if (turned !== undefined) {
    return new Fault(
      'readings/sign',
      `${turned} reads with the other sign than planned: turn it round, or correct "positive" and the axis in the machine file`,
      at,
    );
  }
  const all = offTheirLine(placed, linear, (v) => v).length;
  return new Fault(
    'readings/other-plan',
    `${all} of ${placed.length} readings lie more than ${ACROSS_REACH} mm beside, or ${ALONG_REACH} mm along, the head's axis from where the plan touches: they belong to another plan; give the plan.json that was written with their program`,
    at,
  );
}

function permutations(of: readonly number[]): number[][] {
  if (of.length < 2) return [[...of]];
  return of.flatMap((k) => permutations(of.filter((o) => o !== k)).map((rest) => [k, ...rest]));
}
