/**
 * The measured machine file: the file as it was written, with measured axes, origin, table normal, run-out
 * and flat of the tip, or with play and stiffness. Everything else, the user's own order of keys included,
 * stays as it is.
 */
import type { z } from 'zod';
import { DEG, type Vec3, length, scale } from '../base/vector.js';
import type { Joint, machineFile } from '../machine/machine.js';
import type { DeviationFit } from './deviation-fit.js';
import { ANGLE, playName, windUpName } from './deviation-model.js';
import type { DeviatedMachine } from './effect.js';
import { movedBodies } from './moved-bodies.js';
import type { PlayEstimate, PlayFit } from './play-fit.js';

export type FileText = z.input<typeof machineFile>;
type JointText = FileText['head']['joints'][number];

/** Decimals of what is written: 1e-6 mm, and 1e-9 of a direction (1e-7 mm at 100 mm). */
const LENGTH_DECIMALS = 6;
const DIRECTION_DECIMALS = 9;
/** 1e-7 mm in 100 mm. */
const SCALE_DECIMALS = 9;

/**
 * The machine file with what a calibration has found put in.
 * @param file what the machine was read from; checked already
 */
export function measuredFile(
  file: FileText,
  { machine, drawn, flat, stands, slack }: DeviatedMachine,
  measured: NonNullable<FileText['measured']>,
): FileText {
  const joint = (text: JointText, carriesTable: boolean): JointText => {
    const sense = file.positive === 'tool' && carriesTable ? -1 : 1;
    const found = machine.joints.find((j) => j.letter === text.letter)!;
    const j = machine.joints.indexOf(found);
    const wound = stands.winding.find(({ joint: own }) => own === j);
    // What the touches did not tell is left as drawn, and so its text.
    const given = wound && slack.give[j] !== 0 ? giveText(found, wound.load, measured) : {};
    const played = slack.play[j] !== 0 ? playText(found, measured) : {};
    return { ...text, ...lineOf(found, sense, text), ...given, ...played } as JointText;
  };
  const { head, table } = file;
  const m = machine.mount;
  return {
    ...file,
    head: { ...head, joints: head.joints.map((j) => joint(j, false)) },
    table: {
      ...table,
      joints: table.joints.map((j) => joint(j, true)),
      origin: rounded(machine.origin, LENGTH_DECIMALS),
      normal: rounded([m[8]!, m[9]!, m[10]!], DIRECTION_DECIMALS),
    },
    ...(file.drives && {
      drives: { ...file.drives, bodies: movedBodies(file.drives.bodies, drawn, machine) },
    }),
    measured,
    nozzle: { ...file.nozzle, flat: Math.max(file.nozzle.diameter, round(2 * flat, 4)) },
  };
}

/** Standard uncertainty of a wind-up or a play that a fit has told, rad; undefined where it has kept no covariance. */
function sureOf(
  name: string,
  { covariance }: NonNullable<FileText['measured']>,
): number | undefined {
  const i = covariance?.of.indexOf(name) ?? -1;
  return i < 0 ? undefined : ANGLE * Math.sqrt(covariance!.rows[i]![i]!);
}

/**
 * Stiffness as the fit leaves it, where it tells it from none.
 * @param load greatest change of the joint's load, N m, at which its wind-up is a deviation of 1
 */
function giveText(joint: Joint, load: number, measured: NonNullable<FileText['measured']>): object {
  const sure = sureOf(windUpName(joint), measured);
  if (sure === undefined || joint.stiffness === undefined) return {};
  const give = { value: 1 / joint.stiffness, uncertainty: sure / load };
  return isCertain(give) ? stiffnessOf(give) : {};
}

function playText(joint: Joint, measured: NonNullable<FileText['measured']>): object {
  const uncertainty = sureOf(playName(joint), measured);
  return uncertainty === undefined ? {} : backlashOf({ value: joint.backlash, uncertainty }, DEG);
}

/** @param size rad or mm of what the file states */
const backlashOf = (
  play: Pick<PlayEstimate, 'value' | 'uncertainty'>,
  size: number,
): { readonly backlash: number; readonly backlashUncertainty: number } => ({
  backlash: isCertain(play) ? round(play.value / size, PLAY) : 0,
  backlashUncertainty: round(play.uncertainty / size, PLAY),
});

/** Decimals of play and uncertainties, mm and deg, and significant digits of a stiffness. */
const PLAY = 5;
const DIGITS = 4;

/** How many standard uncertainties a value must be away from zero to count. */
const CERTAIN = 2;

/** True for a play or compliance that the touches distinguish from zero. */
export const isCertain = ({
  value,
  uncertainty,
}: Pick<PlayEstimate, 'value' | 'uncertainty'>): boolean => value > CERTAIN * uncertainty;

/**
 * The same file with measured play and stiffness. Play that is not distinguishable from zero is written as 0
 * with its uncertainty; a stiffness that is not distinguishable from infinite is left as it was.
 */
export function measuredPlay(file: FileText, { machine, estimates }: PlayFit): FileText {
  const joint = (drawn: JointText): JointText => {
    const own = estimates.filter((e) => machine.joints[e.joint]!.letter === drawn.letter);
    const play = own.find((e) => e.kind === 'play');
    const give = own.find((e) => e.kind === 'give' && isCertain(e));
    const size = drawn.kind === 'rotary' ? DEG : 1;
    return {
      ...drawn,
      ...(play && backlashOf(play, size)),
      ...(give && stiffnessOf(give)),
    } as JointText;
  };
  const { head, table } = file;
  return {
    ...file,
    head: { ...head, joints: head.joints.map(joint) },
    table: { ...table, joints: table.joints.map(joint) },
  };
}

/** N m/deg from a give in rad/(N m). */
export function stiffnessOf({ value, uncertainty }: Pick<PlayEstimate, 'value' | 'uncertainty'>): {
  readonly stiffness: number;
  readonly stiffnessUncertainty: number;
} {
  const digits = (x: number): number => Number(x.toPrecision(DIGITS));
  const stiffness = DEG / value;
  return {
    stiffness: digits(stiffness),
    stiffnessUncertainty: digits((stiffness * uncertainty) / value),
  };
}

/** True for a deviation that the machine file holds: not where targets stood, of effects the scales alone. */
function isOfFile({ estimates, model }: DeviationFit, p: number): boolean {
  const { group, name } = estimates[p]!;
  if (group !== 'effect') return group !== 'target';
  const columns = model.effects.flatMap((e) => e.columns);
  return columns.some((c) => c.name === name && c.scales !== undefined);
}

/** What a fit leaves uncertain of the machine, for its file; the targets are no longer on the table. */
export function measuredBy(fit: DeviationFit, tip: number): NonNullable<FileText['measured']> {
  const { estimates, spread, covariance, used, noise } = fit;
  const own = spread.flatMap((p, k) => (isOfFile(fit, p) ? [{ p, k }] : []));
  return {
    touches: used.length,
    noise: round(noise, PLAY),
    tip: round(tip, PLAY),
    covariance: {
      of: own.map(({ p }) => estimates[p]!.name),
      rows: own.map(({ k }, i) =>
        own.slice(0, i + 1).map(({ k: l }) => Number(covariance.get(k, l).toPrecision(6))),
      ),
    },
  };
}

function lineOf(joint: Joint, sense: 1 | -1, drawn: JointText): object {
  const axis = rounded(scale(joint.axis, sense), DIRECTION_DECIMALS);
  if (joint.kind === 'linear') {
    const along = length(joint.axis);
    const stretch = Number(along.toFixed(SCALE_DECIMALS));
    return {
      axis: rounded(scale(joint.axis, sense / along), DIRECTION_DECIMALS),
      ...((stretch !== 1 || 'scale' in drawn) && { scale: stretch }),
    };
  }
  const runOut = joint.runOut.map((x) => round(sense * x, LENGTH_DECIMALS));
  return {
    axis,
    point: rounded(joint.point, LENGTH_DECIMALS),
    ...(runOut.some((x) => x !== 0) && { runOut }),
  };
}

/** No minus before a zero. */
const round = (x: number, digits: number): number => Number(x.toFixed(digits)) + 0;

const rounded = (v: Vec3, digits: number): [number, number, number] => [
  round(v[0], digits),
  round(v[1], digits),
  round(v[2], digits),
];
