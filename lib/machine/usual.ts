/**
 * Numbers of machine and material files that nobody means: a shifted decimal point (28.5 for 2.85),
 * another unit (mm/min for mm/s, a share in percent), a digit too many. The schema lets them pass, for
 * each is a number of the right kind. The table holds for every number what is usual on filament
 * printers that stand on a desk or a bench, and what could be meant at all. All of it is common
 * practice, no source.
 *
 * A number that is not usual is a warning; one that cannot be meant is refused. The file itself can say
 * that it is meant all the same: `"unusual": ["nozzle.diameter"]` names the key, and a note remains.
 */
import type { FaultData, Finding, Place } from '../base/fault.js';
import { nearest } from '../base/schema.js';

type UsualRange = readonly [number, number];

interface UsualRow {
  readonly unit: string;
  readonly usual: UsualRange;
  /** No value beyond these can be meant. */
  readonly possible: UsualRange;
  /** The sign is a direction, so only the magnitude is compared with the ranges. */
  readonly either: boolean;
}

const row = (unit: string, usual: UsualRange, possible: UsualRange): UsualRow => ({
  ...{ unit, usual, possible },
  either: false,
});
const size = (unit: string, usual: UsualRange, possible: UsualRange): UsualRow => ({
  ...row(unit, usual, possible),
  either: true,
});

const place = size('mm', [0, 1500], [0, 10_000]);

/** By the last names of a key: a `*` stands for a number of a list or a joint's letter. */
export const USUAL: Readonly<Record<string, UsualRow>> = {
  'linear.travel.*': place,
  'linear.speed': row('mm/s', [3, 1000], [0.5, 10_000]),
  'linear.acceleration': row('mm/s2', [20, 50_000], [1, 1e6]),
  'linear.jerk': row('mm/s3', [200, 1e7], [10, 1e9]),
  'linear.backlash': row('mm', [0, 0.5], [0, 5]),
  'linear.backlashUncertainty': row('mm', [0, 0.1], [0, 5]),
  'linear.scale': row('mm per mm', [0.99, 1.01], [0.9, 1.1]),
  'rotary.point.*': place,
  'rotary.travel.*': size('deg', [0, 1100], [0, 36_000]),
  'rotary.turns': row('turns', [0.5, 100], [0.1, 10_000]),
  'rotary.speed': row('deg/s', [3, 2000], [0.5, 20_000]),
  'rotary.acceleration': row('deg/s2', [20, 50_000], [1, 1e6]),
  'rotary.jerk': row('deg/s3', [200, 1e7], [10, 1e9]),
  'rotary.backlash': row('deg', [0, 0.5], [0, 5]),
  'rotary.backlashUncertainty': row('deg', [0, 0.1], [0, 5]),
  'rotary.stiffness': row('N m/deg', [0.05, 5000], [0.001, 1e6]),
  'rotary.stiffnessUncertainty': row('N m/deg', [0, 500], [0, 1e6]),
  'rotary.runOut.*': size('mm', [0, 0.5], [0, 5]),
  'head.tip.*': place,
  'stack.*.above': row('mm', [0, 500], [0, 5000]),
  'stack.*.radius': row('mm', [0, 200], [0, 2000]),
  'from.*': place,
  'to.*': place,
  'solid.radius': row('mm', [0.5, 500], [0.05, 5000]),
  'table.origin.*': place,
  'face.radius': row('mm', [25, 500], [5, 5000]),
  'face.size.*': row('mm', [50, 1000], [10, 10_000]),
  'table.thickness': row('mm', [0.5, 80], [0.1, 1000]),
  clearance: row('mm', [0.3, 10], [0.01, 200]),
  'nozzle.diameter': row('mm', [0.1, 1.2], [0.05, 3]),
  'nozzle.flat': row('mm', [0.2, 4], [0.05, 12]),
  'filament.diameter': row('mm', [1.6, 3.1], [1, 6]),
  'measured.noise': row('mm', [0, 0.2], [0, 5]),
  'measured.tip': row('mm', [0, 0.5], [0, 10]),
  'drives.reserve': row('', [1, 5], [1, 100]),
  'curve.*.0': row('rpm', [0, 10_000], [0, 200_000]),
  'curve.*.1': row('N m', [0, 30], [0, 1000]),
  rotorInertia: row('g cm2', [1, 5000], [0.01, 1e6]),
  stepAngle: row('deg', [0.3, 20], [0.01, 90]),
  detent: row('N m', [0, 0.5], [0, 100]),
  continuous: row('N m', [0.005, 30], [1e-4, 1000]),
  'drives.*.count': row('motors', [1, 6], [1, 32]),
  'ratio.*': size('turns', [0.5, 300], [0.01, 10_000]),
  'lead.*': size('mm', [0.5, 250], [0.05, 5000]),
  microsteps: row('', [1, 256], [1, 4096]),
  efficiency: row('', [0.15, 1], [0.01, 1]),
  'drives.*.inertia': row('g cm2', [0, 5000], [0, 1e6]),
  'belt.radius': row('mm', [3, 200], [1, 2000]),
  'belt.stiffness': row('N', [500, 200_000], [10, 1e7]),
  'belt.span': row('mm', [10, 3000], [1, 20_000]),
  'belt.tension': row('N', [1, 500], [0.1, 10_000]),
  friction: row('N m or N', [0, 100], [0, 5000]),
  drag: row('N m s/rad or N s/m', [0, 200], [0, 1e5]),
  'balance.torque': size('N m or N', [0, 200], [0, 1e5]),
  'balance.at': size('deg or mm', [0, 1500], [0, 36_000]),
  'balance.rate': row('N m/deg or N/mm', [0, 50], [0, 1e5]),
  brake: row('N m or N', [0, 500], [0, 1e5]),
  mass: row('kg', [0.005, 60], [1e-4, 2000]),
  density: row('g/cm3', [0.8, 4.5], [0.1, 25]),
  nozzleTemperature: row('deg C', [150, 350], [60, 600]),
  tableTemperature: row('deg C', [0, 130], [0, 300]),
  'flow.least': row('mm3/s', [0, 3], [0, 100]),
  'flow.most': row('mm3/s', [1, 50], [0.1, 1000]),
  leastLayerSeconds: row('s', [0, 60], [0, 3600]),
  'retract.length': row('mm', [0, 10], [0, 100]),
  'retract.speed': row('mm/s', [5, 120], [0.5, 1000]),
  'first.speed': row('mm/s', [3, 80], [0.5, 1000]),
};

export interface Doubts {
  readonly findings: readonly Finding[];
  readonly problems: readonly FaultData[];
}

/**
 * @param file a machine or material file that its schema has let pass
 * @param area `machine` or `material`
 * @param meant keys that the file itself says are meant
 */
export function doubtsOf(
  file: object,
  area: string,
  meant: readonly string[] = [],
  name?: string,
): Doubts {
  const findings: Finding[] = [];
  const problems: FaultData[] = [];
  const keys = new Set<string>();
  const where = (key: string): Place => ({ key, ...(name ? { file: name } : {}) });
  for (const { key, names, value } of numbersIn(file, [], [])) {
    const found = rowOf(names);
    if (!found) continue;
    keys.add(key);
    const said = `${key} is ${value}${found.unit && ` ${found.unit}`}`;
    const ask = `if it is meant, list "${key}" under "unusual" in the file`;
    if (holds(found, found.usual, value)) continue;
    if (meant.includes(key)) {
      const message = `${said}, which the file says is meant; usual is ${rangeText(found, found.usual)}`;
      findings.push({ code: `${area}/unusual-meant`, severity: 'note', message, at: where(key) });
    } else if (holds(found, found.possible, value)) {
      const message = `${said}; usual is ${rangeText(found, found.usual)} (common practice); ${ask}`;
      findings.push({ code: `${area}/unusual`, severity: 'warning', message, at: where(key) });
    } else {
      const message = `${said}, the limits are ${rangeText(found, found.possible)}, usual is ${rangeText(found, found.usual)} (common practice); ${ask}`;
      problems.push({ code: `${area}/not-meant`, message, at: where(key) });
    }
  }
  meant.forEach((key, i) => {
    if (keys.has(key)) return;
    const message = `"unusual" names "${key}", which is no number of the file that is doubted${nearest(key, [...keys].slice(0, MOST_KEYS))}`;
    problems.push({ code: `${area}/unknown-key`, message, at: where(`unusual.${i}`) });
  });
  return { findings, problems };
}

/** A name is compared with at most so many keys; a real file has fewer. */
const MOST_KEYS = 2000;

const holds = ({ either }: UsualRow, [least, most]: UsualRange, value: number): boolean => {
  const x = either ? Math.abs(value) : value;
  return x >= least && x <= most;
};

function rangeText({ unit, either }: UsualRow, [least, most]: UsualRange): string {
  const [from, to] = either && least === 0 ? [-most, most] : [least, most];
  const text = `${from} to ${to}${unit && ` ${unit}`}`;
  return either && least > 0 ? `${text} either way` : text;
}

interface UnusualValue {
  /** As the file has it: `head.joints.0.speed`. */
  readonly key: string;
  /** As the table has it: `head.joints.linear.speed`. */
  readonly names: readonly string[];
  readonly value: number;
}

/** Every number of a file but those of meshes. */
function* numbersIn(
  value: unknown,
  path: readonly string[],
  names: readonly string[],
): Generator<UnusualValue> {
  if (typeof value === 'number') yield { key: path.join('.'), names, value };
  if (value === null || typeof value !== 'object') return;
  const { kind, shape } = value as { kind?: unknown; shape?: unknown };
  if (shape === 'mesh') return;
  const own = kind === 'linear' || kind === 'rotary' ? [...names.slice(0, -1), kind] : names;
  for (const [key, inner] of Object.entries(value)) {
    yield* numbersIn(inner, [...path, key], [...own, key]);
  }
}

/** The row with the longest run of last names; the last of them may be a number of its own, as in a curve. */
function rowOf(names: readonly string[]): UsualRow | undefined {
  const inner = names.slice(0, -1).map(open);
  for (const last of [names.at(-1)!, open(names.at(-1)!)]) {
    for (let n = Math.min(2, inner.length); n >= 0; n--) {
      const found = USUAL[[...inner.slice(inner.length - n), last].join('.')];
      if (found) return found;
    }
  }
  return undefined;
}

const open = (name: string): string => (/^(\d+|[ABCUVWXYZ])$/.test(name) ? '*' : name);
