/** What `calibrate` reports of a plan and of a fit: lines for people, and a record for `--json`. */
import { DEG } from '../lib/base/vector.js';
import type { DeviationFit, Target, TouchPlan } from '../lib/index.js';
import type { Estimate, Undetermined } from '../lib/calibrate/deviation-fit.js';
import { ANGLE } from '../lib/calibrate/deviation-model.js';

const isAngle = (e: Estimate): boolean => e.kind === 'angle';
const sizeOf = (e: Estimate): number => (isAngle(e) ? ANGLE / DEG : 1);
const unitOf = (e: Estimate): string => (isAngle(e) ? 'deg' : 'mm');
const show = (e: Estimate, value: number): string => (value * sizeOf(e)).toFixed(4);

const undeterminedLines = (
  undetermined: readonly Undetermined[],
  estimates: readonly Estimate[],
): string[] =>
  undetermined.map(({ held, with: others }) => {
    const names = others.map((p) => estimates[p]!.name);
    const shared = names.length ? `; its error would show in: ${names.join(', ')}` : '';
    return `cannot be determined from these touches, left as drawn: ${estimates[held]!.name}${shared}`;
  });

export function planLines(
  { touches, expected, undetermined }: TouchPlan,
  noise: number,
  folder: string,
): string[] {
  const counts = new Map<string, number>();
  for (const { aim } of touches) counts.set(aim, (counts.get(aim) ?? 0) + 1);
  const aims = [...counts].map(([aim, n]) => `${n} ${aim}`).join(', ');
  return [
    `${touches.length} touches: ${aims}`,
    `to be expected with ${noise} mm of noise in a touch (standard uncertainty):`,
    ...expected.flatMap((e) =>
      e.uncertainty === undefined
        ? []
        : [`  ${e.name.padEnd(30)} ${show(e, e.uncertainty)} ${unitOf(e)}`],
    ),
    ...undeterminedLines(undetermined, expected),
    ...beforeRun(folder),
  ];
}

export const beforeRun = (folder: string): string[] => [
  'before you run touches.ngc: no filament, tip and target clean, target screwed down, hands out, a hand on the stop',
  `written to ${folder}: touches.ngc, readings.html (enter or paste the readings), readings.csv (the same as a table), plan.json`,
];

export const rms = (values: Float64Array): number =>
  Math.sqrt(values.reduce((sum, v) => sum + v * v, 0) / values.length);

/** Where the targets stand, as the next plan needs to know it. */
const foundLines = (targets: readonly Target[]): string[] =>
  targets.flatMap((t) => {
    const numbers =
      t.kind === 'ball'
        ? [...t.at, 2 * t.radius]
        : t.kind === 'block'
          ? [...t.at, ...t.size, t.turn / DEG]
          : [];
    const list = numbers.map((x) => Number(x.toFixed(3)) + 0).join(',');
    return numbers.length ? [`as it stands: --${t.kind} ${list}`] : [];
  });

/** How many touches went in, and which did not. */
export const touchLines = (
  { used, bad, freedom, noise }: Pick<DeviationFit, 'used' | 'bad' | 'freedom' | 'noise'>,
  missing: readonly number[],
): string[] => [
  `${used.length} touches, ${freedom} more than unknowns; scatter of a touch ${noise.toFixed(4)} mm`,
  ...(missing.length ? [`without a reading: ${missing.join(', ')}`] : []),
  ...bad.map(
    ({ touch, off }) =>
      `touch ${touch.number} (${touch.aim}) is ${off.toFixed(3)} mm from what the others say: set aside`,
  ),
];

export const scatterLines = (noise: number, expected: number): string[] =>
  noise > 3 * expected
    ? [
        `warning: a touch scatters by ${noise.toFixed(3)} mm, ${(noise / expected).toFixed(0)} times what the plan expected: dirt, play, something loose, or errors that are not among those fitted`,
      ]
    : [];

export function fitLines(
  fit: DeviationFit,
  tip: number,
  missing: readonly number[],
  expectedNoise: number,
): string[] {
  const { estimates, undetermined, before, after, noise } = fit;
  return [
    ...touchLines(fit, missing),
    `ways left over: ${rms(before).toFixed(4)} mm as drawn, ${rms(after).toFixed(4)} mm as fitted (root mean square)`,
    'deviation from the machine file, and its standard uncertainty:',
    ...estimates.flatMap((e) =>
      e.uncertainty === undefined
        ? []
        : [
            `  ${e.name.padEnd(30)} ${show(e, e.value).padStart(9)} +- ${show(e, e.uncertainty)} ${unitOf(e)}`,
          ],
    ),
    ...undeterminedLines(undetermined, estimates),
    ...foundLines(fit.state.targets),
    ...scatterLines(noise, expectedNoise),
    `the tip will be where it should within ${tip.toFixed(4)} mm (standard uncertainty over the room for parts)`,
  ];
}

/** What all fits say of their touches, for programs. */
export const touchRecord = (
  {
    used,
    bad,
    freedom,
    noise,
    before,
    after,
  }: Pick<DeviationFit, 'used' | 'bad' | 'freedom' | 'noise' | 'before' | 'after'>,
  missing: readonly number[],
): object => ({
  touches: used.length,
  freedom,
  noiseMm: noise,
  beforeMm: rms(before),
  afterMm: rms(after),
  missing,
  bad: bad.map(({ touch, off }) => ({ touch: touch.number, aim: touch.aim, offMm: off })),
});

/** The same for programs; mm and deg. */
export function fitRecord(fit: DeviationFit, tip: number, missing: readonly number[]): object {
  const { estimates, undetermined } = fit;
  return {
    ...touchRecord(fit, missing),
    tipMm: tip,
    deviations: estimates.map((e) => ({
      name: e.name,
      unit: unitOf(e),
      value: e.value * sizeOf(e),
      uncertainty: e.uncertainty === undefined ? null : e.uncertainty * sizeOf(e),
    })),
    untold: undetermined.map(({ held, with: others }) => ({
      held: estimates[held]!.name,
      with: others.map((p) => estimates[p]!.name),
    })),
  };
}
