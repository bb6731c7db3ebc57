/**
 * Speeds and accelerations against what carries them. The machine file may say what stands between motor and
 * joint (`drives`); without that the widest range, that of a belt, is taken. Ranges are common practice, no
 * source. That a joint needs v^2 / a to speed up and to brake again is uniform acceleration, and exact.
 */
import type { Finding } from '../base/fault.js';
import type { Machine } from '../machine/machine.js';
import { fileUnit, short } from './joint-words.js';

type By = NonNullable<Machine['drives']>['drives'][number]['by'];

/** Greatest speed and acceleration: mm/s and mm/s2, or deg/s and deg/s2. Common practice, no source. */
const USUAL_MOST: Readonly<Record<'linear' | 'rotary', Record<By, readonly [number, number]>>> = {
  linear: {
    belt: [600, 20_000],
    screw: [120, 3000],
    direct: [600, 20_000],
    gear: [300, 5000],
    worm: [30, 500],
  },
  rotary: {
    belt: [720, 7200],
    screw: [60, 600],
    direct: [1440, 14_400],
    gear: [360, 3600],
    worm: [90, 900],
  },
};
/** Time from rest to full speed, s. Common practice, no source. */
const TO_SPEED = [0.01, 1.5] as const;

/** One finding a joint and figure. */
export const speedFindings = (machine: Machine): Finding[] =>
  machine.joints.flatMap((joint, j) => {
    const out: Finding[] = [];
    const warn = (code: string, message: string): void => {
      out.push({ code, severity: 'warning', message });
    };
    const unit = joint.kind === 'rotary' ? 'deg' : 'mm';
    const size = fileUnit(joint);
    const [v, a] = [joint.speed / size, joint.acceleration / size];
    const by = carrierOf(machine, j);
    const [fastest, hardest] =
      USUAL_MOST[joint.kind][by ?? (joint.kind === 'linear' ? 'belt' : 'direct')];
    const through = by ? `by ${by}` : 'by any drive, for the file does not say by which';
    if (v > fastest) {
      warn(
        'machine/drive-speed',
        `${joint.letter} is to go ${short(v)} ${unit}/s, the limit of a joint moved ${through} is ${fastest} ${unit}/s (common practice, no source)`,
      );
    }
    if (a > hardest) {
      warn(
        'machine/drive-speed',
        `${joint.letter} is to speed up by ${short(a)} ${unit}/s2, the limit of a joint moved ${through} is ${hardest} ${unit}/s2 (common practice, no source)`,
      );
    }
    const seconds = v / a;
    if (seconds < TO_SPEED[0] || seconds > TO_SPEED[1]) {
      warn(
        'machine/time-to-speed',
        `${joint.letter} is at its speed of ${short(v)} ${unit}/s after ${seconds.toPrecision(2)} s, usual are ${TO_SPEED[0]} to ${TO_SPEED[1]} s (common practice, no source)`,
      );
    }
    const travel = (joint.most - joint.least) / size;
    const needed = (v * v) / a;
    if (needed > travel) {
      warn(
        'machine/speed-unreached',
        `${joint.letter} needs ${short(needed)} ${unit} to come to ${short(v)} ${unit}/s and to rest again, its travel is ${short(travel)} ${unit}: it never goes that fast`,
      );
    }
    return out;
  });

/** What moves the joint, if the file says so. */
const carrierOf = ({ drives }: Machine, j: number): By | undefined =>
  drives?.drives.find(({ turns }) => turns[j] !== 0)?.by;
