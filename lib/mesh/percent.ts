/** A share as people read it: 0.0234 becomes "2.3 %", 1 becomes "100 %". */
export function percent(share: number): string {
  const value = 100 * share;
  return `${value >= 9.95 ? value.toFixed(0) : Number(value.toPrecision(2))} %`;
}
