/**
 * The two programs of a proof as RS-274 text, cold and slow. `steps`: each joint moves a little, alone, and back,
 * with a stop (M0) after each move and a comment that says what must be seen. `poses`: the tip comes to one place
 * over the table three times, stops there to be measured, and goes back to the ready place between.
 */
import type { Vec3 } from '../base/vector.js';
import type { Machine } from '../machine/machine.js';
import { VIEW } from '../machine/sense.js';
import { Lines } from '../program/lines.js';
import { Speller } from '../program/speller.js';
import { comment, endsProgram, fill } from '../program/text.js';
import { short, valueText } from './joint-words.js';
import { type ProofPlan, wayTo } from './proof-plan.js';

/** Greatest speeds of a proof, mm/s and deg/s, and the share of the machine's own: an eye must follow it. */
const PROOF_SPEED = { linear: 10, rotary: (8 * Math.PI) / 180 } as const;
const PROOF_SHARE = 0.25;

/**
 * The program that moves each joint alone and stops after each, RS-274; comments say what must be seen.
 * @throws Fault `program/...` for the machine file's texts
 */
export function stepsProgram({ machine, steps }: ProofPlan): string {
  const writer = new ProofWriter(machine, [
    `first motion of ${machine.name}: every joint a little, one at a time`,
    `what must be seen is ${VIEW}`,
    'before it: home the machine and let it stand at its ready place; measure that there is room of 30 mm around head and table everywhere',
    'stop at once, and run nothing else, where something else is seen than the comment says; write down what was seen, also where it is right',
  ]);
  for (const { number, joint: j, by, expected } of steps) {
    const joint = machine.joints[j]!;
    const way = `${by > 0 ? '+' : ''}${valueText(joint, by)}`;
    writer.say(
      `step ${number} of ${steps.length}: ${joint.letter} ${way}; what must be seen: ${expected.words}`,
    );
    writer.go(machine.ready.with(j, machine.ready[j]! + by));
    writer.stop(`write down what was seen at step ${number}; going on moves ${joint.letter} back`);
    writer.go(machine.ready);
    writer.stop('hands out; the next step follows');
  }
  return writer.end();
}

/** "X 26, Y 16, Z 60 mm" */
export const placeText = ([x, y, z]: Vec3): string =>
  `X ${short(x)}, Y ${short(y)}, Z ${short(z)} mm`;

/** "A 25 deg, C 60 deg" */
export const turnsText = ({ joints }: Machine, pose: ArrayLike<number>): string =>
  joints
    .flatMap((joint, i) =>
      joint.kind === 'rotary' ? [`${joint.letter} ${valueText(joint, pose[i]!)}`] : [],
    )
    .join(', ');

/**
 * The program that brings the tip to one place in each pose, RS-274, for a machine whose steps were all right.
 * @param plan with poses: where `refused` is set there are none
 * @throws Fault `program/...` for the machine file's texts
 */
export function posesProgram({ machine, poses, place }: ProofPlan): string {
  const where = placeText(place);
  const writer = new ProofWriter(machine, [
    `first motion of ${machine.name}: the tip at one place over the table while the joints turn`,
    'only for a machine of which every step of steps.ngc went as its file says',
    'before it, with all joints at zero: draw a cross on the table, its middle where the table stands still while it turns, one arm towards X+, one towards Y+',
    `at every stop the tip must stand over the cross at ${where}: along its arms, and square to the table face`,
    'measure with a ruler and a square standing on the table, to 1 mm; the cross turns with the table',
  ]);
  let last: Float64Array | undefined;
  for (const { number, joints } of poses) {
    const [turned, pose] = wayTo(machine, machine.ready, joints);
    writer.say(
      `pose ${number} of ${poses.length}: ${turnsText(machine, joints)}; the tip must stand at ${where}`,
    );
    if (last) writer.go(last);
    writer.go(turned);
    writer.go(pose);
    writer.stop(
      `measure where the tip stands over the cross, pose ${number}; then hands out, going on lifts the head`,
    );
    last = turned;
  }
  if (last) writer.go(last);
  writer.go(machine.ready);
  return writer.end();
}

class ProofWriter {
  readonly #machine: Machine;
  readonly #out = new Lines();
  readonly #speller: Speller;
  #at: Float64Array;

  constructor(machine: Machine, heading: readonly string[]) {
    this.#machine = machine;
    this.#at = machine.ready;
    this.#out.addAll([...heading, ...PROOF_CAUTIONS].flatMap(comment));
    this.#out.add('G21 G90 G94');
    this.#out.addAll(this.#texts('start'));
    this.#out.add('G21 G90 G94');
    this.#speller = new Speller(machine, machine.ready, this.#out);
    this.#speller.start(PROOF_SPEED.linear * 60);
    this.stop(
      'look: the head stands far from everything, the nozzle is cold; hands out, a hand on the emergency stop',
    );
  }

  say(text: string): void {
    this.#out.addAll(comment(text));
  }

  stop(text: string): void {
    this.say(text);
    this.#out.add('M0');
    this.#speller.restate();
  }

  go(to: Float64Array): void {
    const seconds = this.#machine.joints.reduce(
      (most, { kind, speed }, i) =>
        Math.max(
          most,
          Math.abs(to[i]! - this.#at[i]!) / Math.min(PROOF_SPEED[kind], PROOF_SHARE * speed),
        ),
      0,
    );
    if (seconds > 0) this.#speller.move(to, 0, 0, seconds, false);
    this.#at = to;
  }

  end(): string {
    const end = this.#texts('end');
    this.#out.addAll(end);
    if (!end.some(endsProgram)) this.#out.add('M2');
    return this.#out.take().join('');
  }

  #texts(key: 'start' | 'end'): string[] {
    const values = { nozzleTemperature: 0, tableTemperature: 0, material: 'nothing' };
    return this.#machine.dialect[key].map((line, i) => fill(line, values, `dialect.${key}.${i}`));
  }
}

/** Before every program of a proof. */
const PROOF_CAUTIONS: readonly string[] = [
  'CAUTION: nozzle and table cold, no filament, no part, nothing loose on the table; the first time with motor currents as low as they may be',
  'CAUTION: this machine is not proved: a wrong sign drives it the other way; run slowly, a hand on the emergency stop, which you have tried before',
  'CAUTION: the cradle tilts and the table turns without warning after each stop: hands out before you let it go on, pinch points crush fingers',
  'CAUTION: the cradle can fall when power is cut: brake or balance it',
  'CAUTION: this program is no safety function; assess the risks first; local codes and qualified people take precedence',
];
