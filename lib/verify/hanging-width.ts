/**
 * How much of a bead's width hangs: across the bead the distance to what holds it changes by no more than the distance
 * moved, so it is taken at SUPPORT_SAMPLES and interpolated linearly; the edge of what is known only as held or not is
 * found by bisection.
 */
/** Places across a bead, as shares of half its width. */
const SUPPORT_SAMPLES = [-1, -0.6, -0.2, 0.2, 0.6, 1] as const;
/** Strips narrower than this are rounding of the program and of simplified outlines, mm. */
const NARROW = 0.012;
/** Halvings by which an edge between two samples is found. */
const EDGE_HALVINGS = 5;

/**
 * mm of a width that nothing holds and that is over air.
 * @param reach how far from what holds it a place may lie, mm
 * @param distance from a place across the bead to what holds it, mm; 0 where it is only known that something does
 * @param isOpen whether there is air under such a place
 */
export function hangingWidth(
  halfWidth: number,
  reach: number,
  distance: (off: number) => number,
  isOpen: (off: number) => boolean,
): number {
  const over = SUPPORT_SAMPLES.map((share) => distance(share * halfWidth) - reach);
  const most = Math.max(...over);
  if (most <= NARROW) return 0;
  const open = (i: number): boolean => over[i]! > 0 && isOpen(SUPPORT_SAMPLES[i]! * halfWidth);
  const last = SUPPORT_SAMPLES.length - 1;
  // A strip on either side, from its edge as far as it goes, each asked for once; what hangs as a whole by
  // its middle. Between them the nearer side answers.
  const whole = over.every((x) => x > 0);
  const left = whole ? open(last >> 1) : open(0);
  const right = whole ? left : open(last);
  if (!left && !right) return 0;
  const leftEnd = over.findIndex((x) => x <= 0);
  const rightBegin = over.findLastIndex((x) => x <= 0);
  let width = 0;
  for (let i = 0; i < last; i++) {
    const onLeft = i < leftEnd || (i < rightBegin && i < last / 2);
    const side = onLeft ? left : right;
    const step = (SUPPORT_SAMPLES[i + 1]! - SUPPORT_SAMPLES[i]!) * halfWidth;
    if (side) width += step * bare(over, i, reach, halfWidth, distance);
  }
  return width > NARROW ? width : 0;
}

/** Share of the way from one sample to the next that nothing holds. */
function bare(
  over: readonly number[],
  i: number,
  reach: number,
  halfWidth: number,
  distance: (off: number) => number,
): number {
  const [a, b] = [over[i]!, over[i + 1]!];
  // Of what was laid in another direction it is only known that it holds, not how far its edge is.
  if (Math.min(a, b) > -reach || Math.max(a, b) <= 0) return positive(a, b);
  let [low, high] = [0, 1];
  for (let n = 0; n < EDGE_HALVINGS; n++) {
    const t = (low + high) / 2;
    const off =
      (SUPPORT_SAMPLES[i]! + t * (SUPPORT_SAMPLES[i + 1]! - SUPPORT_SAMPLES[i]!)) * halfWidth;
    if (distance(off) > reach === b > a) high = t;
    else low = t;
  }
  const edge = (low + high) / 2;
  return b > a ? 1 - edge : edge;
}

/** Mean of the positive part of what changes linearly from a to b. */
function positive(a: number, b: number): number {
  if (a >= 0 && b >= 0) return 1;
  if (a <= 0 && b <= 0) return 0;
  const most = Math.max(a, b);
  return most / (most - Math.min(a, b));
}
