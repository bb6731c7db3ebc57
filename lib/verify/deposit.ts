/**
 * Prints the program in the computer: block by block grids of what is laid grow (laying.ts), and what lies under each
 * piece of a bead says whether it hangs.
 *
 * In the air: of the samples across a piece of a bead at least LEAST_CARRIED must rest on material or the table
 * (piece-looks.ts); which pieces hang is decided stretch by stretch (hanging-stretches.ts). Where a bead runs into
 * others of its layer, those hold its end unless they hang themselves: fill from contour to contour of an island hangs
 * as they do.
 */
import type { Vec3 } from '../base/vector.js';
import type { Machine } from '../machine/machine.js';
import { BeadPieces } from './bead-pieces.js';
import type { KnownPart, Support } from './bead-support.js';
import type { Grids } from './grids.js';
import { type LaidPiece, Stretches } from './hanging-stretches.js';
import { BeadLaying } from './laying.js';
import type { Heights } from './layers.js';
import { type PieceLooks, Supports, airOf, isLaid, restingOf, widestOf } from './piece-looks.js';
import type { Trace } from './trace.js';

/** Samples of a piece that must be carried: one of five. */
const LEAST_CARRIED = 1;
/** Angles from its path at which the round end of a bead is held against what is laid, rad. */
const END_ANGLES = [0, 0.8, -0.8, 1.6, -1.6] as const;
/** Depth at which the inside of the part is looked for below: the middle of the layer below, in heights. */
const LAYER_BELOW = 1.5;
/** Grid cells along an edge of a cell in which metered and filled volume are compared. */
export const CELL_CUBES = 16;
/** Cells along an axis at most, for keys. */
const CELLS = 2048;

/** The first grid cell of a volume cell by its key. */
export const cellCorner = (key: number): Vec3 => [
  CELL_CUBES * Math.floor(key / CELLS ** 2),
  CELL_CUBES * (Math.floor(key / CELLS) % CELLS),
  CELL_CUBES * (key % CELLS),
];

/** Metered material against the volume that it fills, in a cell of a grid, mm3. */
export interface VolumeCell {
  metered: number;
  filled: number;
  block: number;
}

export class Deposit {
  readonly stretches: Stretches;
  /** By key, of each grid. */
  readonly cells: readonly Map<number, VolumeCell>[];
  /** Length laid, mm. */
  length = 0;
  /** Material metered on moves, mm3. */
  metered = 0;
  readonly #grids: Grids;
  /** Cells of each grid that were set where no other one had material. */
  readonly #fresh: number[];
  /** What hangs, as far as its layer may still run into it. */
  readonly #hung: Grids;
  /** Pieces that hang and are not in it yet. */
  readonly #due: LaidPiece[] = [];
  readonly #trace: Trace;
  readonly #supports: Supports;
  #support: Support | undefined;
  /** What was found under the beads beforehand, in order, and which of it is in work. */
  readonly #looks: readonly PieceLooks[];
  #looking = 0;
  readonly #laying: BeadLaying;
  readonly #pieces: BeadPieces;

  /**
   * @param grids empty, with room for all of it
   * @param span longest bridge, mm
   * @param looks at all that is laid, in order; left out: they are taken as it is laid
   */
  constructor(
    trace: Trace,
    heights: Heights,
    machine: Machine,
    grids: Grids,
    part: KnownPart | undefined,
    span: number,
    looks: readonly PieceLooks[] = [],
  ) {
    this.#trace = trace;
    this.#grids = grids;
    this.#hung = grids.empty();
    this.#fresh = grids.list.map(() => 0);
    this.cells = grids.list.map(() => new Map<number, VolumeCell>());
    this.stretches = new Stretches(trace, part?.inside, span, (piece) => this.#due.push(piece));
    this.#supports = new Supports(trace, heights, machine, part);
    this.#looks = looks;
    this.#pieces = new BeadPieces(trace, heights.height, widestOf(machine), grids);
    this.#laying = new BeadLaying(this.#pieces);
  }

  /** Room that is taken up, mm3: less than what is metered where beads overlap. */
  get filled(): number {
    return this.#grids.list.reduce((sum, grid, n) => sum + this.#fresh[n]! * grid.cellVolume, 0);
  }

  /** Lays block b, if it lays anything; blocks come in order. */
  block(b: number): void {
    const { length, volume } = this.#trace;
    if (!isLaid(this.#trace, b)) {
      if (length[b]! > 0) this.#endChain();
      return;
    }
    const pieces = this.#pieces;
    if (!pieces.aim(b)) return;
    this.#support = this.#supports.aim(b, pieces.height);
    const metered = volume[b]! / pieces.count;
    this.length += 2 * pieces.halfLength * pieces.count;
    this.metered += volume[b]!;
    // The round of a sharp corner, whose material is that of the beads beside it.
    const round = this.#laying.joint(this.#trace, b, this.#grids);
    if (round >= 0) this.#count(0, round);
    if (!this.stretches.inChain) this.stretches.begin(this.#holds(b - 1, -1));
    if (this.#mayEnd(b)) this.stretches.reaches(this.#holds(b, 1));
    for (let n = 0; n < pieces.count; n++) {
      pieces.place(n);
      this.#look(n);
      this.#count(metered, this.#laying.box(this.#grids));
    }
    if (this.#due.length > 0) {
      this.#hang();
      pieces.aim(b);
    }
  }

  /** Whether the chain may end with block b: only then it matters what holds it there. */
  #mayEnd(b: number): boolean {
    const next = b + 1;
    if (next >= this.#trace.kind.length) return true;
    return !(isLaid(this.#trace, next) && this.#pieces.isLong(next));
  }

  #endChain(): void {
    this.stretches.end();
    this.#hang();
  }

  #hang(): void {
    for (const { block, index } of this.#due) {
      this.#pieces.aim(block);
      this.#pieces.place(index);
      this.#laying.box(this.#hung);
    }
    this.#due.length = 0;
  }

  /**
   * Whether the end of a bead is held: it lies on something, or its round end, half a width about
   * the last place of the tip, runs into what is laid and does not hang. Half a cube farther, because the
   * grid may place the flank of a bead that just touches off by that much.
   */
  #holds(b: number, sense: number): boolean {
    const pieces = this.#pieces;
    const { p, d, t, u } = pieces;
    pieces.stand(b);
    if (restingOf(this.#support!, pieces.here) >= LEAST_CARRIED) return true;
    const s = pieces.height / 2;
    const reach = pieces.halfWidth + this.#grids.list[pieces.number]!.edge / 2;
    for (const angle of END_ANGLES) {
      const ahead = sense * reach * Math.cos(angle);
      const aside = reach * Math.sin(angle);
      const x = p[0]! - s * d[0]! + ahead * t[0]! + aside * u[0]!;
      const y = p[1]! - s * d[1]! + ahead * t[1]! + aside * u[1]!;
      const z = p[2]! - s * d[2]! + ahead * t[2]! + aside * u[2]!;
      if (this.#grids.at(x, y, z) && !this.#hung.at(x, y, z)) return true;
    }
    return false;
  }

  /** What lies under the piece, and the stretch that it belongs to. */
  #look(index: number): void {
    const pieces = this.#pieces;
    const { block, here } = pieces;
    const support = this.#support!;
    const [length, width] = [2 * pieces.halfLength, 2 * pieces.halfWidth];
    const looks = this.#looksAt(block);
    const at = looks && looks.start[block - looks.from]! + index;
    const resting = looks ? looks.resting[at!]! : restingOf(support, here);
    const air = looks ? looks.air[at!]! : airOf(support, here, resting, length);
    const carried = resting >= LEAST_CARRIED;
    const beside = !carried && support.isBeside(here);
    if (carried) support.isCarried(here, pieces.t, length);
    const below = pieces.under(LAYER_BELOW * pieces.height);
    this.stretches.piece({ block, index, below, length, width, air, beside }, carried);
  }

  #looksAt(block: number): PieceLooks | undefined {
    while (this.#looking < this.#looks.length && this.#looks[this.#looking]!.to <= block) {
      this.#looking++;
    }
    return this.#looks[this.#looking];
  }

  /** @param fresh cells that were set where no grid had material */
  #count(volume: number, fresh: number): void {
    const { number, block, height } = this.#pieces;
    const grid = this.#grids.list[number]!;
    this.#fresh[number]! += fresh;
    const [x, y, z] = this.#pieces.under(height / 2);
    const i = Math.floor(grid.along(0, x, y, z) / CELL_CUBES);
    const j = Math.floor(grid.along(1, x, y, z) / CELL_CUBES);
    const k = Math.floor(grid.along(2, x, y, z) / CELL_CUBES);
    const key = (i * CELLS + j) * CELLS + k;
    const cells = this.cells[number]!;
    let cell = cells.get(key);
    if (!cell) cells.set(key, (cell = { metered: 0, filled: 0, block }));
    cell.metered += volume;
    cell.filled += fresh * grid.cellVolume;
    cell.block = block;
  }
}
