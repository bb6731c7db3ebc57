/** What `calibrate` reports of play and compliance: lines for people, and a record for `--json`. */
import { DEG } from '../lib/base/vector.js';
import { isCertain, stiffnessOf } from '../lib/calibrate/measured.js';
import type { Machine, PlayFit, PlayPlan } from '../lib/index.js';
import type { PlayEstimate, Unknown } from '../lib/calibrate/play-fit.js';
import { noiseLines } from './calibrate-doubt-lines.js';
import { beforeRun, rms, touchLines, touchRecord } from './calibrate-lines.js';

const sizeOf = (machine: Machine, u: Unknown): number =>
  machine.joints[u.joint]!.kind === 'rotary' ? DEG : 1;
const unitOf = (machine: Machine, u: Unknown): string => {
  const unit = machine.joints[u.joint]!.kind === 'rotary' ? 'deg' : 'mm';
  return u.kind === 'give' ? `${unit}/(N m)` : unit;
};
const nameOf = (machine: Machine, u: Unknown): string =>
  `${u.kind} of ${machine.joints[u.joint]!.letter}`;

const undeterminedLines = (machine: Machine, undetermined: readonly Unknown[]): string[] =>
  undetermined.map((u) => {
    const linear = machine.joints[u.joint]!.kind === 'linear';
    const why = linear
      ? 'it moves with the touch itself, or no target leans enough; measure it with a dial gauge'
      : 'no place gives it a lever';
    return `cannot be determined from these touches: ${nameOf(machine, u)} (${why})`;
  });

export function playPlanLines(plan: PlayPlan, noise: number, folder: string): string[] {
  const { machine } = plan.model;
  const { touches, expected, weight } = plan;
  const places = new Set(touches.map((t) => t.play.place)).size;
  return [
    `${touches.length} touches at ${places} places`,
    `to be expected with ${noise} mm of noise in a touch (standard uncertainty):`,
    ...expected.map((e) => {
      const size = e.uncertainty / sizeOf(machine, e);
      return `  ${nameOf(machine, e).padEnd(12)} ${size.toFixed(4)} ${unitOf(machine, e)}`;
    }),
    ...undeterminedLines(machine, plan.undetermined),
    ...(weight ? [] : ['no weight is given, so no stiffness is asked']),
    ...beforeRun(folder),
  ];
}

function valueLine(machine: Machine, e: PlayEstimate): string {
  const size = sizeOf(machine, e);
  const [value, sure] = [e.value / size, e.uncertainty / size].map((x) => x.toFixed(4));
  const line = `  ${nameOf(machine, e).padEnd(12)} ${value!.padStart(8)} +- ${sure} ${unitOf(machine, e)}`;
  if (!isCertain(e)) return `${line}: not distinguishable from zero`;
  if (e.kind === 'play') return line;
  const { stiffness, stiffnessUncertainty } = stiffnessOf(e);
  return `${line}: stiffness ${stiffness} +- ${stiffnessUncertainty} N m/deg`;
}

export function playFitLines(
  fit: PlayFit,
  missing: readonly number[],
  expectedNoise: number,
): string[] {
  const { machine, estimates, undetermined, before, after } = fit;
  return [
    ...touchLines(fit, missing),
    `scatter within a place: ${rms(before).toFixed(4)} mm as read, ${rms(after).toFixed(4)} mm with play and give counted (root mean square)`,
    ...estimates.map((e) => valueLine(machine, e)),
    ...undeterminedLines(machine, undetermined),
    ...noiseLines(fit, expectedNoise),
  ];
}

/** The same for programs; mm, deg and N m. */
export function playFitRecord(fit: PlayFit, missing: readonly number[]): object {
  const { machine, estimates, undetermined } = fit;
  return {
    ...touchRecord(fit, missing),
    estimates: estimates.map((e) => ({
      name: nameOf(machine, e),
      unit: unitOf(machine, e),
      value: e.value / sizeOf(machine, e),
      uncertainty: e.uncertainty / sizeOf(machine, e),
      certain: isCertain(e),
    })),
    untold: undetermined.map((u) => nameOf(machine, u)),
  };
}
