/**
 * Which pieces of a bead hang, given which of them are carried. In the open, where the part has nothing
 * below, a place hangs that is farther out than the self-supporting angle reaches, unless a bridge carries
 * it: a straight stretch between two carried places, no longer than the longest span and a bead's width more.
 * Over the inside of the part, between beads of fill, a piece that is not carried hangs whole, unless its
 * stretch is straight, lies between two carried places and is no longer than FILL_GAP; no longer than the
 * bead is wide it may turn, or end. The check counts by the same rule and shares no code with this.
 */

/** Longest straight stretch between beads of fill, mm (common practice, no source). */
const FILL_GAP = 10;
/** Gaps up to this many widths are no spans, wherever they are (common practice, no source). */
const GAPS = 2;

/** A short piece of a bead, by its middle. */
export interface Piece {
  readonly x: number;
  readonly y: number;
  /** mm */
  readonly length: number;
  readonly width: number;
  /** Whether a fifth of its width lies on something. */
  readonly carried: boolean;
  /** What of it hangs in the open, mm2. */
  readonly air: number;
  /** Whether the part is below; asked for pieces alone that are not carried. */
  readonly inside: () => boolean;
}

/** Whether either end of an open bead runs into one of its layer that does not hang. */
export interface Ends {
  readonly begin: () => boolean;
  readonly end: () => boolean;
}

/** mm2 of each piece that hang. @param loop whether the bead ends where it begins */
export function hangingPieces(
  pieces: readonly Piece[],
  loop: boolean,
  ends: Ends,
  bridge: number,
): Float64Array {
  const out = Float64Array.from(pieces, (p) => (p.carried ? p.air : 0));
  const n = pieces.length;
  const first = pieces.findIndex((p) => p.carried);
  // A loop that is held where it begins is as good as an open bead that is held at both ends.
  const round = loop && !ends.begin();
  if (first < 0 && (round || !(ends.begin() || ends.end()))) {
    settle(pieces, out, range(0, n), { air: true, fill: true });
    return out;
  }
  // A loop is gone through from its first carried piece on, an open bead from its begin.
  const from = round ? first : 0;
  let at = 0;
  while (at < n) {
    const start = at;
    while (at < n && !pieces[(from + at) % n]!.carried) at++;
    if (at > start) {
      const which = range(start, at).map((i) => (from + i) % n);
      const held = round || ((start > 0 || ends.begin()) && (at < n || ends.end()));
      settle(
        pieces,
        out,
        which,
        verdict(
          which.map((i) => pieces[i]!),
          held,
          bridge,
        ),
      );
    }
    at++;
  }
  return out;
}

interface Verdict {
  readonly air: boolean;
  readonly fill: boolean;
}

function verdict(stretch: readonly Piece[], held: boolean, bridge: number): Verdict {
  const length = stretch.reduce((sum, p) => sum + p.length, 0);
  const { width } = stretch[0]!;
  if (!held) return { air: true, fill: length > width };
  const straight = isStraight(stretch, width / 2);
  if (straight && bridge > 0 && length <= bridge + width) return { air: false, fill: false };
  if (length <= width) return { air: true, fill: false };
  if (!straight) return { air: true, fill: true };
  const last = stretch.length - 1;
  const over = [0, last >> 1, last].every((i) => stretch[i]!.inside());
  const gap = Math.max(bridge, GAPS * width, over ? FILL_GAP : 0);
  return { air: true, fill: length > gap + width };
}

function settle(
  pieces: readonly Piece[],
  out: Float64Array,
  which: readonly number[],
  hangs: Verdict,
): void {
  for (const i of which) {
    const p = pieces[i]!;
    if (p.air > 0) out[i] = hangs.air ? p.air : 0;
    else if (hangs.fill && p.inside()) out[i] = p.length * p.width;
  }
}

/** Whether no piece is farther than `within` from the line between the first and the last, mm. */
function isStraight(stretch: readonly Piece[], within: number): boolean {
  const [a, b] = [stretch[0]!, stretch.at(-1)!];
  const [dx, dy] = [b.x - a.x, b.y - a.y];
  const size = Math.hypot(dx, dy);
  if (size === 0) return stretch.length === 1;
  return stretch.every((p) => Math.abs((p.x - a.x) * dy - (p.y - a.y) * dx) <= within * size);
}

const range = (from: number, to: number): number[] =>
  Array.from({ length: to - from }, (_, i) => from + i);
