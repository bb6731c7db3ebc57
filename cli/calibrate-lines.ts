/** What `calibrate` reports of a plan and of a fit: lines for people, and a record for `--json`. */
import { doubtLines, doubtRecord } from './calibrate-doubt-lines.js';
import { DEG } from '../lib/base/vector.js';
import type { DeviationFit, Target, TouchPlan } from '../lib/index.js';
import type { Estimate, Undetermined } from '../lib/calibrate/deviation-fit.js';

const show = ({ shown }: Pick<Estimate, 'shown'>, value: number): string =>
  (value * shown.size).toFixed(4);

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
  { touches, expected, undetermined, search }: TouchPlan,
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
        : [`  ${e.name.padEnd(30)} ${show(e, e.uncertainty)} ${e.shown.unit}`],
    ),
    ...undeterminedLines(undetermined, expected),
    `each touch is looked for from ${search.approach} mm over its place to ${search.below} mm below it; a machine as drawn, not measured yet, needs --coarse first, then a second plan on its measured file with the target where the fit has found it`,
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

export function fitLines(
  fit: DeviationFit,
  tip: number,
  missing: readonly number[],
  expectedNoise: number,
): string[] {
  const { estimates, undetermined, before, after } = fit;
  return [
    ...touchLines(fit, missing),
    `ways left over: ${rms(before).toFixed(4)} mm as drawn, ${rms(after).toFixed(4)} mm as fitted (root mean square)`,
    'deviation from the machine file, and its standard uncertainty:',
    ...estimates.flatMap((e) =>
      e.uncertainty === undefined
        ? []
        : [
            `  ${e.name.padEnd(30)} ${show(e, e.value).padStart(9)} +- ${show(e, e.uncertainty)} ${e.shown.unit}`,
          ],
    ),
    ...undeterminedLines(undetermined, estimates),
    ...foundLines(fit.state.targets),
    ...doubtLines(fit, expectedNoise),
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
    doubts: doubtRecord(fit),
    deviations: estimates.map((e) => ({
      name: e.name,
      unit: e.shown.unit,
      value: e.value * e.shown.size,
      uncertainty: e.uncertainty === undefined ? null : e.uncertainty * e.shown.size,
    })),
    untold: undetermined.map(({ held, with: others }) => ({
      held: estimates[held]!.name,
      with: others.map((p) => estimates[p]!.name),
    })),
  };
}
