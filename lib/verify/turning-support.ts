/**
 * What lies under a bead that was laid while the head turned. The rule is the one of beads in levels (bead-support.ts):
 * a place is held where material of the layer below lies within h tan(theta) of it, measured square to the head. The
 * layer below is what the head's axis passes at about the bead's height under it (turning-heights.ts).
 */
import type { Vec3 } from '../base/vector.js';
import type { KnownPart, PiecePlace, Support } from './bead-support.js';
import { hangingWidth } from './hanging-width.js';
import type { LaidPieces } from './laid-pieces.js';

/** What is below is searched between these shares of the bead's height under it. */
const TURNED_FROM = 0.5;
const TURNED_TO = 1.75;
/** Beads of one layer lie at one height to within this share of it. */
const ONE_LAYER_SHARE = 0.4;
/** Beads that lie side by side touch but for rounding, mm: no slit between them is a gap. */
const TURNED_SLIT = 0.02;
/** Beads of one layer that lie against each other overlap, or are no farther apart than this, mm. */
const TURNED_TOUCH = 0.05;

export class TurningSupport implements Support {
  readonly #pieces: LaidPieces;
  readonly #part: KnownPart | undefined;
  readonly #onFace: (x: number, y: number) => boolean;
  /** Blocks of which a piece is carried. */
  readonly #carried = new Set<number>();
  /** Blocks near the piece that was asked for last. */
  #near: { readonly of: Vec3; readonly blocks: readonly number[] } | undefined;

  constructor(
    pieces: LaidPieces,
    part: KnownPart | undefined,
    onFace: (x: number, y: number) => boolean,
  ) {
    this.#pieces = pieces;
    this.#part = part;
    this.#onFace = onFace;
  }

  aim(): void {
    this.#near = undefined;
  }

  rests(place: PiecePlace, off: number): boolean {
    return this.#distance(place, off, TURNED_SLIT) <= TURNED_SLIT;
  }

  isCarried({ block }: PiecePlace): void {
    this.#carried.add(block);
  }

  isBeside(place: PiecePlace): boolean {
    const { halfWidth, height } = place;
    const d = axisOf(place);
    const level = ONE_LAYER_SHARE * height;
    return [halfWidth + TURNED_TOUCH, -halfWidth - TURNED_TOUCH].some((off) => {
      const q = pointOf(place, off);
      return this.#blocks(place).some((block) => {
        if (!this.#carried.has(block)) return false;
        const strip = this.#pieces.below(block, q, d, [-level, level]);
        return !!strip && strip.aside <= 0;
      });
    });
  }

  beyond(place: PiecePlace): number {
    const part = this.#part;
    if (!part) return 0;
    const { halfWidth, height } = place;
    const d = axisOf(place);
    const reach = height * Math.tan(part.theta);
    return hangingWidth(
      halfWidth,
      reach,
      (off) => this.#distance(place, off, reach),
      (off) => {
        const [x, y, z] = pointOf(place, off);
        const s = 1.5 * height;
        return !part.inside([x - s * d[0], y - s * d[1], z - s * d[2]]);
      },
    );
  }

  /** From a place on the underside to what lies under it, mm; a width and more where nothing does. */
  #distance(place: PiecePlace, off: number, reach: number): number {
    const { halfWidth, height } = place;
    const q = pointOf(place, off);
    const d = axisOf(place);
    let least = reach + 2 * halfWidth;
    const toTable = d[2] > 0 ? q[2] / d[2] : Infinity;
    if (toTable <= TURNED_TO * height) {
      const [x, y] = [q[0] - toTable * d[0], q[1] - toTable * d[1]];
      if (this.#onFace(x, y)) return 0;
    }
    for (const block of this.#blocks(place)) {
      const strip = this.#pieces.below(block, q, d, [TURNED_FROM * height, TURNED_TO * height]);
      if (strip && strip.aside < least) least = strip.aside;
    }
    return least;
  }

  #blocks(place: PiecePlace): readonly number[] {
    const { p, block, halfWidth, height } = place;
    const of: Vec3 = [p[0]!, p[1]!, p[2]!];
    const known = this.#near;
    if (known && known.of.every((x, c) => x === of[c])) return known.blocks;
    const reach = height * Math.tan(this.#part?.theta ?? 0);
    const blocks = this.#pieces.near(of, halfWidth + reach + TURNED_TO * height, block);
    this.#near = { of, blocks };
    return blocks;
  }
}

const axisOf = ({ d }: PiecePlace): Vec3 => [d[0]!, d[1]!, d[2]!];

const pointOf = ({ p, u }: PiecePlace, off: number): Vec3 => [
  p[0]! + off * u[0]!,
  p[1]! + off * u[1]!,
  p[2]! + off * u[2]!,
];
