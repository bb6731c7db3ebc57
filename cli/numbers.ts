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
