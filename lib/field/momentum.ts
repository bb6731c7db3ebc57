/**
 * Momentum for a step that is repeated until it changes nothing (Nesterov, Soviet Mathematics Doklady 27, 1983; the
 * weights of Beck and Teboulle, SIAM Journal on Imaging Sciences 2(1), 2009, in their simplest form k / (k + 3)):
 * the next step starts beyond the last result, as far as it came, so that n rounds go as far as some n^2 / 4 without.
 */

/** Moves what round `round` found on beyond what the one before found; `before` becomes what was found. */
export function moveOn(found: Float64Array, before: Float64Array, round: number): void {
  const share = round / (round + 3);
  for (let i = 0; i < found.length; i++) {
    const here = found[i]!;
    found[i] = here + share * (here - before[i]!);
    before[i] = here;
  }
}
