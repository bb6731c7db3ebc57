/** Values as people read them in a message of one line. */

/** A share as people read it: 0.0234 becomes "2.3 %", 1 becomes "100 %". */
export function percent(share: number): string {
  const value = 100 * share;
  return `${value >= 9.95 ? value.toFixed(0) : Number(value.toPrecision(2))} %`;
}

/** Text of an input as a message may show it: printable ASCII, clipped. */
export function printable(text: string, most = 80): string {
  const clean = text.replace(/[^\x20-\x7e]/g, '?');
  return clean.length > most ? `${clean.slice(0, most - 3)}...` : clean;
}
