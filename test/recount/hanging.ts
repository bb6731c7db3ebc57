/**
 * What hangs of beads whose head turns, by brute force: all that is laid is kept as points throughout its
 * beads, and from places across each bead its own axis is followed down by its height. A place is held where
 * a point of a layer before, or the table, lies there within height times tan 45 deg, measured square to the
 * axis. What is not held, and has nothing of the part under it, hangs in the open, area by area. Where
 * nothing lies straight under a bead in its whole width and the part is under it, it lies over gaps of the
 * fill: there it hangs as a whole, but for straight stretches of up to 10 mm between two places that hold
 * it, as the guide has it (Where beads hang).
 *
 * Layers are those of the program's marks, so nothing here guesses from depths what is of the own layer.
 */
import {
  type Beads,
  type Frame,
  distance,
  dot,
  frameOf,
  minus,
  offLine,
  shifted,
} from './beads.js';
import type { Vec } from './chain.js';
import type { Moves } from './program.js';

export interface Hanging {
  /** mm2 */
  readonly open: number;
  readonly overFill: number;
  /** Of the same, where it hangs: line of the program, mm2, and 1 if that is in the open. */
  readonly places: readonly HangingPlace[];
}

export interface HangingPlace {
  readonly line: number;
  readonly at: Vec;
  readonly mm2: number;
  readonly open: boolean;
}

/** What is under a place is taken so deep under the tip, in heights of the bead. */
const UNDER = 1.5;
/** Upper sides of what carries a bead lie between these shares of its height under it. */
const HIGH = 0.5;
const LOW = 1.6;
/** Points halfway up such beads lie no deeper, in the same heights: beads are at most twice as high as others. */
const DEEP = 2.6;
/** Beads of one layer lie at one height to within this share of it. */
const LEVEL = 0.5;
/** Pieces along a bead, and points throughout it, mm; places across it. */
const ALONG = 0.2;
const POINTS = 0.1;
const ACROSS = 16;
/** Straight under a place is what is no farther beside its axis, mm: points are as far apart. */
const STRAIGHT = 0.06;
/** Share of a bead's width, about its middle, in which something must be straight under it. */
const MIDDLE = 0.8;
/** Longest straight stretch over gaps of the fill, mm. */
const LONGEST = 10;
const WIDEST = 4;
/** Beads lie against each other where they are no farther apart, mm. */
const TOUCH = 0.08;
const CELL = 0.4;
const SIDE = 1024;

/** A short piece of a bead, as far as hanging goes. */
interface Part {
  readonly at: Vec;
  readonly line: number;
  readonly length: number;
  readonly width: number;
  /** Something lies straight under it; beside it lies a bead of its layer that has. */
  readonly carried: boolean;
  readonly beside: boolean;
  /** The part is under it. */
  readonly over: boolean;
  /** Not within 45 deg of anything, with no part under it, mm2. */
  readonly air: number;
}

/**
 * @param inside whether a place lies in the part
 * @param onTable whether the table's face is there
 * @param span longest bridge in the open, mm
 */
export function countHanging(
  beads: Beads,
  moves: Moves,
  inside: (p: Vec) => boolean,
  onTable: (x: number, y: number) => boolean,
  span: number,
): Hanging {
  const laid = new Points();
  const places: HangingPlace[] = [];
  const { region, layer, line } = moves;
  let chain: Part[] = [];
  let number = 0;
  let begin = false;
  for (let i = 0; i < beads.count; i++) {
    const b = beads.block[i]!;
    const [size, h] = [beads.length[i]!, beads.height[i]!];
    const width = Math.min(WIDEST, beads.volume[i]! / size / h);
    const frame = frameOf(beads, i);
    const own = 4096 * region[b]! + layer[b]!;
    const [from, to] = [endOf(beads, i, 0), endOf(beads, i, 1)];
    const end = { up: frame.up, h, reach: width / 2 + TOUCH, own };
    if (chain.length === 0) begin = laid.meets(from, end, -1);
    const n = Math.ceil(size / ALONG);
    for (let k = 0; k < n; k++) {
      const p = shifted(from, (size * (k + 0.5)) / n, frame.along, 0, frame.up, 0, frame.up);
      const near = laid.near(p, frame.up, width / 2 + h + TOUCH, -LEVEL * h, DEEP * h);
      const found = under(near, laid, p, frame, h, width, size / n, own, inside, onTable);
      chain.push({ ...found, line: line[b]! });
    }
    for (const part of chain.slice(-n)) laid.lay(part, frame, h, own, number);
    const next = beads.block[i + 1];
    if (next === b || next === b + 1) continue;
    places.push(...hangingOf(chain, begin, laid.meets(to, end, number), span));
    chain = [];
    number++;
  }
  const sum = (open: boolean): number =>
    places.reduce((all, p) => all + (p.open === open ? p.mm2 : 0), 0);
  return { open: sum(true), overFill: sum(false), places };
}

const endOf = ({ tip }: Beads, i: number, end: number): Vec => {
  const at = 6 * i + 3 * end;
  return [tip[at]!, tip[at + 1]!, tip[at + 2]!];
};

function under(
  near: readonly number[],
  laid: Points,
  p: Vec,
  { along, across, up }: Frame,
  h: number,
  width: number,
  length: number,
  own: number,
  inside: (p: Vec) => boolean,
  onTable: (x: number, y: number) => boolean,
): Omit<Part, 'line'> {
  // Of layers before: how far along, how far across; of the own layer: across, where it is carried.
  const below: [number, number][] = [];
  const aside: number[] = [];
  for (const at of near) {
    const q = minus(laid.at(at), p);
    const [x, y, depth] = [dot(q, along), dot(q, across), -dot(q, up)];
    if (laid.own(at) === own) {
      const level = Math.abs(depth - h / 2) < LEVEL * h;
      if (level && laid.isCarried(at) && Math.abs(x) < POINTS) aside.push(Math.abs(y));
      continue;
    }
    const top = depth - laid.half(at);
    if (top > HIGH * h && top < LOW * h) below.push([x, y]);
  }
  const toTable = (y: number): boolean => {
    const q = shifted(p, 0, up, y, across, 0, up);
    const depth = up[2] > 0 ? q[2] / up[2] : Infinity;
    return depth < UNDER * h && onTable(q[0] - depth * up[0], q[1] - depth * up[1]);
  };
  let [carried, air] = [false, 0];
  for (let k = 0; k < ACROSS; k++) {
    const y = ((k + 0.5) / ACROSS - 0.5) * width;
    const table = toTable(y);
    const nearest = below.reduce(
      (least, [u, v]) => Math.min(least, Math.hypot(u, v - y)),
      Infinity,
    );
    if (Math.abs(y) < (MIDDLE * width) / 2 && (table || nearest < STRAIGHT)) carried = true;
    if (table || nearest <= h * Math.tan(Math.PI / 4)) continue;
    if (!inside(shifted(p, 0, up, y, across, -UNDER * h, up))) air += (length * width) / ACROSS;
  }
  return {
    at: p,
    length,
    width,
    carried,
    beside: aside.some((y) => y > width / 2 - TOUCH && y < width / 2 + TOUCH),
    over: !carried && inside(shifted(p, 0, up, 0, across, -UNDER * h, up)),
    air,
  };
}

/** What of a bead from its begin to its end hangs; a closed one is turned to begin where it is carried. */
export function hangingOf(
  chain: readonly Part[],
  heldBegin: boolean,
  heldEnd: boolean,
  span: number,
): HangingPlace[] {
  const [first, last] = [chain[0]!, chain.at(-1)!];
  const start = chain.findIndex((p) => p.carried);
  const closed = chain.length > 2 && start >= 0 && distance(first.at, last.at) <= first.width;
  const parts = closed ? [...chain.slice(start), ...chain.slice(0, start)] : chain;
  const out: HangingPlace[] = [];
  const say = ({ line, at }: Part, mm2: number, open: boolean): number =>
    mm2 > 0 ? out.push({ line, at, mm2, open }) : 0;
  for (let from = 0, to = 0; from < parts.length; from = to) {
    const { carried } = parts[from]!;
    for (to = from + 1; to < parts.length && parts[to]!.carried === carried;) to++;
    const stretch = parts.slice(from, to);
    if (carried) {
      for (const p of stretch) say(p, p.air, true);
      continue;
    }
    const begin = from > 0 || heldBegin;
    const end = to < parts.length || closed || heldEnd;
    const bridge = begin && end && span > 0 && isBridge(stretch, span);
    for (const p of stretch) if (!bridge) say(p, p.air, true);
    for (const p of overGaps(stretch, begin, end)) say(p, p.length * p.width, false);
  }
  return out;
}

/** What of a stretch with nothing straight under it hangs over the inside of the part. */
function overGaps(stretch: readonly Part[], begin: boolean, end: boolean): Part[] {
  const out: Part[] = [];
  for (let from = 0, to = 0; from < stretch.length; from = to) {
    const { beside } = stretch[from]!;
    for (to = from + 1; to < stretch.length && stretch[to]!.beside === beside;) to++;
    const part = stretch.slice(from, to);
    const length = part.reduce((sum, p) => sum + p.length, 0);
    const ends = Number(from > 0 || begin) + Number(to < stretch.length || end);
    const holds = beside
      ? length <= LONGEST
      : ends > 0 && (length <= part[0]!.width || (ends === 2 && isBridge(part, LONGEST)));
    if (!holds) out.push(...part.filter((p) => p.over && p.air === 0));
  }
  return out;
}

/** Straight to half its width, and no longer than the span and a width more. */
function isBridge(parts: readonly Part[], span: number): boolean {
  const { width, at } = parts[0]!;
  const to = parts.at(-1)!.at;
  if (parts.reduce((sum, p) => sum + p.length, 0) > span + width) return false;
  return parts.every((p) => offLine(p.at, at, to) <= width / 2);
}

/** All that is laid, as points halfway up its beads. */
class Points {
  readonly #at: number[] = [];
  readonly #half: number[] = [];
  readonly #own: number[] = [];
  readonly #chain: number[] = [];
  readonly #carried: boolean[] = [];
  readonly #cells = new Map<number, number[]>();

  at = (i: number): Vec => [this.#at[3 * i]!, this.#at[3 * i + 1]!, this.#at[3 * i + 2]!];
  half = (i: number): number => this.#half[i]!;
  own = (i: number): number => this.#own[i]!;
  isCarried = (i: number): boolean => this.#carried[i]!;

  /** The points of a short piece, to its flanks. */
  lay({ at, width, length, carried }: Part, frame: Frame, h: number, own: number, chain: number) {
    const n = Math.max(1, Math.ceil(length / POINTS));
    const m = Math.max(1, Math.ceil(width / POINTS));
    for (let k = 0; k < n; k++) {
      for (let j = 0; j <= m; j++) {
        const x = ((k + 0.5) / n - 0.5) * length;
        const y = (j / m - 0.5) * width;
        const p = shifted(at, x, frame.along, y, frame.across, -h / 2, frame.up);
        const key = keyOf(...cellOf(p));
        const cell = this.#cells.get(key);
        if (cell) cell.push(this.#half.length);
        else this.#cells.set(key, [this.#half.length]);
        this.#at.push(...p);
        this.#half.push(h / 2);
        this.#own.push(own);
        this.#chain.push(chain);
        this.#carried.push(carried);
      }
    }
  }

  /** Points about the axis of a place: so far beside it, and so far under it, mm. */
  near(p: Vec, up: Vec, aside: number, from: number, to: number): number[] {
    const low = [0, 0, 0];
    const high = [0, 0, 0];
    for (let c = 0; c < 3; c++) {
      const room = aside * Math.sqrt(Math.max(0, 1 - up[c]! ** 2));
      const [a, b] = [p[c]! - from * up[c]!, p[c]! - to * up[c]!];
      low[c] = Math.floor((Math.min(a, b) - room) / CELL) + SIDE / 2;
      high[c] = Math.floor((Math.max(a, b) + room) / CELL) + SIDE / 2;
    }
    const at = this.#at;
    const out: number[] = [];
    for (let i = low[0]!; i <= high[0]!; i++) {
      for (let j = low[1]!; j <= high[1]!; j++) {
        for (let k = low[2]!; k <= high[2]!; k++) {
          const cell = this.#cells.get(keyOf(i, j, k));
          if (!cell) continue;
          for (const n of cell) {
            const x = at[3 * n]! - p[0];
            const y = at[3 * n + 1]! - p[1];
            const z = at[3 * n + 2]! - p[2];
            const depth = -(x * up[0] + y * up[1] + z * up[2]);
            if (depth < from || depth > to) continue;
            if (x * x + y * y + z * z - depth * depth <= aside * aside) out.push(n);
          }
        }
      }
    }
    return out;
  }

  /** Whether the round end of a bead runs into another of its layer, or lies on one before. */
  meets(p: Vec, { up, h, reach, own }: End, chain: number): boolean {
    return this.near(p, up, reach, -LEVEL * h, DEEP * h).some((i) => {
      if (this.#chain[i] === chain) return false;
      const q = minus(this.at(i), p);
      const depth = -dot(q, up);
      if (this.#own[i] === own) return Math.abs(depth - h / 2) < LEVEL * h;
      const aside = Math.sqrt(Math.max(0, dot(q, q) - depth * depth));
      const top = depth - this.#half[i]!;
      return aside < STRAIGHT && top > HIGH * h && top < LOW * h;
    });
  }
}

/** The end of a bead: how far about it another counts as met, mm. */
interface End {
  readonly up: Vec;
  readonly h: number;
  readonly reach: number;
  readonly own: number;
}

const cellOf = (p: Vec): [number, number, number] =>
  p.map((x) => Math.floor(x / CELL) + SIDE / 2) as [number, number, number];
const keyOf = (i: number, j: number, k: number): number => (i * SIDE + j) * SIDE + k;
