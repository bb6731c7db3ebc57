/**
 * The chi-squared distribution: how often a sum of squares of standard normal numbers is larger by chance.
 *
 * The upper tail for a whole number of degrees of freedom follows from that of one or two by the recurrence of
 * the incomplete gamma function (Abramowitz and Stegun 26.4.8): exact but for rounding. The tail for one degree
 * is that of the normal distribution, by the continued fraction (26.2.14) far out and the series (26.2.10) near
 * zero.
 */

/** @returns share of cases in which chi-squared with `freedom` degrees of freedom exceeds `value` */
export function chiSquaredTail(value: number, freedom: number): number {
  if (!(value > 0)) return 1;
  const half = value / 2;
  const odd = freedom % 2;
  let tail = odd ? normalTails(Math.sqrt(value)) : Math.exp(-half);
  // Terms x^a e^-x / gamma(a + 1), a = 1/2, 3/2 ... or 1, 2 ..., by their logarithms so that none overflows.
  let log = odd
    ? 0.5 * Math.log(half) - half - Math.log(Math.sqrt(Math.PI) / 2)
    : Math.log(half) - half;
  for (let n = odd ? 3 : 4, a = odd ? 0.5 : 1; n <= freedom; n += 2) {
    tail += Math.exp(log);
    a++;
    log += Math.log(half / a);
  }
  return Math.min(1, tail);
}

/** Both tails of the standard normal distribution beyond z > 0. */
function normalTails(z: number): number {
  const density = Math.exp((-z * z) / 2) / Math.sqrt(2 * Math.PI);
  if (z < 3) {
    let term = z;
    let sum = z;
    for (let k = 1; Math.abs(term) > 1e-17; k++) {
      term *= (z * z) / (2 * k + 1);
      sum += term;
    }
    return 1 - 2 * density * sum;
  }
  let fraction = 0;
  for (let k = 60; k > 0; k--) fraction = k / (z + fraction);
  return (2 * density) / (z + fraction);
}
