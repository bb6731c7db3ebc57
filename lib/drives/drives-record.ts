/** The study of the drives as drives.json: SI units, deg where a key says so; all of it survives JSON. */
import { findingsOf } from './findings.js';
import type { Study } from './study.js';
import { studyLines } from './study-words.js';

export function drivesRecord(
  study: Study,
  names: { readonly source: string; readonly version: string },
): object {
  const lineOf = (block: number): number => study.path.line[block] ?? 0;
  return {
    version: names.version,
    source: names.source,
    machine: study.machine.name,
    assumed: study.assumed,
    seconds: study.seconds,
    part: { kg: study.part.kg, centreMm: study.part.centre },
    joints: study.joints.map((j) => ({
      letter: j.letter,
      unit: j.rotary ? 'N m, rad' : 'N, m',
      peak: j.loads.peak,
      peakAt: { [study.path.counts]: lineOf(j.loads.peakAt.block), seconds: j.loads.peakAt.time },
      rms: j.loads.rms,
      standing: j.loads.standing,
      speed: j.loads.speed,
      acceleration: j.loads.acceleration,
      workJ: j.loads.work,
      returnedJ: j.loads.returned,
      movingSeconds: j.loads.moving,
      inertia: j.inertia,
      paceShare: j.share,
      doubledSeconds: j.doubledSeconds,
      withoutPower: j.fall,
    })),
    drives: study.drives.map((d) => ({
      name: d.name,
      motor: d.loads.motor.name,
      count: d.loads.drive.count,
      joints: d.joints.map((j) => study.joints[j]!.letter),
      ratio: d.ratio,
      peakNm: d.loads.peak,
      peakAt: { [study.path.counts]: lineOf(d.loads.peakAt.block), seconds: d.loads.peakAt.time },
      rmsNm: d.loads.rms,
      rmsShare: d.rmsShare,
      speedRpm: (d.loads.speed * 30) / Math.PI,
      reserve: finite(d.loads.reserve),
      overSeconds: d.loads.over,
      holdingNm: d.loads.holding,
      inertiaRatio: d.inertiaRatio,
      step: d.step,
      belt: d.give,
    })),
    pacesetter: study.joints[study.pacesetter]?.letter ?? null,
    gainSeconds: study.gain,
    sweeps: study.sweeps.map((s) => ({
      drive: s.drive,
      joint: study.joints[s.joint]!.letter,
      ratio: s.ratio,
      bestByInertia: s.byInertia,
      bestWithSteadyLoad: s.bySteadyLoad,
      bestByTime: s.byTime ? { motor: s.byTime.motor, ratio: s.byTime.ratio } : null,
      points: s.points.map((p) => ({
        ...p,
        reserve: finite(p.reserve),
        seconds: finite(p.seconds),
      })),
    })),
    energy: { ...study.energy, errorShare: study.energyError },
    findings: [...study.machine.doubts, ...findingsOf(study)],
    words: studyLines(study),
  };
}

/** JSON has no infinity: what is infinite is null. */
const finite = (x: number): number | null => (Number.isFinite(x) ? x : null);
