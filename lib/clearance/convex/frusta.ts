/**
 * Frusta about a body's own Z axis, for bounds that cost a few operations: how far a box is from them,
 * which point of one is nearest to a place, and which frusta contain given points turned about Z.
 */
import type { Frustum } from '../../machine/head.js';

/** Points turned about Z: the frusta under the upper hull of their radii over their heights. */
export function turned(points: Float64Array): Frustum[] {
  const at = Array.from({ length: points.length / 3 }, (_, i) => ({
    s: points[3 * i + 2]!,
    r: Math.hypot(points[3 * i]!, points[3 * i + 1]!),
  })).sort((a, b) => a.s - b.s || a.r - b.r);
  const kept: typeof at = [];
  for (const p of at) {
    if (kept.at(-1)?.s === p.s) kept.pop();
    while (kept.length > 1) {
      const [a, b] = [kept.at(-2)!, kept.at(-1)!];
      if ((b.r - a.r) * (p.s - a.s) > (p.r - a.r) * (b.s - a.s)) break;
      kept.pop();
    }
    kept.push(p);
  }
  return kept.slice(1).map((p, i) => ({
    low: kept[i]!.s,
    lowRadius: kept[i]!.r,
    high: p.s,
    highRadius: p.r,
  }));
}

/** Lower bound of the distance of a box from round pieces; 0 if there are none. */
export function roundGap(
  rounds: readonly Frustum[],
  cx: number,
  cy: number,
  cz: number,
  hx: number,
  hy: number,
  hz: number,
): number {
  if (rounds.length === 0) return 0;
  const x = Math.max(0, Math.abs(cx) - hx);
  const y = Math.max(0, Math.abs(cy) - hy);
  const r = Math.sqrt(x * x + y * y);
  let least = Infinity;
  for (const round of rounds) least = Math.min(least, profileGap(round, cz - hz, cz + hz, r));
  return least;
}

/** Distance from the heights from .. to at radius r to a round piece, in the plane of its profile. */
function profileGap(p: Frustum, from: number, to: number, r: number): number {
  const { low, lowRadius, high, highRadius } = p;
  const most = Math.max(lowRadius, highRadius);
  // Heights at which the piece is nearest to radius r: where it is as wide, else where it is widest.
  let a = low;
  let b = high;
  if (lowRadius !== highRadius) {
    const at = low + ((Math.min(r, most) - lowRadius) / (highRadius - lowRadius)) * (high - low);
    if (highRadius > lowRadius) a = Math.max(low, at);
    else b = Math.min(high, at);
  }
  const s = from > b ? from : to < a ? to : Math.max(a, from);
  const radius = lowRadius + ((s - low) / (high - low)) * (highRadius - lowRadius);
  if (s >= low && s <= high && r <= radius) return 0;
  const ends = s < low ? endGap(low - s, r - lowRadius) : endGap(s - high, r - highRadius);
  const [ds, dr] = [high - low, highRadius - lowRadius];
  const t = ((s - low) * ds + (r - lowRadius) * dr) / (ds * ds + dr * dr);
  const k = Math.min(1, Math.max(0, t));
  const [es, er] = [s - low - k * ds, r - lowRadius - k * dr];
  const flank = Math.sqrt(es * es + er * er);
  return s >= low && s <= high ? flank : Math.min(flank, ends);
}

/** Distance from a flat end of a piece: `over` beyond it, `out` beyond its rim. */
function endGap(over: number, out: number): number {
  const aside = Math.max(0, out);
  return Math.sqrt(over * over + aside * aside);
}

/** The point of a round piece's section nearest to radius r, height s: radius and height into `out`. */
export function nearestOnSection(p: Frustum, r: number, s: number, out: Float64Array): void {
  const { low, lowRadius, high, highRadius } = p;
  const [ds, dr] = [high - low, highRadius - lowRadius];
  const along = ((s - low) * ds + (r - lowRadius) * dr) / (ds * ds + dr * dr);
  const k = Math.min(1, Math.max(0, along));
  let least = Infinity;
  const take = (u: number, v: number): void => {
    const far = (u - r) ** 2 + (v - s) ** 2;
    if (far >= least) return;
    least = far;
    out[0] = u;
    out[1] = v;
  };
  take(lowRadius + k * dr, low + k * ds);
  take(Math.min(r, lowRadius), low);
  take(Math.min(r, highRadius), high);
}
