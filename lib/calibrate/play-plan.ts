/**
 * A plan for play and stiffness: touches that show the play of every joint and, with a weight, the
 * compliance of the rotary ones, with the uncertainty to be expected.
 *
 * Play: one place is touched after the joint has come to its value from below and from above, in turn; the
 * tip meets the target earlier or later by the play times the lever. That shows nothing where the load exceeds the
 * friction of the joint and holds it on one flank, so such places are left out; if there are no others, the weight
 * is hung so that it presses the joint onto the other flank. Compliance: a place is touched without
 * and with a known weight on the table, hung so that it presses the joint back onto the flank of its play
 * on which it already lies. A joint that comes down with the touch itself, as Z does under an upright head,
 * always arrives from one side: so its play does not show.
 */
import { Fault } from '../base/fault.js';
import { type Watch, step } from '../base/watch.js';
import { applyPoint } from '../base/frame.js';
import { jointsOf, machineFromHead, machineFromPart } from '../machine/joint-chain.js';
import { limitOf } from '../machine/inverse.js';
import type { Joint, Machine } from '../machine/machine.js';
import { FINE_SEARCH, canTouch, roomOf } from './clear.js';
import { pastOf } from './legs.js';
import { type DeviationModel, modelOf } from './deviation-model.js';
import {
  type PlayEstimate,
  type PlayTouch,
  type Unknown,
  type Weight,
  expectedOf,
  flankAt,
  momentOf,
  wayRate,
} from './play-fit.js';
import { type CandidateTouch, candidates } from './touch-poses.js';
import type { TouchSequence, TouchStep } from './program.js';
import type { Target } from './targets.js';

export interface PlayRules {
  /** Touches from each side, and without and with the weight, at each place. */
  readonly repeats: number;
  /** Standard deviation of one touch that is expected, mm. */
  readonly noise: number;
  readonly weight?: Weight | undefined;
}

/** Touches that show play and give: each place after arriving from below and from above. */
export interface PlayPlan extends TouchSequence {
  readonly touches: readonly (TouchStep & PlayTouch)[];
  readonly expected: readonly PlayEstimate[];
  readonly undetermined: readonly Unknown[];
}

/** Places for each unknown, at different rotary values: play need not be the same all round. */
const PLACES = 2;
/** Least change of the distance for 1 rad or 1 mm of the joint, mm, that makes a place worth a touch. */
const LEAST_RATE_OF_WAY = { rotary: 10, linear: 0.2 } as const;
/** Least change of the distance, mm, for a give of 1 rad per N m. */
const LEAST_GIVE = 3;
/** Least horizontal distance of the weight from the head, mm. */
const WEIGHT_ASIDE = 40;

/** @throws Fault `calibrate/no-pose` if nothing can be measured of any joint */
export function planPlay(
  machine: Machine,
  targets: readonly Target[],
  rules: PlayRules,
  watch?: Watch,
): PlayPlan {
  const { repeats, noise, weight } = rules;
  const model = modelOf(machine, targets);
  const all = candidates(model);
  const room = roomOf(machine, targets, FINE_SEARCH);
  const touches: (TouchStep & PlayTouch)[] = [];
  const undetermined: Unknown[] = [];
  let place = 0;
  const ask = (
    unknown: Unknown,
    worth: (c: CandidateTouch) => number,
    rows: ArrivalCase[],
  ): boolean => {
    const found = best(machine, all, worth, (c) => canTouch(room, c.joints));
    for (const candidate of found) {
      for (const { from, loaded } of rows) {
        const arrive = { joint: unknown.joint, from };
        const number = touches.length + 1;
        const play = { place, joint: unknown.joint, from, loaded };
        touches.push({ ...candidate, number, arrive, loaded, play });
      }
      place++;
    }
    return found.length > 0;
  };
  const { joints } = machine;
  joints.forEach((joint, j) => {
    step(watch, 'play', j, joints.length);
    const play: Unknown = { kind: 'play', joint: j };
    const worth =
      (pair: readonly [ArrivalCase, ArrivalCase]) =>
      (c: CandidateTouch): number =>
        passesPlay(model, c, weight, j, pair) ? playWorth(model, c, joint, j) : 0;
    // Alternating, so that a slow drift adds to neither side; a weight is hung once.
    const arrives = ask(play, worth(TO_AND_FRO), repeated(repeats, TO_AND_FRO));
    const pressed =
      !arrives &&
      weight &&
      joint.kind === 'rotary' &&
      ask(play, worth(PRESSED), [
        ...repeated(repeats, [FROM_BELOW]),
        ...repeated(repeats, [LADEN]),
      ]);
    if (!arrives && !pressed) undetermined.push(play);
    if (joint.kind !== 'rotary' || !weight) return;
    // In a row, so that the weight is hung once per place.
    const give: Unknown = { kind: 'give', joint: j };
    const rows = [...repeated(repeats, [FROM_BELOW]), ...repeated(repeats, [LADEN])];
    if (!ask(give, (c) => giveWorth(model, c, j, weight), rows)) undetermined.push(give);
  });
  if (touches.length === 0) {
    throw new Fault(
      'calibrate/no-pose',
      `none of ${all.length} places and poses tried shows the play of a joint with the head clear; give the target more room`,
    );
  }
  const { found, dark } = expectedOf(model, touches, weight, noise);
  return { model, touches, weight, expected: found, undetermined: [...undetermined, ...dark] };
}

interface ArrivalCase {
  readonly from: 'below' | 'above';
  readonly loaded: boolean;
}
const FROM_BELOW: ArrivalCase = { from: 'below', loaded: false };
const FROM_ABOVE: ArrivalCase = { from: 'above', loaded: false };
const LADEN: ArrivalCase = { from: 'below', loaded: true };

const TO_AND_FRO = [FROM_BELOW, FROM_ABOVE] as const;
const PRESSED = [FROM_BELOW, LADEN] as const;

const repeated = (count: number, rows: readonly ArrivalCase[]): ArrivalCase[] =>
  Array.from({ length: count }, () => rows).flat();

/** The most sensitive places, no two at the same rotary values. */
function best(
  machine: Machine,
  all: readonly CandidateTouch[],
  worth: (c: CandidateTouch) => number,
  free: (c: CandidateTouch) => boolean,
): CandidateTouch[] {
  const ranked = all
    .map((c) => ({ c, size: worth(c) }))
    .filter(({ size }) => size > 0)
    .sort((a, b) => b.size - a.size);
  const rotary = jointsOf(machine, 'rotary');
  const same = (a: CandidateTouch, b: CandidateTouch): boolean =>
    rotary.every((i) => a.joints[i] === b.joints[i]);
  const out: CandidateTouch[] = [];
  for (const { c } of ranked) {
    if (out.length === PLACES) break;
    if (!out.some((o) => same(o, c)) && free(c)) out.push(c);
  }
  return out;
}

/** Whether joint j lies on one flank after the first of two arrivals and on the other after the second. */
function passesPlay(
  model: DeviationModel,
  { joints }: CandidateTouch,
  weight: Weight | undefined,
  joint: number,
  pair: readonly [ArrivalCase, ArrivalCase],
): boolean {
  const [one, other] = pair.map(({ from, loaded }) =>
    flankAt(model, { joints, play: { place: 0, joint, from, loaded } }, weight, joint),
  );
  return one !== undefined && other !== undefined && one !== other;
}

function playWorth(model: DeviationModel, c: CandidateTouch, joint: Joint, j: number): number {
  const reverses = ['below', 'above'] as const;
  const fits = reverses.every(
    (from) => limitOf(joint, pastOf(joint, c.joints[j]!, from)) === undefined,
  );
  // A joint that comes down with the touch arrives from one side, whatever went before.
  if (!fits || Math.abs(c.down[j]!) > 1e-9) return 0;
  const size = Math.abs(wayRate(model, c, j));
  return size > LEAST_RATE_OF_WAY[joint.kind] ? size : 0;
}

function giveWorth(model: DeviationModel, c: CandidateTouch, j: number, weight: Weight): number {
  const { machine } = model;
  const hook = applyPoint(machineFromPart(machine, c.joints), weight.at);
  const tip = applyPoint(machineFromHead(machine, c.joints), [0, 0, 0]);
  if (Math.hypot(hook[0] - tip[0], hook[1] - tip[1]) < WEIGHT_ASIDE) return 0;
  const moment = momentOf(machine, c.joints, j, weight);
  const size = Math.abs(wayRate(model, c, j) * moment);
  // On its lower flank without the weight the joint would cross its play if the weight pressed it up.
  const lies = flankAt(
    model,
    { joints: c.joints, play: { place: 0, joint: j, ...FROM_BELOW } },
    weight,
    j,
  );
  return lies === -1 && moment < 0 && size > LEAST_GIVE ? size : 0;
}
