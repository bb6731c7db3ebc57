/**
 * How much wider an uncertainty must be stated when it rests on few readings, so that three of it hold as
 * often as three standard deviations of a normal distribution (99.73 %): a third of the quantile of
 * Student's t (GUM, JCGM 100:2008, annex G.3 and table G.2). The quantile is the expansion of Abramowitz
 * and Stegun 26.7.5 at z = 3.
 */
export function widening(freedom: number): number {
  const z = 3;
  const n = freedom;
  const terms = [
    (z ** 3 + z) / 4,
    (5 * z ** 5 + 16 * z ** 3 + 3 * z) / 96,
    (3 * z ** 7 + 19 * z ** 5 + 17 * z ** 3 - 15 * z) / 384,
    (79 * z ** 9 + 776 * z ** 7 + 1482 * z ** 5 - 1920 * z ** 3 - 945 * z) / 92160,
  ];
  return (z + terms.reduce((sum, t, k) => sum + t / n ** (k + 1), 0)) / z;
}
