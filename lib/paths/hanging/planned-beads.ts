/**
 * What of a region's planned beads hangs: the layers' figure, counted from the beads that fill them.
 *
 * One rule for plan and check. A place of a bead's underside is held where material lies under it, or the
 * table, no farther aside than h tan(theta) (h the bead's height, theta the steepest self-supporting angle)
 * and no deeper than three quarters of the bead's height. What is not held hangs by its area where the part
 * has nothing below; over the inside of the part a bead is carried where a fifth of its width lies on
 * something, and what is not carried may be a straight gap of the fill, or turn against a bead of its own
 * layer that is carried there (stretches.ts).
 * Sections alone do not see what is missing: gaps of sparse fill, slivers that no bead fills, the corners of
 * the staircase at the rim of a leaning base. So what is below is taken as it is laid: the beads one layer
 * lower, exactly, and near the base those of earlier regions where they stand (beads-below.ts).
 *
 * A program states no heights, so the check takes the first layer of a region on a base to be as high as the
 * region's layers usually are, and its beads as wide as they then would be; so does this count.
 *
 * Where the sections leave nothing and no base is near, nothing hangs in the open, and only the fill is
 * examined. Linear in the length of the beads.
 */
import { noPolygons } from '../../polygon/polygons.js';
import type { Layers } from '../../layers/layers.js';
import { toPart } from '../../layers/layer-map.js';
import type { HangingPlace } from '../../layers/unsupported.js';
import { type EdgeGrid, contains, gridOf } from '../../polygon/edge-grid.js';
import { loopsOf } from '../../polygon/loops.js';
import { type LowerBeads, LowerIndex } from './beads-below.js';
import { PathKind, type Paths } from '../paths.js';
import { type BeadPiece, hangingPieces } from './stretches.js';
import { BeadStrips, halfStrip } from './strips.js';

export interface HangingInput {
  readonly region: number;
  readonly layers: Layers;
  readonly paths: Paths;
  readonly lower: LowerBeads;
  /** For each layer 1 where its sections leave something or the base is near. */
  readonly open: Uint8Array;
  readonly onTable: boolean;
  /** Steepest self-supporting angle, rad. */
  readonly theta: number;
  /** Longest span, mm. */
  readonly bridge: number;
}

/** Pieces are no longer than this, mm: they are looked at in their middles, and may lie on a bead across that is no wider. */
const LONGEST_PIECE = 0.3;
/** Samples across a bead, as shares of half its width: for what carries it, and for what is in the open. */
const ON = [-0.8, -0.4, 0, 0.4, 0.8] as const;
const SAMPLES_ACROSS = [-1, -0.6, -0.2, 0.2, 0.6, 1] as const;
/** Strips narrower than this are rounding, mm. */
const NARROW = 0.012;
/** Where earlier regions are looked for, in heights under the bead's upper side. */
const DEPTHS = [1.25, 1.5, 1.75] as const;
/** They are looked for at so many places on a circle about a sample. */
const PLACES_AROUND = 12;
/** Their edge between two samples is found to this many halvings. */
const EDGE_HALVINGS = 5;
/** Where a bead's round end is tested against beads of its layer, rad from its way, and the margin, mm. */
const TURNS = [0, 0.8, -0.8, 1.6, -1.6] as const;
const END_TOUCH = 0.05;

/** What hangs of each layer's beads, one place per bead. */
export function hangingBeads(input: HangingInput): HangingPlace[] {
  const { layers, paths, region } = input;
  const lower = new LowerIndex(input.lower);
  const out: HangingPlace[] = [];
  let below = new BeadStrips();
  let at = 0;
  for (let layer = 0; layer < layers.top.length; layer++) {
    const judge = new LayerJudge(input, layer, below, lower);
    const from = at;
    while (at + 1 < paths.start.length && paths.layer[at] === layer) {
      const { mm2, overFillMm2, x, y } = judge.bead(at++);
      if (mm2 > 0) {
        const point = toPart(layers.map, [x, y, layers.top[layer]!]);
        out.push({ region, layer, point, mm2, overFillMm2 });
      }
    }
    below = judge.strips(from, at);
  }
  return out;
}

type VisitStretch = (x0: number, y0: number, x1: number, y1: number, half: number) => void;

function eachStretch(paths: Paths, p: number, visit: VisitStretch): void {
  const q = paths.points;
  for (let i = paths.start[p]! + 1; i < paths.start[p + 1]!; i++) {
    const [x0, y0, x1, y1] = [q[3 * i - 3]!, q[3 * i - 2]!, q[3 * i]!, q[3 * i + 1]!];
    if (x0 !== x1 || y0 !== y1) visit(x0, y0, x1, y1, halfStrip(paths, p, i));
  }
}

/** Thickness of most of what a region lays, by length, mm. */
function usualThickness({ layers, paths }: HangingInput): number {
  const { thickness } = layers;
  const length = new Float64Array(thickness.length);
  for (let p = 0; p + 1 < paths.start.length; p++) {
    eachStretch(paths, p, (x0, y0, x1, y1) => {
      length[paths.layer[p]!]! += Math.hypot(x1 - x0, y1 - y0);
    });
  }
  const order = [...thickness.keys()].sort((a, b) => thickness[a]! - thickness[b]!);
  const half = length.reduce((sum, l) => sum + l, 0) / 2;
  let sum = 0;
  return thickness[order.find((k) => (sum += length[k]!) >= half) ?? 0]!;
}

/** What hangs of one bead, and where most of it does, layer space. */
interface HangingSum {
  readonly mm2: number;
  readonly overFillMm2: number;
  readonly x: number;
  readonly y: number;
}

const NOTHING_HANGS: HangingSum = { mm2: 0, overFillMm2: 0, x: 0, y: 0 };

class LayerJudge {
  readonly #input: HangingInput;
  readonly #layer: number;
  readonly #below: BeadStrips;
  readonly #lower: LowerIndex;
  /** Beads of this layer that are laid, and pieces of them that hang. */
  readonly #laid = new BeadStrips();
  readonly #hung = new BeadStrips();
  /** Pieces of them that are carried from below. */
  readonly #firm = new BeadStrips();
  readonly #h: number;
  /** By how much beads are wider than they would be at that height. */
  readonly #widened: number;
  readonly #reach: number;
  #part: EdgeGrid | undefined;

  constructor(input: HangingInput, layer: number, below: BeadStrips, lower: LowerIndex) {
    this.#input = input;
    this.#layer = layer;
    this.#below = below;
    this.#lower = lower;
    const { thickness } = input.layers;
    this.#h = layer === 0 && !input.onTable ? usualThickness(input) : thickness[layer]!;
    this.#widened = thickness[layer]! / this.#h;
    this.#reach = this.#h * Math.tan(input.theta);
  }

  /** Beads of the layer, as they lie under the next one. */
  strips(from: number, to: number): BeadStrips {
    const strips = new BeadStrips();
    for (let p = from; p < to; p++) this.#each(p, (...s) => strips.add(...s));
    return strips;
  }

  #each(p: number, visit: VisitStretch): void {
    const { paths } = this.#input;
    eachStretch(paths, p, (x0, y0, x1, y1, half) => visit(x0, y0, x1, y1, half * this.#widened));
  }

  bead(p: number): HangingSum {
    const { paths, bridge, onTable } = this.#input;
    if ((this.#layer === 0 && onTable) || paths.kind[p] === PathKind.brim) {
      this.#each(p, (...s) => this.#laid.add(...s));
      return NOTHING_HANGS;
    }
    const pieces: BeadPiece[] = [];
    const ways: (readonly [number, number])[] = [];
    this.#each(p, (x0, y0, x1, y1, half) => {
      const size = Math.hypot(x1 - x0, y1 - y0);
      const [tx, ty] = [(x1 - x0) / size, (y1 - y0) / size];
      const count = Math.ceil(size / LONGEST_PIECE);
      for (let n = 0; n < count; n++) {
        const s = ((n + 0.5) / count) * size;
        pieces.push(this.#piece(x0 + s * tx, y0 + s * ty, tx, ty, half, size / count));
        ways.push([tx, ty]);
      }
    });
    if (pieces.length === 0) return NOTHING_HANGS;
    const [a, b] = [3 * paths.start[p]!, 3 * (paths.start[p + 1]! - 1)];
    const q = paths.points;
    const loop = Math.hypot(q[a]! - q[b]!, q[a + 1]! - q[b + 1]!) <= pieces[0]!.width;
    const held =
      (i: number, piece: BeadPiece, [tx, ty]: readonly [number, number], sense: number) =>
      () =>
        this.#endHeld(q[i]!, q[i + 1]!, sense * tx, sense * ty, piece.width / 2);
    const hangs = hangingPieces(
      pieces,
      loop,
      { begin: held(a, pieces[0]!, ways[0]!, -1), end: held(b, pieces.at(-1)!, ways.at(-1)!, 1) },
      bridge,
    );
    let most = 0;
    let mm2 = 0;
    let overFillMm2 = 0;
    pieces.forEach(({ x, y, length, width, carried, air }, i) => {
      mm2 += hangs[i]!;
      if (!(air > 0)) overFillMm2 += hangs[i]!;
      if (hangs[i]! > hangs[most]!) most = i;
      if (carried || !(hangs[i]! > 0)) return;
      const [tx, ty] = ways[i]!.map((c) => (c * length) / 2) as [number, number];
      this.#hung.add(x - tx, y - ty, x + tx, y + ty, width / 2);
    });
    this.#each(p, (...s) => this.#laid.add(...s));
    return { mm2, overFillMm2, x: pieces[most]!.x, y: pieces[most]!.y };
  }

  #piece(x: number, y: number, tx: number, ty: number, half: number, length: number): BeadPiece {
    const place = (share: number): [number, number] => [
      x - share * half * ty,
      y + share * half * tx,
    ];
    const on = ON.filter((share) => this.#isOn(...place(share))).length;
    const open = on < ON.length && this.#input.open[this.#layer] === 1;
    const air = open ? length * this.#beyond(place, half) : 0;
    const inside = (): boolean => this.#overPart(x, y);
    const carried = on > 0;
    const flank = 1 + END_TOUCH / half;
    const beside = !carried && [flank, -flank].some((s) => this.#firm.holds(...place(s)));
    if (carried) {
      const [dx, dy] = [(tx * length) / 2, (ty * length) / 2];
      this.#firm.add(x - dx, y - dy, x + dx, y + dy, half);
    }
    return { x, y, length, width: 2 * half, carried, beside, air, inside };
  }

  #isOn(x: number, y: number): boolean {
    return this.#below.holds(x, y) || this.#onLower(x, y);
  }

  #onLower(x: number, y: number): boolean {
    const top = this.#input.layers.top[this.#layer]!;
    return DEPTHS.some((s) => this.#lower.holds(x, y, top - s * this.#h));
  }

  /** mm of the width of a piece that nothing holds and that is in the open. */
  #beyond(place: (share: number) => [number, number], half: number): number {
    const over = SAMPLES_ACROSS.map((share) => this.#distance(...place(share), half) - this.#reach);
    if (Math.max(...over) <= NARROW) return 0;
    const isOpen = (i: number): boolean =>
      over[i]! > 0 && !this.#overPart(...place(SAMPLES_ACROSS[i]!));
    const last = SAMPLES_ACROSS.length - 1;
    const whole = over.every((far) => far > 0);
    const left = isOpen(whole ? last >> 1 : 0);
    const right = whole ? left : isOpen(last);
    // A strip on either side, from its edge as far as it goes; between them the nearer side answers.
    const leftEnd = over.findIndex((far) => far <= 0);
    const rightBegin = over.findLastIndex((far) => far <= 0);
    let width = 0;
    for (let i = 0; i < last; i++) {
      const onLeft = i < leftEnd || (i < rightBegin && i < last / 2);
      if (!(onLeft ? left : right)) continue;
      const out = this.#shareOut(place, half, over, i);
      width += (SAMPLES_ACROSS[i + 1]! - SAMPLES_ACROSS[i]!) * half * out;
    }
    return width > NARROW ? width : 0;
  }

  /** Share of the way between two samples on which nothing holds the bead. */
  #shareOut(
    place: (share: number) => [number, number],
    half: number,
    over: readonly number[],
    i: number,
  ): number {
    const [a, b] = [over[i]!, over[i + 1]!];
    const held = Math.min(a, b);
    // How far inside an earlier region a place lies is not known, so its edge is looked for.
    if (held > -this.#reach || Math.max(a, b) <= 0) return positiveShare(a, b);
    let [inside, outside]: [number, number] =
      a < b
        ? [SAMPLES_ACROSS[i]!, SAMPLES_ACROSS[i + 1]!]
        : [SAMPLES_ACROSS[i + 1]!, SAMPLES_ACROSS[i]!];
    for (let n = 0; n < EDGE_HALVINGS; n++) {
      const middle = (inside + outside) / 2;
      if (this.#distance(...place(middle), half) > this.#reach) outside = middle;
      else inside = middle;
    }
    const out = Math.abs(
      (a < b ? SAMPLES_ACROSS[i + 1]! : SAMPLES_ACROSS[i]!) - (inside + outside) / 2,
    );
    return out / (SAMPLES_ACROSS[i + 1]! - SAMPLES_ACROSS[i]!);
  }

  #distance(x: number, y: number, half: number): number {
    const own = this.#below.distance(x, y, this.#reach + 2 * half, this.#reach);
    if (own <= this.#reach) return own;
    if (this.#onLower(x, y)) return 0;
    for (let i = 0; i < PLACES_AROUND; i++) {
      const angle = (2 * Math.PI * i) / PLACES_AROUND;
      if (this.#onLower(x + this.#reach * Math.cos(angle), y + this.#reach * Math.sin(angle)))
        return 0;
    }
    return own;
  }

  /** Whether the part has material in the middle of the layer below. */
  #overPart(x: number, y: number): boolean {
    this.#part ??= gridOf(this.#partBelow());
    return contains(this.#part, x, y);
  }

  #partBelow(): ReturnType<typeof loopsOf> {
    const { around, aroundStart, beneath, beneathStart } = this.#input.layers;
    const k = this.#layer - 1;
    if (k >= 0) return loopsOf(around, aroundStart[k]!, aroundStart[k + 1]!);
    return beneathStart.length > 1 ? loopsOf(beneath, 0, beneathStart[1]!) : noPolygons;
  }

  /** Whether a bead's end lies on something, or runs into one of its layer that does not hang. */
  #endHeld(x: number, y: number, tx: number, ty: number, half: number): boolean {
    const on = ON.some((share) => this.#isOn(x - share * half * ty, y + share * half * tx));
    if (on) return true;
    return TURNS.some((turn) => {
      const [c, s] = [(half + END_TOUCH) * Math.cos(turn), (half + END_TOUCH) * Math.sin(turn)];
      const [px, py] = [x + c * tx - s * ty, y + c * ty + s * tx];
      return this.#laid.holds(px, py) && !this.#hung.holds(px, py);
    });
  }
}

/** Share of an interval on which a value that is linear from a to b is positive. */
function positiveShare(a: number, b: number): number {
  if (a >= 0 && b >= 0) return 1;
  if (a <= 0 && b <= 0) return 0;
  return Math.max(a, b) / Math.abs(a - b);
}
