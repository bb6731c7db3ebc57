/** Machines and routes for tests of the pace. */
import { seeded } from '../../lib/base/random.js';
import type { Machine } from '../../lib/machine/machine.js';
import { acJson, linear, machineOf, rotary } from '../machine/machines.js';
import type { Step } from './trace.js';

export interface Limits {
  readonly speed?: number;
  readonly acceleration?: number;
  /** mm/s3 of X Y Z; A and C get 10 deg/s3 for each mm/s3. */
  readonly jerk?: number | undefined;
}

/** X Y Z at 1000 mm/s and 1000 mm/s2 unless changed, C at 360 deg/s and 3600 deg/s2. */
export function machine({ jerk, ...change }: Limits = {}): Machine {
  const json = acJson();
  const own = jerk === undefined ? {} : { jerk };
  const turned = jerk === undefined ? {} : { jerk: 10 * jerk };
  const fast = { ...linear('X', [1, 0, 0]), speed: 1000, acceleration: 1000, ...change, ...own };
  return machineOf({
    ...json,
    head: {
      ...json.head,
      joints: [
        fast,
        { ...fast, letter: 'Y', axis: [0, 1, 0] },
        { ...fast, letter: 'Z', axis: [0, 0, 1] },
      ],
    },
    table: {
      ...json.table,
      joints: [
        { ...rotary('A', [1, 0, 0], [-120, 120]), ...turned },
        { ...rotary('C', [0, 0, 1], 'endless'), speed: 360, acceleration: 3600, ...turned },
      ],
    },
  });
}

/** A straight line of X in equal pieces. */
export const line = (length: number, pieces: number, speed: number): Step[] =>
  Array.from({ length: pieces }, (_, i) => ({
    to: [(length * (i + 1)) / pieces, 0, 0, 0, 0],
    speed,
  }));

/** Turns of a circle in the plane of X and Y. */
export const circle = (radius: number, chords: number, turns: number, speed: number): Step[] =>
  Array.from({ length: chords * turns }, (_, i) => {
    const a = (2 * Math.PI * (i + 1)) / chords;
    return { to: [radius * Math.sin(a), radius * (1 - Math.cos(a)), 0, 0, 0], speed };
  });

/** A wandering route of all joints: long and short blocks, sharp and shallow corners. */
export function wandering(seed: number, count: number): Step[] {
  const random = seeded(seed);
  const at = [0, 0, 0, 0, 0];
  let heading = 0;
  return Array.from({ length: count }, () => {
    const sharp = random() < 0.2;
    heading += (random() - 0.5) * (sharp ? 5 : 0.5);
    const far = 10 ** (-1.5 + 2.5 * random());
    at[0]! += far * Math.cos(heading);
    at[1]! += far * Math.sin(heading);
    if (random() < 0.1) at[2]! += (random() - 0.5) * far;
    if (random() < 0.3) at[3] = Math.max(-1, Math.min(1, at[3]! + (random() - 0.5) * 0.02 * far));
    if (random() < 0.3) at[4]! += (random() - 0.5) * 0.05 * far;
    return { to: [...at], speed: random() < 0.5 ? 1e4 : 20 + 100 * random() };
  });
}
