/**
 * A hierarchy of boxes over things in a given order: leaves hold LEAF neighbours, every node above holds
 * BRANCH neighbours of the level below. Beads come in the order in which they are laid, so what is printed
 * up to some moment is a prefix of that order, and a node is left out as soon as its first bead is not yet
 * laid: one tree serves every moment of the print. Successive beads lie close together, so the boxes are
 * small without any sorting. But they lie in one layer, and about a place there are as many boxes as layers: for beads
 * that are looked at from within, things are put in the order of space (spatial-order.ts), with their ranks in printing
 * order, and a node knows the first of them.
 */

export const LEAF = 4;
const BRANCH = 4;

export class PrefixTree {
  /** Number of things. */
  readonly count: number;
  /** For each level from the leaves up: centre xyz and half extent xyz of each node, mm. */
  readonly levels: readonly Float64Array[];
  /** Of each thing, then of each node of the levels, its place or its first one's in printing order. */
  readonly #ranks: readonly Uint32Array[] | undefined;

  /**
   * @param boxes centre xyz and half extent xyz of each thing, mm
   * @param known the levels over just these boxes, if they are known
   * @param ranks of each thing, its place in printing order; left out: things come in it
   */
  constructor(boxes: Float64Array, known?: readonly Float64Array[], ranks?: Uint32Array) {
    this.count = boxes.length / 6;
    this.levels = known ?? levelsOver(boxes);
    this.#ranks = ranks && firstRanks(ranks, this.levels.length);
  }

  get top(): number {
    return this.levels.length - 1;
  }

  /** Whether of the children of a node later ones are there no sooner. */
  get rises(): boolean {
    return this.#ranks === undefined;
  }

  /** Place in printing order of the first thing under a node; level -1: of the thing itself. */
  first(level: number, node: number): number {
    if (this.#ranks) return this.#ranks[level + 1]![node]!;
    return level < 0 ? node : node * LEAF * BRANCH ** level;
  }

  /** Children of a node of a level above the leaves: from, to (exclusive). */
  children(level: number, node: number): readonly [number, number] {
    const count = this.levels[level - 1]!.length / 6;
    return [node * BRANCH, Math.min(count, (node + 1) * BRANCH)];
  }

  /** Things of a leaf: from, to (exclusive). */
  things(leaf: number): readonly [number, number] {
    return [leaf * LEAF, Math.min(this.count, (leaf + 1) * LEAF)];
  }
}

/** The least rank under each node, from the things themselves up. */
function firstRanks(ranks: Uint32Array, levels: number): Uint32Array[] {
  const out = [ranks];
  for (let level = 0; level < levels; level++) {
    const below = out[level]!;
    const group = level === 0 ? LEAF : BRANCH;
    const first = new Uint32Array(Math.ceil(below.length / group)).fill(0xffffffff);
    below.forEach((rank, i) => {
      const node = Math.floor(i / group);
      first[node] = Math.min(first[node]!, rank);
    });
    out.push(first);
  }
  return out;
}

function levelsOver(boxes: Float64Array): Float64Array[] {
  const levels: Float64Array[] = [];
  let below = boxes;
  let group = LEAF;
  do {
    below = joined(below, group);
    levels.push(below);
    group = BRANCH;
  } while (below.length > 6);
  return levels;
}

function joined(boxes: Float64Array, group: number): Float64Array {
  const count = boxes.length / 6;
  const out = new Float64Array(6 * Math.ceil(count / group));
  for (let n = 0; n < out.length; n += 6) {
    const from = n * group;
    const to = Math.min(boxes.length, from + 6 * group);
    for (let c = 0; c < 3; c++) {
      let low = Infinity;
      let high = -Infinity;
      for (let i = from; i < to; i += 6) {
        const [middle, half] = [boxes[i + c]!, boxes[i + 3 + c]!];
        if (middle - half < low) low = middle - half;
        if (middle + half > high) high = middle + half;
      }
      out[n + c] = (low + high) / 2;
      out[n + 3 + c] = (high - low) / 2;
    }
  }
  return out;
}

/** The greatest half extent of the box at `boxes[at ..]`, mm. */
export const extent = (boxes: Float64Array, at: number): number =>
  Math.max(boxes[at + 3]!, boxes[at + 4]!, boxes[at + 5]!);
