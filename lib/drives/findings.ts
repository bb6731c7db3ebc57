/** Problems of the drives of a job, as findings. */
import type { Finding } from '../base/fault.js';
import type { DriveStudy, JointStudy, Study } from './study.js';
import { angle, force, place, round } from './study-words.js';

/** Share of the turnover by which the balance of energies may be off. */
const BALANCE = 0.01;

/** Findings of a study: motors, belts, and joints that fall without power. */
export function findingsOf(study: Study): Finding[] {
  return [
    ...study.drives.flatMap((d) => driveFindings(study, d)),
    ...study.joints.flatMap(fallFinding),
    ...(Math.abs(study.energyError) > BALANCE
      ? [
          {
            code: 'drives/energy',
            severity: 'error' as const,
            message: `torque times speed and the energies differ by ${round(100 * study.energyError)}%, the limit is ${100 * BALANCE}%`,
          },
        ]
      : []),
  ];
}

function driveFindings(study: Study, d: DriveStudy): Finding[] {
  const { loads, name } = d;
  const { motor } = loads;
  const wanted = study.machine.drives!.reserve;
  const out: Finding[] = [];
  if (loads.over > 0) {
    out.push({
      code: 'drives/over-curve',
      severity: 'error',
      message: `drive "${name}" asks its motor for more than it has for ${round(loads.over)} s; the least is ${round(loads.reserve)} of what is needed, ${place(study, loads.reserveAt)}: it would lose steps`,
    });
  } else if (loads.reserve < wanted) {
    out.push({
      code: 'drives/low-reserve',
      severity: 'warning',
      message: `drive "${name}" has a reserve of ${round(loads.reserve)} at the least, ${place(study, loads.reserveAt)}; wanted is ${wanted}`,
    });
  }
  if (d.rmsShare > 1) {
    out.push({
      code: 'drives/hot',
      severity: 'warning',
      message: `the root mean square torque of "${name}", ${round(loads.rms)} N m, is more than the ${motor.continuous} N m that "${motor.name}" gives without end`,
    });
  }
  if (d.give?.allowed !== undefined && d.give.tension > d.give.allowed) {
    out.push({
      code: 'drives/belt-tension',
      severity: 'warning',
      message: `the belt of "${name}" pulls with ${round(d.give.tension)} N at the greatest load, its maker allows ${d.give.allowed} N`,
    });
  }
  return out;
}

function fallFinding(joint: JointStudy): Finding[] {
  const { fall, letter, rotary } = joint;
  if (!fall.falls) return [];
  const end = fall.toEnd ? ' and meets the end of its travel' : '';
  const unit = rotary ? 'N m' : 'N';
  return [
    {
      code: 'drives/falls',
      severity: 'warning',
      message: `without power ${letter} falls: gravity pulls with up to ${force(fall.pull, rotary)}, ${round(fall.hold)} ${unit} hold it; it goes ${angle(fall.way, rotary)}${end}, at up to ${angle(fall.speed, rotary)}/s. Balance it or fit a brake; keep hands out`,
    },
  ];
}
