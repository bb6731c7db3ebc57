/**
 * Numbers on the command line and in tables of readings: plain decimals, as RS-274 spells them. JavaScript
 * takes more for a number than a person means by one: "1e3", "0x10", "" and " 1 ".
 */
import { Fault } from '../lib/base/fault.js';

const PLAIN = /^[+-]?(?:\d+\.?\d*|\.\d+)$/;

/** NaN if the text is no plain decimal. */
export const plainNumber = (text: string): number => (PLAIN.test(text) ? Number(text) : NaN);

/** What to say after a number that is given in another spelling. */
export const spelling = (text: string): string =>
  text.trim() !== '' && !PLAIN.test(text) && Number.isFinite(Number(text))
    ? '; write it as a plain decimal such as 0.25, without an exponent'
    : '';

/** @throws Fault `<area>/bad-value` naming flag, limits and what was given */
export function numberFrom(
  area: string,
  flag: string,
  text: string,
  [least, most]: readonly [number, number],
  whole = true,
): number {
  const value = plainNumber(text);
  if (value >= least && value <= most && (!whole || Number.isInteger(value))) return value;
  const kind = whole ? 'a whole number' : 'a number';
  throw new Fault(
    `${area}/bad-value`,
    `${flag}: ${kind} from ${least} to ${most}, got ${text}${spelling(text)}`,
  );
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
  const values = text.split(',').map((t) => plainNumber(t.trim()));
  const enough = values.length <= names.length && values.length >= names.length - optional;
  if (enough && values.every(Number.isFinite)) return values;
  throw new Fault(
    `${area}/bad-value`,
    `${flag}: ${names.join(',')} as plain decimals, got ${text}`,
  );
}
