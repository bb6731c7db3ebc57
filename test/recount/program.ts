/**
 * The plain blocks of a program: its lines come in, where every joint stands at the end of each block
 * goes out, with time and filament. Knows G1, G4, G92, G93 and G94, and region marks in comments; no
 * more is written. Millimetres and degrees, as in the text.
 */
import { Chain, type File, place, seenFrom, unit } from './chain.js';

export interface Moves {
  readonly jointCount: number;
  /** Joint values at the end of each block; block -1 is `from`. */
  readonly joints: Float64Array;
  readonly from: Float64Array;
  /** At the feed of the block, s. */
  readonly seconds: Float64Array;
  /** Metered in the block, mm. */
  readonly filament: Float64Array;
  readonly line: Uint32Array;
  /** Counted from one, as the marks say; 0 before the first. */
  readonly region: Uint16Array;
  /** Counted from one within the region, as the marks say; 0 before the first. */
  readonly layer: Uint16Array;
}

export function readMoves(text: string, file: File): Moves {
  const tip = new Tip(file);
  const { joints } = tip.chain;
  const now = Float64Array.from(joints, (j) => file.ready?.[j.letter] ?? 0);
  const from = now.slice();
  const out = { joints: [] as number[], seconds: [] as number[], filament: [] as number[] };
  const [lines, regions, layers] = [[] as number[], [] as number[], [] as number[]];
  const meter = file.dialect.filament;
  let [mode, feed, metered, region, layer] = ['G94', 0, 0, 0, 0];
  text.split('\n').forEach((line, at) => {
    const mark = /\(region (\d+), layer (\d+)/.exec(line);
    if (mark) [region, layer] = [Number(mark[1]), Number(mark[2])];
    const words = [...line.replace(/\([^)]*\)|;.*/g, '').matchAll(/([A-Z])\s*(-?[\d.]+)/g)].map(
      ([, letter, value]) => [letter!, Number(value)] as const,
    );
    if (words.some(([letter]) => letter === 'M')) return;
    const codes = words.filter(([letter]) => letter === 'G').map(([, value]) => value);
    for (const g of codes) {
      if (![1, 4, 21, 90, 92, 93, 94].includes(g)) throw new Error(`G${g} in line ${at + 1}`);
      if (g === 93 || g === 94) mode = `G${g}`;
    }
    const value = new Map(words);
    if (codes.includes(92)) metered = value.get(meter.letter) ?? metered;
    if (codes.includes(92) || codes.includes(4)) return;
    feed = value.get('F') ?? feed;
    const before = now.slice();
    joints.forEach((j, i) => (now[i] = value.get(j.letter) ?? now[i]!));
    const word = value.get(meter.letter);
    const by = word === undefined ? 0 : word - (meter.mode === 'absolute' ? metered : 0);
    if (word !== undefined) metered = word;
    if (by === 0 && now.every((v, j) => v === before[j])) return;
    const length = mode === 'G93' ? 1 : tip.feedLength(before, now) || Math.abs(by);
    out.joints.push(...now);
    out.seconds.push((60 * length) / feed);
    out.filament.push(by);
    lines.push(at + 1);
    regions.push(region);
    layers.push(layer);
  });
  return {
    jointCount: joints.length,
    joints: Float64Array.from(out.joints),
    from,
    seconds: Float64Array.from(out.seconds),
    filament: Float64Array.from(out.filament),
    line: Uint32Array.from(lines),
    region: Uint16Array.from(regions),
    layer: Uint16Array.from(layers),
  };
}

/** Where the nozzle tip stands over the table. */
export class Tip {
  readonly chain: Chain;
  readonly #meaning: 'tip' | 'xyz';
  readonly #tip: readonly [number, number, number];
  readonly #head: number;
  readonly #table: number;
  readonly #seen = unit();

  constructor(file: File) {
    this.chain = new Chain(file);
    this.#meaning = file.dialect.rotaryFeedMeaning ?? 'tip';
    this.#tip = file.head.tip ?? [0, 0, 0];
    this.#head = this.chain.last(false);
    this.#table = this.chain.last(true);
  }

  /** Tip, and direction up the head, as they are seen from the table, in the table's place at zero. */
  over(values: ArrayLike<number>): {
    readonly tip: [number, number, number];
    readonly up: [number, number, number];
  } {
    const { carried } = this.chain;
    this.chain.set(values);
    seenFrom(carried.at(this.#table)!, carried.at(this.#head)!, this.#seen);
    const m = this.#seen;
    return { tip: place(m, this.#tip), up: [m[2]!, m[6]!, m[10]!] };
  }

  /** What F measures in a straight block: mm, or deg if nothing but rotary joints moves. */
  feedLength(from: Float64Array, to: Float64Array): number {
    const by = to.map((v, j) => v - from[j]!);
    const { joints } = this.chain;
    const size = (kind: string): number =>
      Math.hypot(...joints.map((j, i) => (j.kind === kind ? by[i]! : 0)));
    const [straight, turn] = [size('linear'), size('rotary')];
    if (turn === 0) return straight;
    const swept = this.#meaning === 'xyz' ? straight : this.#swept(from, to, turn);
    return swept > 1e-6 ? swept : turn;
  }

  /** Length of the tip's way over the table, in pieces of a quarter of a degree, mm. */
  #swept(from: Float64Array, to: Float64Array, turn: number): number {
    const count = Math.ceil(4 * turn);
    let sum = 0;
    let before = this.over(from).tip;
    for (let k = 1; k <= count; k++) {
      const { tip } = this.over(from.map((v, j) => v + ((to[j]! - v) * k) / count));
      sum += Math.hypot(tip[0] - before[0], tip[1] - before[1], tip[2] - before[2]);
      before = tip;
    }
    return sum;
  }
}
