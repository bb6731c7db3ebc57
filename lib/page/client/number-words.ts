/** Numbers as text of the page. */

/** "1 h 5 min", "12 min 3 s", "4.2 s". */
export function duration(seconds: number): string {
  if (seconds < 60) return `${seconds.toFixed(1)} s`;
  const s = Math.round(seconds);
  const h = Math.floor(s / 3600);
  const m = Math.floor((s % 3600) / 60);
  return h ? `${h} h ${m} min` : `${m} min ${s % 60} s`;
}

/** "1:05:09" */
export function clock(seconds: number): string {
  const s = Math.floor(seconds);
  const two = (x: number): string => String(x).padStart(2, '0');
  return `${Math.floor(s / 3600)}:${two(Math.floor((s % 3600) / 60))}:${two(s % 60)}`;
}

/** Thin spaces between groups of three digits. */
export function count(n: number): string {
  return String(Math.round(n)).replace(/\B(?=(\d{3})+$)/g, '\u202f');
}

/** Rounded to the digits that are meaningful at this size. */
export function figure(x: number): string {
  const size = Math.abs(x);
  if (size < 5e-4) return '0';
  if (size >= 1000) return count(x);
  return x.toFixed(size >= 100 ? 0 : size >= 10 ? 1 : size >= 1 ? 2 : 3);
}

export const plural = (n: number, one: string, many = `${one}s`): string =>
  `${n === 1 ? 'one' : count(n)} ${n === 1 ? one : many}`;

/** Square and cubic units as they are set in text. */
export const typeset = (text: string): string =>
  text.replace(
    /\b([cm]m)([23])\b/g,
    (_, unit: string, power: string) => unit + (power === '2' ? '²' : '³'),
  );

/** Of a region's build direction, deg; of curved layers up to the greatest. */
export const tiltWords = ({
  tiltDeg,
  curved,
}: {
  readonly tiltDeg: number;
  readonly curved?: { readonly mostTiltDeg: number };
}): string => (curved ? `0 to ${curved.mostTiltDeg.toFixed(1)}` : tiltDeg.toFixed(1));
