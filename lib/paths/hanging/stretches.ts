/**
 * Which pieces of a bead hang, given which of them are carried. In the open, where the part has nothing
 * below, a place hangs that is farther out than the self-supporting angle reaches, unless a bridge
 * carries it: a straight stretch between two carried places, no longer than the longest span and a
 * bead's width more. Over the inside of the part, between beads of fill, a piece that is not carried
 * hangs whole, unless its stretch is straight, lies between two places that hold it and is no longer
 * than FILL_GAP; no longer than the bead is wide it may turn, or end. A place is held there if it is
 * carried, or lies against a bead of its own layer that is carried just there: so lines of a cap turn
 * along a contour, welded to it, also where the wall leans and the contour below lies a little farther
 * out. The check counts by the same rule and shares no code with this.
 */

/** Longest straight stretch between beads of fill, mm (common practice, no source). */
const FILL_GAP = 10;
/** Gaps up to this many widths are no spans, wherever they are (common practice, no source). */
const GAPS = 2;

/** A short piece of a bead, by its middle. */
export interface BeadPiece {
  readonly x: number;
  readonly y: number;
  /** mm */
  readonly length: number;
  readonly width: number;
  /** Whether a fifth of its width lies on something. */
  readonly carried: boolean;
  /** Whether it lies against a bead of its layer that is carried there. */
  readonly beside: boolean;
  /** What of it hangs in the open, mm2. */
  readonly air: number;
  /** Whether the part is below; called only for pieces that are not carried. */
  readonly inside: () => boolean;
}

/** Whether either end of an open bead runs into one of its layer that does not hang. */
export interface BeadEnds {
  readonly begin: () => boolean;
  readonly end: () => boolean;
}

/** mm2 of each piece that hang. @param loop whether the bead ends where it begins */
export function hangingPieces(
  pieces: readonly BeadPiece[],
  loop: boolean,
  ends: BeadEnds,
  bridge: number,
): Float64Array {
  const out = Float64Array.from(pieces, (p) => (p.carried ? p.air : 0));
  const n = pieces.length;
  const first = pieces.findIndex((p) => p.carried);
  // A loop that is held where it begins counts as an open bead that is held at both ends.
  const round = loop && !ends.begin();
  if (first < 0 && (round || !(ends.begin() || ends.end()))) {
    settle(pieces, out, range(0, n), { begin: false, end: false }, bridge);
    return out;
  }
  // A loop is traversed from its first carried piece, an open bead from its start.
  const from = round ? first : 0;
  let at = 0;
  while (at < n) {
    const start = at;
    while (at < n && !pieces[(from + at) % n]!.carried) at++;
    if (at > start) {
      const which = range(start, at).map((i) => (from + i) % n);
      const begin = round || start > 0 || ends.begin();
      const end = round || at < n || ends.end();
      settle(pieces, out, which, { begin, end }, bridge);
    }
    at++;
  }
  return out;
}

/** Whether a stretch is held where it begins and where it ends. */
interface HeldEnds {
  readonly begin: boolean;
  readonly end: boolean;
}

function settle(
  pieces: readonly BeadPiece[],
  out: Float64Array,
  which: readonly number[],
  held: HeldEnds,
  bridge: number,
): void {
  const stretch = which.map((i) => pieces[i]!);
  const bridged = held.begin && held.end && bridge > 0 && isStretch(stretch, bridge);
  const fill = hangsOverFill(stretch, held, bridge);
  which.forEach((i, n) => {
    const p = pieces[i]!;
    if (p.air > 0) out[i] = bridged ? 0 : p.air;
    else if (fill[n] && !bridged && p.inside()) out[i] = p.length * p.width;
  });
}

/** For each piece of a stretch whether it hangs between beads of fill, by the parts between held places. */
function hangsOverFill(stretch: readonly BeadPiece[], held: HeldEnds, bridge: number): boolean[] {
  const out: boolean[] = [];
  while (out.length < stretch.length) {
    const from = out.length;
    const { beside } = stretch[from]!;
    let to = from + 1;
    while (to < stretch.length && stretch[to]!.beside === beside) to++;
    const part = stretch.slice(from, to);
    const ends = { begin: from > 0 || held.begin, end: to < stretch.length || held.end };
    const hangs = beside ? lengthOf(part) > FILL_GAP : partHangs(part, ends, bridge);
    for (let i = from; i < to; i++) out.push(hangs);
  }
  return out;
}

function partHangs(part: readonly BeadPiece[], { begin, end }: HeldEnds, bridge: number): boolean {
  if (!begin && !end) return true;
  const { width } = part[0]!;
  if (lengthOf(part) <= width) return false;
  const last = part.length - 1;
  const over = [0, last >> 1, last].every((i) => part[i]!.inside());
  return !begin || !end || !isStretch(part, Math.max(bridge, GAPS * width, over ? FILL_GAP : 0));
}

const lengthOf = (pieces: readonly BeadPiece[]): number =>
  pieces.reduce((sum, p) => sum + p.length, 0);

/** Whether pieces lie straight and span at most `most` mm and a width, as their ends are half a width off. */
const isStretch = (pieces: readonly BeadPiece[], most: number): boolean =>
  lengthOf(pieces) <= most + pieces[0]!.width && isStraight(pieces, pieces[0]!.width / 2);

/** Whether no piece is farther than `within` from the line between the first and the last, mm. */
function isStraight(stretch: readonly BeadPiece[], within: number): boolean {
  const [a, b] = [stretch[0]!, stretch.at(-1)!];
  const [dx, dy] = [b.x - a.x, b.y - a.y];
  const size = Math.hypot(dx, dy);
  if (size === 0) return stretch.length === 1;
  return stretch.every((p) => Math.abs((p.x - a.x) * dy - (p.y - a.y) * dx) <= within * size);
}

const range = (from: number, to: number): number[] =>
  Array.from({ length: to - from }, (_, i) => from + i);
