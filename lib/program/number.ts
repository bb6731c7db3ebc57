/**
 * Numbers as RS-274 spells them: sign, digits, a point, digits; never an exponent, never "-0". A
 * value is a whole count of its last decimal, so that rounding happens once and comparing is exact.
 */

/** Powers of ten up to the most decimals that a machine file may ask for. */
const DECIMAL_POWERS = [1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6];

export const powerOfTen = (decimals: number): number => DECIMAL_POWERS[decimals]!;

/**
 * A count of 10^-decimals as fixed decimals, trailing zeros left out: 12500 with 4 decimals is
 * "1.25". The count must be whole and below 2^53, decimals 0 to 6.
 */
export function fixed(count: number, decimals: number): string {
  if (count === 0) return '0';
  const sign = count < 0 ? '-' : '';
  const size = Math.abs(count);
  const power = DECIMAL_POWERS[decimals]!;
  const whole = Math.floor(size / power);
  let rest = size - whole * power;
  if (rest === 0) return sign + whole;
  let places = decimals;
  while (rest % 10 === 0) {
    rest /= 10;
    places--;
  }
  return `${sign}${whole}.${String(rest).padStart(places, '0')}`;
}

/**
 * A feed with six significant digits and at most six decimals, so its relative error is below
 * 5e-6 from 0.1 up. `undefined` if nothing would be left of it.
 */
export function feedText(feed: number): string | undefined {
  let decimals = 6;
  for (let size = 1; decimals > 0 && feed >= size; size *= 10) decimals--;
  const count = Math.round(feed * DECIMAL_POWERS[decimals]!);
  return count > 0 ? fixed(count, decimals) : undefined;
}
