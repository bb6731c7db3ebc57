/** Numbers on the command line. */
import { Fault } from '../lib/base/fault.js';

/** @throws Fault `<area>/bad-value` naming flag, limits and what was given */
export function numberFrom(
  area: string,
  flag: string,
  text: string,
  [least, most]: readonly [number, number],
  whole = true,
): number {
  const value = Number(text);
  if (text.trim() !== '' && value >= least && value <= most && (!whole || Number.isInteger(value)))
    return value;
  const kind = whole ? 'a whole number' : 'a number';
  throw new Fault(`${area}/bad-value`, `${flag}: ${kind} from ${least} to ${most}, got ${text}`);
}

/**
 * "45,0,20,20": as many numbers as `names`, the last `optional` of which may be left out.
 * @throws Fault `<area>/bad-value`
 */
export function listFrom(
  area: string,
  flag: string,
  text: string,
  names: readonly string[],
  optional = 0,
): number[] {
  const values = text.split(',').map((t) => (t.trim() === '' ? NaN : Number(t)));
  const enough = values.length <= names.length && values.length >= names.length - optional;
  if (enough && values.every(Number.isFinite)) return values;
  throw new Fault(`${area}/bad-value`, `${flag}: ${names.join(',')} as numbers, got ${text}`);
}
