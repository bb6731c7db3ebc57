/** What a fit doubts of itself: lines for people, and a record for `--json`. */
import { percent } from '../lib/base/phrases.js';
import { DEG } from '../lib/base/vector.js';
import { chiSquaredTail } from '../lib/calibrate/chi-squared.js';
import { LEVEL_OF_TESTS, type Pattern } from '../lib/calibrate/lack-of-fit.js';
import { settlingTouches } from '../lib/calibrate/settle.js';
import type { DeviationFit } from '../lib/index.js';

/** A chance as people read it. */
const chanceOf = (chance: number): string =>
  chance < 1e-6 ? 'less than one in a million' : percent(chance);

/** Whether the scatter of touches is the noise that was stated. */
export function noiseLines(
  { noise, freedom }: Pick<DeviationFit, 'noise' | 'freedom'>,
  stated: number,
): string[] {
  const chiSquared = freedom * (noise / stated) ** 2;
  const chance = chiSquaredTail(chiSquared, freedom);
  const test = `chi-squared of the residuals against ${stated} mm of noise: ${chiSquared.toFixed(1)} for ${freedom} degrees of freedom`;
  return chance < LEVEL_OF_TESTS
    ? [
        `${test}; by chance that happens in ${chanceOf(chance)} of fits, the level is ${percent(LEVEL_OF_TESTS)}`,
        `warning: a touch scatters by ${noise.toFixed(3)} mm, ${(noise / stated).toFixed(1)} times what was stated; all uncertainties are widened by that: dirt, play, something loose, or errors that are not among those fitted`,
      ]
    : [`${test}; that is noise (level ${percent(LEVEL_OF_TESTS)})`];
}

/** Touches that are proposed to settle a suspicion. */
const PROPOSED = 6;

export function doubtLines(fit: DeviationFit, stated: number): string[] {
  const { patterns, trends } = fit.doubts;
  return [
    ...noiseLines(fit, stated),
    ...patterns.flatMap((p) => patternLines(fit, p, stated)),
    ...trends.map(
      ({ against, chance }) =>
        `warning: the residuals run with ${against} (by chance in ${chanceOf(chance)} of fits), and no effect known here explains it; look at their picture (--picture)`,
    ),
    ...(patterns.length > 0
      ? [
          'the uncertainties above and below count what these effects do while the fit leaves them out',
        ]
      : []),
  ];
}

const amountsText = ({ effect, amounts, uncertainties }: Pattern): string =>
  effect.columns
    .map(({ name, shown: { size, unit } }, k) => {
      const [value, sure] = [amounts[k]! * size, uncertainties[k]! * size];
      return sure === 0
        ? `${name}: not seen`
        : `${name}: ${value.toFixed(3)} +- ${sure.toFixed(3)} ${unit}`;
    })
    .join(', ');

function patternLines(fit: DeviationFit, pattern: Pattern, stated: number): string[] {
  const { effect, rivals, chance } = pattern;
  const names = [effect, ...rivals].map((e) => e.name).join(',');
  const { touches, before, after } = settlingTouches(fit, pattern, stated, PROPOSED);
  const { size, unit } = effect.columns[0]!.shown;
  return [
    `warning: the residuals run with ${effect.against} as ${effect.name} would make them (by chance in ${chanceOf(chance)} of fits): ${amountsText(pattern)}`,
    `  likely cause: ${effect.cause}`,
    `  what to do: ${effect.remedy}`,
    ...rivals.map((r) => `  explains it nearly as well: ${r.name} (${r.cause})`),
    `  to fit it too: calibrate fit --also "${names}"; a plan that tells it well: calibrate plan --also "${names}"`,
    ...(touches.length > 0
      ? [
          `  ${touches.length} touches that would tell most of it (${effect.columns[0]!.name} from +- ${(before * size).toFixed(3)} to ${(after * size).toFixed(3)} ${unit}): ${touches.map((t) => placeOf(fit, t)).join('; ')}`,
        ]
      : []),
  ];
}

function placeOf(
  { model }: DeviationFit,
  { aim, joints }: { readonly aim: string; readonly joints: Float64Array },
): string {
  const turns = model.machine.joints.flatMap((j, i) =>
    j.kind === 'rotary' ? [`${j.letter} ${(joints[i]! / DEG).toFixed(0)}`] : [],
  );
  return `${aim} at ${turns.join(' ')} deg`;
}

/** The same for programs. */
export function doubtRecord({ doubts }: DeviationFit): object {
  const { level, chiSquared, freedom, chance, patterns, trends, rest } = doubts;
  return {
    level,
    chiSquared,
    freedom,
    chance,
    patterns: patterns.map(({ effect, amounts, uncertainties, chance: own, rivals }) => ({
      name: effect.name,
      against: effect.against,
      cause: effect.cause,
      remedy: effect.remedy,
      chance: own,
      amounts: effect.columns.map(({ name, shown }, k) => ({
        name,
        unit: shown.unit,
        value: amounts[k]! * shown.size,
        uncertainty: uncertainties[k]! * shown.size,
      })),
      rivals: rivals.map((r) => r.name),
    })),
    trends: trends.map(({ against, chance: own }) => ({ against, chance: own })),
    chanceOfRest: rest,
  };
}
