/**
 * Which way the machine turns. An axis with the opposite sign, or `positive` stated for the wrong side,
 * makes a machine that is just as possible as the real one: nothing in the file contradicts it, and no
 * check of the program can find it. Only somebody who looks can, so for each rotary joint the report
 * states what can be seen at +10 degrees: which edge of the table goes down or to the right, where the
 * tip of the nozzle goes. It is computed by the forward kinematics by which the part is planned, with
 * that joint at +10 degrees and all others at zero.
 */
import { type Frame, applyDirection, applyPoint, inverse } from '../base/frame.js';
import { DEG, type Vec3, sub } from '../base/vector.js';
import { machineFromHead, machineFromPart } from './joint-chain.js';
import type { Machine } from './machine.js';

export interface Sense {
  readonly joint: string;
  /** `A+10: the table edge on the side of Y- (near you) goes down, ...` */
  readonly text: string;
}

/** Who sees these senses, and from where. */
export const VIEW =
  'seen by an operator who stands on the side of Y- and looks towards Y+, with X+ on the right';

/** What to do with them. */
export const TRY =
  'with the head far off, turn each by hand command before the first run: one that goes another way is written the wrong way round in the machine file (its axis, or "positive"), and the head would run into the table';

const TEST_TURN = 10;
/** A motion of less than this share of the greatest possible one is not reported. */
const SLIGHT = 0.35 * Math.sin(TEST_TURN * DEG);

/** One for each turning joint, in the order of `Machine.joints`. */
export function sensesOf(machine: Machine): Sense[] {
  return machine.joints.flatMap((joint, j) => {
    if (joint.kind !== 'rotary') return [];
    const zero = new Float64Array(machine.joints.length);
    const turned = zero.with(j, TEST_TURN * DEG);
    const frameAt = joint.carriesTable ? machineFromPart : machineFromHead;
    const words = joint.carriesTable ? tableWords : headWords;
    const text = words(frameAt(machine, zero), frameAt(machine, turned)).join('; ');
    return [{ joint: joint.letter, text: `${joint.letter}+${TEST_TURN}: ${text}` }];
  });
}

/** Horizontal directions of the machine as an operator names them. */
const OPERATOR_SIDES: readonly (readonly [string, Vec3])[] = [
  ['X+ (your right)', [1, 0, 0]],
  ['X- (your left)', [-1, 0, 0]],
  ['Y+ (far from you)', [0, 1, 0]],
  ['Y- (near you)', [0, -1, 0]],
  ...([1, -1] as const).flatMap((x) =>
    ([1, -1] as const).map((y): readonly [string, Vec3] => [
      `X${x > 0 ? '+' : '-'} and Y${y > 0 ? '+' : '-'}`,
      [x * Math.SQRT1_2, y * Math.SQRT1_2, 0],
    ]),
  ),
];

const TOWARDS_OPERATOR: Vec3 = [0, -1, 0];

/** How a direction of the machine, fixed to what is carried, moves. */
function motionOf(direction: Vec3, before: Frame, after: Frame): Vec3 {
  const carried = applyDirection(inverse(before), direction);
  return sub(applyDirection(after, carried), direction);
}

/** The side with the greatest of a figure; the four plain sides win over the slanting ones by a little. */
const sideOf = (figure: (d: Vec3) => number): string =>
  OPERATOR_SIDES.reduce((best, side) =>
    figure(side[1]) > figure(best[1]) + 1e-6 ? side : best,
  )[0];

function tableWords(before: Frame, after: Frame): string[] {
  const out: string[] = [];
  const drop = (d: Vec3): number => -motionOf(d, before, after)[2];
  const most = Math.max(...OPERATOR_SIDES.map(([, d]) => drop(d)));
  if (most > SLIGHT) {
    const [down, up] = [sideOf(drop), sideOf((d) => -drop(d))];
    out.push(
      `the table edge on the side of ${down} goes down, the one on the side of ${up} goes up`,
    );
  }
  const across = motionOf(TOWARDS_OPERATOR, before, after)[0];
  if (Math.abs(across) > SLIGHT) {
    out.push(
      `the table turns ${about(across)} seen from above, its edge on the side of Y- (near you) goes to the ${across > 0 ? 'right' : 'left'}`,
    );
  }
  return out;
}

function headWords(before: Frame, after: Frame): string[] {
  const out: string[] = [];
  const [x, y] = motionOf([0, 0, 1], before, after);
  const lean = sideOf((d) => d[0] * x + d[1] * y);
  if (Math.hypot(x, y) > SLIGHT) {
    const tip = sub(applyPoint(after, [0, 0, 0]), applyPoint(before, [0, 0, 0]));
    const goes = sideOf((d) => d[0] * tip[0] + d[1] * tip[1]);
    out.push(
      ...(Math.hypot(tip[0], tip[1]) > SEEN ? [`the tip of the nozzle goes towards ${goes}`] : []),
      `the upper end of the head leans towards ${lean} of the tip`,
    );
  }
  const across = motionOf(TOWARDS_OPERATOR, before, after)[0];
  if (Math.abs(across) > SLIGHT) out.push(`the head turns ${about(across)} seen from above`);
  return out;
}

/** A motion of the tip that an eye sees, mm. */
const SEEN = 1;

/** The near side goes to the right where something turns from X to Y. */
const about = (across: number): string => (across > 0 ? 'counter-clockwise' : 'clockwise');

/** The senses as sentences for people, with where the operator stands and what to do. */
export const senseLines = (machine: Machine): string[] => [
  `turning joints, each from 0 with the other at 0, ${VIEW}:`,
  ...sensesOf(machine).map(({ text }) => text),
  TRY,
];
