/**
 * A hierarchy of boxes over things in a given order: leaves hold LEAF neighbours, every node above holds
 * BRANCH neighbours of the level below. Beads come in the order in which they are laid, so what is printed
 * up to some moment is a prefix of that order, and a node is left out as soon as its first bead is not yet
 * laid: one tree serves every moment of the print. Successive beads lie close together, so the boxes are
 * small without any sorting.
 */

export const LEAF = 4;
const BRANCH = 4;

export class PrefixTree {
  /** Number of things. */
  readonly count: number;
  /** For each level from the leaves up: centre xyz and half extent xyz of each node, mm. */
  readonly levels: readonly Float64Array[];

  /**
   * @param boxes centre xyz and half extent xyz of each thing, mm
   * @param known the levels over just these boxes, if they are known
   */
  constructor(boxes: Float64Array, known?: readonly Float64Array[]) {
    this.count = boxes.length / 6;
    this.levels = known ?? levelsOver(boxes);
  }

  get top(): number {
    return this.levels.length - 1;
  }

  /** Number of the first thing under a node. */
  first(level: number, node: number): number {
    return node * LEAF * BRANCH ** level;
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
