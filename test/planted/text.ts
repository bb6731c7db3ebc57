/**
 * The text of a program as the faults need it: which lines lie in which layer of which region, which of
 * them lay a bead, and where beads begin and end. Read from the words alone, by a reader of its own.
 */
export interface Row {
  readonly region: number;
  readonly layer: number;
  /** Lays a bead: moves and feeds. */
  readonly lays: boolean;
  /** Places after the line, in the order X Y Z A C, and the feed that holds. */
  readonly at: readonly number[];
  readonly feed: number;
}

/** Beads without a break: lines `from` to `to`, the last one included. */
export interface Chain {
  readonly from: number;
  readonly to: number;
  readonly closed: boolean;
  readonly length: number;
}

/** A bead whose end comes back to within this closes, mm. */
const CLOSES = 0.5;

export class Text {
  readonly lines: readonly string[];
  readonly rows: readonly Row[];
  readonly regions: number;

  constructor(program: string) {
    this.lines = program.split('\n');
    const rows: Row[] = [];
    let [region, layer, feed] = [0, 0, NaN];
    let at = [0, 0, 0, 0, 0];
    for (const line of this.lines) {
      const mark = /^\(region (\d+), layer (\d+) of/.exec(line);
      if (mark) [region, layer] = [Number(mark[1]), Number(mark[2])];
      const moves = !line.startsWith('(') && /[XYZAC]-?\d/.test(line);
      if (moves) at = at.map((v, i) => word(line, 'XYZAC'[i]!) ?? v);
      if (!line.startsWith('(')) feed = word(line, 'F') ?? feed;
      // What is restated at the begin of a layer moves nothing.
      const before = rows.at(-1)?.at ?? at;
      const lays = moves && (word(line, 'E') ?? 0) > 0 && at.some((v, i) => v !== before[i]);
      rows.push({ region, layer, lays, at, feed });
    }
    this.rows = rows;
    this.regions = Math.max(...rows.map((r) => r.region));
  }

  /** Index of the mark of a layer. */
  layer(region: number, layer: number): number {
    return this.#find(new RegExp(`^\\(region ${region}, layer ${layer} of`));
  }

  layers(region: number): number {
    return Math.max(...this.rows.filter((r) => r.region === region).map((r) => r.layer));
  }

  /** First and past-the-end line of a layer; the last one ends where the way to the next region begins. */
  layerSpan(region: number, layer: number): [number, number] {
    const from = this.layer(region, layer);
    return [
      from,
      layer < this.layers(region) ? this.layer(region, layer + 1) : this.span(region)[1],
    ];
  }

  /** Lines of a region, with the way that leads to it. */
  span(region: number): [number, number] {
    const from = region === 1 ? this.#find(/^\(region 1 of/) : this.wayTo(region);
    const to = region < this.regions ? this.wayTo(region + 1) : this.#afterLast();
    return [from, to];
  }

  /** First line after the last bead before a region. */
  wayTo(region: number): number {
    let i = this.#find(new RegExp(`^\\(region ${region} of`));
    while (!this.rows[i - 1]!.lays) i--;
    return i;
  }

  /** The line that turns the table before a region. */
  turnTo(region: number): number {
    let i = this.#find(new RegExp(`^\\(region ${region} of`));
    while (!/[AC]-?\d/.test(this.lines[i]!) || this.lines[i]!.startsWith('(')) i--;
    return i;
  }

  #afterLast(): number {
    let i = this.lines.length;
    while (!this.rows[i - 1]!.lays) i--;
    return i;
  }

  chains(from: number, to: number): Chain[] {
    const out: Chain[] = [];
    for (let i = from; i < to; i++) {
      if (!this.rows[i]!.lays) continue;
      const begin = i;
      let length = 0;
      for (; i < to && this.rows[i]!.lays; i++) length += this.length(i);
      const [a, b] = [this.rows[begin - 1]!.at, this.rows[i - 1]!.at];
      const gap = Math.hypot(a[0]! - b[0]!, a[1]! - b[1]!, a[2]! - b[2]!);
      out.push({ from: begin, to: i - 1, closed: gap < CLOSES && length > 3 * CLOSES, length });
    }
    return out;
  }

  length(i: number): number {
    const [a, b] = [this.rows[i - 1]!.at, this.rows[i]!.at];
    return Math.hypot(a[0]! - b[0]!, a[1]! - b[1]!, a[2]! - b[2]!);
  }

  find(test: (line: string, row: Row, i: number) => boolean, from: number, to: number): number {
    for (let i = from; i < to; i++) if (test(this.lines[i]!, this.rows[i]!, i)) return i;
    throw new Error(`no such line from ${from + 1} to ${to}`);
  }

  #find(pattern: RegExp): number {
    const found = this.lines.findIndex((l) => pattern.test(l));
    if (found < 0) throw new Error(`no line ${pattern}`);
    return found;
  }
}

export function word(line: string, letter: string): number | undefined {
  const found = new RegExp(`${letter}(-?[\\d.]+)`).exec(line);
  return found ? Number(found[1]) : undefined;
}

export const withWord = (
  line: string,
  letter: string,
  edit: (v: number) => number,
  digits: number,
): string =>
  line.startsWith('(')
    ? line
    : line.replace(
        new RegExp(`${letter}(-?[\\d.]+)`),
        (_, v: string) => `${letter}${edit(Number(v)).toFixed(digits)}`,
      );
