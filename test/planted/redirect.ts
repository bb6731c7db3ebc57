/**
 * Lines of a program with the head turned another way over the same places of the part: what joints stand
 * where follows from the kinematics of the recount, which shares no code with the library. While the rotary
 * joints stand, the tip's place in the part is a shift and a matrix of the linear ones, so three more stands
 * tell which values of theirs bring it back.
 */
import { type Vec, type File } from '../recount/chain.js';
import { Tip } from '../recount/program.js';
import { sampleJson } from '../support/jobs.js';
import type { Text } from './text.js';

/** In the order of `Text.rows`: X Y Z A C. */
export type Stand = readonly number[];

const LETTERS = 'XYZAC';
/** As the sample machines write them. */
const DIGITS = 4;

export class Redirect {
  readonly #tip: Tip;
  readonly #order: readonly number[];

  constructor(machine = 'table-table-ac') {
    this.#tip = new Tip(sampleJson(`machines/${machine}.json`) as File);
    this.#order = this.#tip.chain.joints.map((j) => LETTERS.indexOf(j.letter));
  }

  /** Where the tip is over the part, and the direction up the head. */
  over(stand: Stand): { readonly tip: Vec; readonly up: Vec } {
    return this.#tip.over(this.#order.map((i) => stand[i]!));
  }

  /** The stand with other values of A and C and the tip at the same place of the part. */
  turned(stand: Stand, a: number, c: number): number[] {
    const { tip: goal } = this.over(stand);
    const at = (x: number, y: number, z: number): Vec => this.over([x, y, z, a, c]).tip;
    const zero = at(0, 0, 0);
    const columns = [at(1, 0, 0), at(0, 1, 0), at(0, 0, 1)].map((p) =>
      p.map((v, k) => v - zero[k]!),
    );
    // The columns are unit vectors square to each other: the inverse is the transpose.
    const by = goal.map((v, k) => v - zero[k]!);
    return [...columns.map((u) => u.reduce((sum, v, k) => sum + v * by[k]!, 0)), a, c];
  }

  /** Values of A and C that have the head along a direction, in the turn and on the side of others. */
  towards(up: Vec, [, , , a, c]: Stand): [number, number] {
    const tilt = (Math.acos(Math.min(1, up[2])) * 180) / Math.PI;
    const side = a! < 0 ? -tilt : tilt;
    if (tilt < 1e-6) return [0, c!];
    const azimuth = (v: Vec): number => (Math.atan2(v[1], v[0]) * 180) / Math.PI;
    const none = azimuth(this.over([0, 0, 0, side, 0]).up);
    const quarter = azimuth(this.over([0, 0, 0, side, 90]).up);
    const sense = Math.sign(Math.sin(((quarter - none) * Math.PI) / 180));
    const value = sense * (azimuth(up) - none);
    return [side, value + 360 * Math.round((c! - value) / 360)];
  }
}

/**
 * Lines from .. to with A and C as they are told from the stand of each; the tip stays on its way. The next
 * line that moves says every joint.
 */
export function redirected(
  text: Text,
  from: number,
  to: number,
  edit: (stand: Stand, line: number) => readonly [number, number],
): string[] {
  const redirect = new Redirect();
  let due = false;
  return text.lines.map((line, i) => {
    const moves = !line.startsWith('(') && /[XYZAC]-?\d/.test(line);
    if (!moves || i < from || (i >= to && !due)) return line;
    due = i < to;
    const { at } = text.rows[i]!;
    const stand = i < to ? redirect.turned(at, ...edit(at, i)) : at;
    const words = [2, 1, 0, 3, 4].map((k) => `${LETTERS[k]!}${stand[k]!.toFixed(DIGITS)}`);
    const rest = line
      .replace(/\([^)]*\)/g, '')
      .split(' ')
      .filter((w) => !/^[XYZAC]-?\d/.test(w));
    const codes = rest.filter((w) => w.startsWith('G'));
    return [...codes, ...words, ...rest.filter((w) => !w.startsWith('G'))].join(' ');
  });
}
