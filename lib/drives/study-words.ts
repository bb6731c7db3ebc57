/** The study of the drives in lines of text, and the spelling of its values. */
import { DEG } from '../base/vector.js';
import type { DriveStudy, JointStudy, Study } from './study.js';
import { EQUAL, type RatioSweep, type RatioPoint } from './ratio-sweep.js';
import type { Moment } from './load-tally.js';

/** Less than rounding leaves of any value here. */
const ROUNDED_AWAY = 1e-9;

/** Three digits that count. */
export const round = (x: number): string =>
  Math.abs(x) < ROUNDED_AWAY
    ? '0'
    : Number.isFinite(x)
      ? String(Number(x.toPrecision(3)))
      : 'no end';

/** A torque, N m, or a force, N. */
export const force = (value: number, rotary: boolean): string =>
  `${round(Math.abs(value))} ${rotary ? 'N m' : 'N'}`;

/** An angle, rad, in deg; a length, m, in mm. */
export const angle = (value: number, rotary: boolean): string =>
  rotary ? `${round(value / DEG)} deg` : `${round(1000 * value)} mm`;

export const time = (seconds: number): string =>
  seconds < 120 ? `${round(seconds)} s` : `${round(seconds / 60)} min`;

/** A time that is compared with others. */
const minutes = (seconds: number): string =>
  seconds < 600 ? `${seconds.toFixed(2)} s` : `${(seconds / 60).toFixed(2)} min`;

/** Where in the job something is. */
export function place({ path }: Study, { block, time: t }: Moment): string {
  return `at ${path.counts} ${path.line[block] ?? 0}, ${time(t)} in`;
}

export function studyLines(study: Study): string[] {
  const { energy: e, part } = study;
  const centre = part.centre.map((c) => c.toFixed(1)).join(' ');
  return [
    `time of the job with the law below: ${minutes(study.seconds)}; the part grows to ${round(1000 * part.kg)} g, centre ${centre} mm`,
    'joints:',
    ...study.joints.flatMap((j) => jointLines(study, j)),
    'motors:',
    ...study.drives.flatMap((d) => driveLines(study, d)),
    'when the power goes:',
    ...study.joints.map(fallLine),
    paceLine(study),
    ...(study.sweeps.length
      ? ['other ratios and motors:', ...study.sweeps.flatMap((s) => sweepLines(study, s))]
      : []),
    `energy: ${round(e.work)} J of work = friction ${round(e.friction)} + motion ${round(e.kinetic)} + height ${round(e.potential)} - brought by material ${round(e.laid)}, off by ${round(100 * Math.abs(study.energyError))}% of ${round(e.turnover)} J turned over`,
    'assumed:',
    ...study.assumed.map((text) => `  ${text}`),
  ];
}

function jointLines(study: Study, j: JointStudy): string[] {
  const { loads, rotary } = j;
  const gives = j.give
    ? [
        `    gives ${angle(j.give.turn, true)} at the greatest load by its stiffness, ${round(j.give.rimMm)} mm at the rim`,
      ]
    : [];
  const inertia = rotary ? 'kg m2' : 'kg';
  const range =
    j.inertia.most - j.inertia.least > 0.005 * j.inertia.most
      ? `${round(j.inertia.least)} to ${round(j.inertia.most)}`
      : round(j.inertia.most);
  const share = `sets the pace for ${round(100 * j.share)}% of the time`;
  if (loads.speed === 0) {
    return [
      `  ${j.letter}: stands; held with up to ${force(loads.standing, rotary)}; moves ${range} ${inertia}`,
      ...gives,
    ];
  }
  const standing = loads.standing !== 0 ? `, at rest up to ${force(loads.standing, rotary)}` : '';
  return [
    `  ${j.letter}: up to ${force(loads.peak, rotary)} (${place(study, loads.peakAt)}), root mean square ${force(loads.rms, rotary)}${standing}; up to ${angle(loads.speed, rotary)}/s and ${angle(loads.acceleration, rotary)}/s2; moves ${range} ${inertia}; ${share}`,
    ...gives,
  ];
}

function driveLines(study: Study, d: DriveStudy): string[] {
  const { loads, give, step } = d;
  const rotary = study.joints[d.joints[0]!]!.rotary;
  const letters = d.joints.map((j) => study.joints[j]!.letter).join(' ');
  const ratio = rotary ? `ratio ${round(d.ratio)}` : `${round(d.ratio)} mm a turn`;
  const count = loads.drive.count > 1 ? `${loads.drive.count} x ` : '';
  const rpm = (loads.speed * 60) / (2 * Math.PI);
  const reserve = Number.isFinite(loads.reserve)
    ? `reserve at the least ${round(loads.reserve)} (${place(study, loads.reserveAt)})`
    : 'nothing to do';
  const rim = rotary ? 'at the rim' : 'along the joint';
  return [
    `  ${d.name} (${letters}, ${count}${loads.motor.name}, ${ratio}): up to ${round(loads.peak)} N m and ${round(rpm)} rpm, root mean square ${round(loads.rms)} N m, ${round(100 * d.rmsShare)}% of what it gives without end; ${reserve}; holds at rest with power ${round(loads.holding)} of ${round(loads.motor.torques[0]!)} N m; load inertia ${round(d.inertiaRatio)} times its own`,
    ...(step
      ? [`    one step of the driver is ${angle(step.joint, rotary)}, ${round(step.mm)} mm ${rim}`]
      : []),
    ...(give
      ? [
          `    belt at the greatest load: ${round(give.tension)} N${give.allowed === undefined ? '' : ` of ${give.allowed} N allowed`}, gives ${round(give.stretch)} mm, ${round(give.rimMm)} mm ${rim}`,
        ]
      : []),
  ];
}

function fallLine({ letter, fall, rotary }: JointStudy): string {
  const unit = rotary ? 'N m' : 'N';
  if (fall.byLosses)
    return `  ${letter}: holds, as its drive loses more than half and the load cannot turn it back (pull ${force(fall.pull, rotary)}); vibration may, so test it`;
  if (fall.selfLocking)
    return `  ${letter}: holds, as its drive is said to lock itself (pull ${force(fall.pull, rotary)})`;
  const balance = `gravity pulls with up to ${force(fall.pull, rotary)}, friction, detent and brake hold ${round(fall.hold)} ${unit}`;
  if (!fall.falls) return `  ${letter}: holds; ${balance}`;
  const end = fall.toEnd ? ', to the end of its travel' : '';
  return `  ${letter}: FALLS ${angle(fall.way, rotary)}${end}, at up to ${angle(fall.speed, rotary)}/s; ${balance}`;
}

function paceLine(study: Study): string {
  const rows = study.joints
    .map((j) => `${j.letter} ${round(study.seconds - j.doubledSeconds)} s`)
    .join(', ');
  const setter = study.joints[study.pacesetter];
  const said = setter
    ? `${setter.letter} sets the pace: with twice its speed and acceleration the job takes ${minutes(study.seconds - study.gain)}, ${round((100 * study.gain) / study.seconds)}% less`
    : 'no joint sets the pace: twice the speed and acceleration of any of them gains nothing';
  return `pace: ${said} (gain of doubling each: ${rows})`;
}

function sweepLines(study: Study, sweep: RatioSweep): string[] {
  const joint = study.joints[sweep.joint]!;
  const unit = joint.rotary ? '' : ' mm a turn';
  const now = motorOf(study, sweep);
  const own = sweep.points.filter((p) => p.motor === now);
  const others = [...new Set(sweep.points.map((p) => p.motor))].filter((m) => m !== now);
  return [
    `  ${sweep.drive} (${joint.letter}), now ${round(sweep.ratio)}${unit}: best by inertia ${round(sweep.byInertia)}${unit}, with the steady load ${round(sweep.bySteadyLoad)}${unit}; ${byTimeText(sweep, unit, joint.rotary)}`,
    `    ${now}: ${own.map(pointText).join(' | ')}`,
    ...others.map((m) => otherText(m, sweep, unit)),
  ];
}

export function byTimeText(
  { byTime: best, spread }: RatioSweep,
  unit: string,
  rotary: boolean,
): string {
  if (!best) return 'by time of the job none: no motor carries the load';
  const could = `carries ${angle(best.speed, rotary)}/s and ${angle(best.acceleration, rotary)}/s2`;
  if (spread <= EQUAL) {
    return `the time of this job hardly depends on it (${round(100 * spread)}%); the greatest reserve has ${round(best.ratio)}${unit} with ${best.motor}`;
  }
  return `by time of the job ${round(best.ratio)}${unit} with ${best.motor}, which ${could}: ${minutes(best.seconds)}`;
}

/** The best ratio of another motor, by time and then by reserve. */
function otherText(motor: string, sweep: RatioSweep, unit: string): string {
  const able = sweep.points.filter((p) => p.motor === motor && Number.isFinite(p.seconds));
  if (able.length === 0) return `    ${motor}: cannot carry the load at any of these ratios`;
  const least = Math.min(...able.map((p) => p.seconds));
  const best = able
    .filter((p) => p.seconds <= least * (1 + EQUAL))
    .reduce((a, b) => (b.reserve > a.reserve ? b : a));
  return `    ${motor}: best ${round(best.ratio)}${unit}, reserve ${round(best.reserve)}, ${minutes(best.seconds)}; all in drives.json`;
}

const motorOf = (study: Study, { drive }: RatioSweep): string =>
  study.drives.find((d) => d.name === drive)!.loads.motor.name;

function pointText(p: RatioPoint): string {
  const step = p.stepMm === undefined ? '' : `, step ${round(p.stepMm)} mm`;
  const could = p.speed > 0 ? minutes(p.seconds) : 'cannot carry the load';
  return `${round(p.ratio)}: reserve ${round(p.reserve)}, ${could}${step}`;
}
