/**
 * The program of a touch plan as RS-274 text: it comes down slowly at every touch, stops on contact (G38.2)
 * or at a height from which a hand goes on, waits so that the reading can be noted (M0), and leads the head
 * from touch to touch with everything clear.
 */
import { DEG, type Vec3 } from '../base/vector.js';
import { type Watch, step } from '../base/watch.js';
import type { Machine } from '../machine/machine.js';
import { senseLines } from '../machine/sense.js';
import { Lines } from '../program/lines.js';
import { fixed, powerOfTen } from '../program/number.js';
import { Speller } from '../program/speller.js';
import { comment, endsProgram, fill } from '../program/text.js';
import { FINE_SEARCH, type SearchWay, roomOf } from './clear.js';
import { type Arrival, legTo, over } from './legs.js';
import type { DeviationModel } from './deviation-model.js';
import type { CandidateTouch } from './touch-poses.js';
import type { TouchReading } from './least-squares.js';

/** A touch as the program makes it. */
export interface TouchStep extends CandidateTouch, TouchReading {
  readonly arrive?: Arrival;
  /** True while the weight hangs. */
  readonly loaded?: boolean;
}

/** The touches of a program, in order. */
export interface TouchSequence {
  readonly model: DeviationModel;
  readonly touches: readonly TouchStep[];
  /** Hung on the table by hand for the loaded touches; where from, part frame, mm. */
  readonly weight?: { readonly kg: number; readonly at: Vec3 } | undefined;
  /** How far it searches; left out: as on a machine that is measured. */
  readonly search?: SearchWay;
}

export interface ProgramRules {
  /** "switch": G38.2 stops on contact. "hand": the program waits, a person steps the tip down. */
  readonly probe: 'switch' | 'hand';
  /** Speed of the tip at a touch, mm/s. */
  readonly speed: number;
  /** Filled into the start and end lines, deg C. */
  readonly nozzleTemperature: number;
  readonly tableTemperature: number;
}

/** Share of the joints' speeds at which the head goes from touch to touch. */
const CALM = 0.25;

/** @throws Fault `calibrate/no-way` or, for the machine file's texts, `program/...` */
export function touchProgram(plan: TouchSequence, rules: ProgramRules, watch?: Watch): string {
  const { machine, targets } = plan.model;
  const { search = FINE_SEARCH } = plan;
  const room = roomOf(machine, targets, search);
  const out = new Lines();
  out.addAll(heading(plan, rules));
  const values = {
    nozzleTemperature: rules.nozzleTemperature,
    tableTemperature: rules.tableTemperature,
    material: 'nothing',
  };
  const texts = (key: 'start' | 'end'): string[] =>
    machine.dialect[key].map((line, i) => fill(line, values, `dialect.${key}.${i}`));
  out.add('G21 G90 G94');
  out.addAll(texts('start'));
  out.add('G21 G90 G94');
  const speller = new Speller(machine, machine.ready, out);
  speller.start(10 * 60);
  let at = machine.ready;
  const go = (to: Float64Array): void => {
    const seconds = machine.joints.reduce(
      (most, j, i) => Math.max(most, Math.abs(to[i]! - at[i]!) / (CALM * j.speed)),
      0,
    );
    if (seconds > 0) speller.move(to, 0, 0, seconds, false);
    at = to;
  };
  plan.touches.forEach((touch, i) => {
    step(watch, 'program', i, plan.touches.length);
    const before = plan.touches[i - 1];
    if (before && hangs(touch) !== hangs(before)) {
      go(over(before, search.approach));
      out.addAll(weightStop(plan, hangs(touch)));
    }
    out.addAll(
      comment(`touch ${touch.number} of ${plan.touches.length}: ${wordsOf(machine, touch)}`),
    );
    for (const knot of legTo(room, { at, touch: before }, touch, touch.number, search)) go(knot);
    if (rules.probe === 'switch')
      out.add(probeLine(machine, over(touch, -search.below), rules.speed));
    else out.addAll(comment('step the tip down by hand until it touches'));
    out.addAll(comment(`note the joint values of touch ${touch.number}`));
    out.add('M0');
    // Wherever the tip has stopped, the next block states every joint and so leads up and away.
    speller.moved(touch.joints);
    at = touch.joints;
  });
  const last = plan.touches.at(-1);
  if (last) go(over(last, search.approach));
  if (last && hangs(last)) out.addAll(weightStop(plan, false));
  const end = texts('end');
  out.addAll(end);
  if (!end.some(endsProgram)) out.add('M2');
  return out.take().join('');
}

const hangs = ({ loaded = false }: TouchStep): boolean => loaded;

function wordsOf({ joints }: Machine, { aim, arrive, loaded }: TouchStep): string {
  const side = arrive ? `, ${joints[arrive.joint]!.letter} from ${arrive.from}` : '';
  return `${aim}${side}${loaded ? ', with the weight' : ''}`;
}

const weightStop = ({ weight }: TouchSequence, hang: boolean): string[] => [
  ...comment(
    hang
      ? `hang ${weight!.kg} kg at part X ${weight!.at[0]} Y ${weight!.at[1]} Z ${weight!.at[2]} mm, let it come to rest`
      : 'take the weight off',
  ),
  'M0',
];

function probeLine(machine: Machine, to: Float64Array, speed: number): string {
  const words = machine.joints.flatMap((j, i) => {
    if (j.kind !== 'linear') return [];
    const decimals = machine.dialect.decimals.linear;
    return [`${j.letter}${fixed(Math.round(to[i]! * powerOfTen(decimals)), decimals)}`];
  });
  return `G94 G38.2 ${words.join(' ')} F${fixed(Math.round(speed * 60 * 100), 2)}`;
}

function heading(
  { model, touches, weight, search = FINE_SEARCH }: TouchSequence,
  rules: ProgramRules,
): string[] {
  const { machine } = model;
  const letters = machine.joints.map((j) => `${j.letter} ${j.kind === 'linear' ? 'mm' : 'deg'}`);
  const turned = machine.joints
    .flatMap((j, i) => {
      if (j.kind !== 'rotary') return [];
      const all = touches.map((t) => t.joints[i]! / DEG);
      return [`${j.letter} ${Math.min(...all).toFixed(0)} to ${Math.max(...all).toFixed(0)} deg`];
    })
    .join(', ');
  return [
    `calibration: ${touches.length} touches with the nozzle itself`,
    `machine: ${machine.name}; units: ${letters.join(', ')}; turns ${turned}`,
    ...senseLines(machine),
    `targets: ${model.targets.map((t) => t.kind).join(', ')}; each touch begins ${search.approach} mm over its target and gives up ${search.below} mm below it`,
    rules.probe === 'switch'
      ? 'needs: a contact between nozzle and target that the controller reads as its probe; try it by hand first'
      : 'needs: a hand that steps the tip down at each stop until it touches, always in the same way',
    ...(weight
      ? [
          `needs: ${weight.kg} kg on a hook or string at part X ${weight.at[0]} Y ${weight.at[1]} Z ${weight.at[2]} mm, hanging free of cradle and frame; it is hung and taken off at the stops that say so`,
          'CAUTION: the weight pulls on the cradle and can slip or fall: nothing of yours under it, hands out before you go on',
        ]
      : []),
    'prepare: no filament, tip clean and bare, target clean and screwed down, table bare',
    `CAUTION: nozzle ${rules.nozzleTemperature} deg C and table ${rules.tableTemperature} deg C; do it cold unless you must, hot parts burn`,
    'CAUTION: the cradle tilts and the table turns without warning after each stop: hands out before you let it go on, pinch points crush fingers',
    'CAUTION: the machine may be some mm off its drawing: run slowly, a hand on the emergency stop, the first time without the target',
    'CAUTION: the cradle can fall when power is cut: brake or balance it',
    'CAUTION: this program is no safety function; assess the risks first; local codes and qualified people take precedence',
  ].flatMap(comment);
}
