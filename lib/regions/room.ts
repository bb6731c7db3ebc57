/**
 * Does the head keep clear of what is already there while a piece is printed? The tip visits the
 * whole piece with the head standing along the build direction, and a point of the rest at height s
 * over the tip must be farther from the head's axis than the head is wide there.
 *
 * Both skins are sampled, no two neighbouring samples farther apart than SPACING. In columns of FINE mm
 * square to the direction only the lowest tip place and the highest point of the rest count, for the
 * head is taken to be no narrower higher up. Blocks of columns that cannot clash by their extremes are
 * passed over; of the others the points themselves are compared. Columns taken as their whole square
 * were tried: at a leaning base every piece then clashes with its own foot.
 */
import { type Frame, applyPoints, buildFromPart } from '../base/frame.js';
import type { Mesh } from '../base/mesh.js';
import type { Vec3 } from '../base/vector.js';
import type { SearchLimits } from './limits.js';

/** Greatest distance between neighbouring samples, mm. */
const SPACING = 2;
/** Side of a column, mm. */
const FINE = 1;
/** Columns along the side of a block. */
const BLOCK = 6;
/** What rises less than this over the tip is passed over by the bead itself, mm. */
const LOWEST = 0.6;
/** Step of the outline's table, mm. */
const STEP = 0.25;

/** The widest that the head is, clearance included, up to heights 0, STEP, 2 STEP, ... over the tip, mm. */
export type HeadTable = Float64Array;

export function headTable(limits: SearchLimits): HeadTable {
  const widest = new Float64Array(limits.headTop > 0 ? Math.ceil(limits.headTop / STEP) + 1 : 0);
  for (let i = 0; i < widest.length; i++) {
    const before = i > 0 ? widest[i - 1]! : 0;
    // At a step of the outline the greater radius counts.
    widest[i] = Math.max(before, limits.keepAway(i * STEP), limits.keepAway((i + 0.999) * STEP));
  }
  return widest;
}

/**
 * How far a plane may lean against the direction so that the head, with its tip on the plane or over
 * it, never meets what is below the plane, rad. A point below it at height s over the tip is at least
 * s / tan(lean) from the axis.
 */
export function leanOf(limits: SearchLimits): number {
  let least = Math.PI / 2;
  headTable(limits).forEach((away, i) => {
    const above = i * STEP;
    if (above >= LOWEST) least = Math.min(least, Math.atan2(above, away));
  });
  return least;
}

/** A point of the rest that the head would meet, in the part frame. */
export function headMeets(piece: Mesh, rest: Mesh, d: Vec3, head: HeadTable): Vec3 | undefined {
  if (head.length === 0) return undefined;
  const turn = buildFromPart(d);
  const turned = applyPoints(turn, piece.vertices);
  const field = fieldAround(turned, head.at(-1)!);
  const tips = new Columns(field, -1);
  tips.lay(piece, turned, -Infinity);
  const tall = new Columns(field, 1);
  tall.lay(rest, applyPoints(turn, rest.vertices), field.floor + LOWEST);
  const hit = clash(tips.blocks(), tall.blocks(), head);
  return hit && back(turn, hit);
}

/** The inverse rotation; a build frame has no shift. */
const back = (f: Frame, p: Vec3): Vec3 => [
  f[0]! * p[0] + f[1]! * p[1] + f[2]! * p[2],
  f[4]! * p[0] + f[5]! * p[1] + f[6]! * p[2],
  f[8]! * p[0] + f[9]! * p[1] + f[10]! * p[2],
];

/** The rectangle in which anything can meet the head. */
interface Field {
  readonly x: number;
  readonly y: number;
  readonly columns: number;
  readonly rows: number;
  /** The lowest tip place, mm. */
  readonly floor: number;
}

function fieldAround(p: Float64Array, reach: number): Field {
  const least = [Infinity, Infinity, Infinity];
  const most = [-Infinity, -Infinity];
  for (let i = 0; i < p.length; i += 3) {
    for (let c = 0; c < 3; c++) if (p[i + c]! < least[c]!) least[c] = p[i + c]!;
    for (let c = 0; c < 2; c++) if (p[i + c]! > most[c]!) most[c] = p[i + c]!;
  }
  const side = FINE * BLOCK;
  const count = (c: number): number =>
    BLOCK * Math.max(1, Math.ceil((most[c]! - least[c]! + 2 * reach) / side));
  return {
    x: least[0]! - reach,
    y: least[1]! - reach,
    columns: count(0),
    rows: count(1),
    floor: least[2]!,
  };
}

interface Block {
  readonly x: number;
  readonly y: number;
  extreme: number;
  /** Packed xyz. */
  readonly points: number[];
}

/** The extreme point of each column of a field. */
class Columns {
  readonly #field: Field;
  readonly #sign: 1 | -1;
  readonly #points: Float64Array;

  /** @param sign 1 keeps the highest point of a column, -1 the lowest */
  constructor(field: Field, sign: 1 | -1) {
    this.#field = field;
    this.#sign = sign;
    this.#points = new Float64Array(3 * field.columns * field.rows).fill(NaN);
  }

  /** Lays a skin on the field: `p` are its turned vertices; what is not higher than `over` is left out. */
  lay({ triangles: t }: Mesh, p: Float64Array, over: number): void {
    for (let v = 0; v < p.length; v += 3) this.#put(p[v]!, p[v + 1]!, p[v + 2]!, over);
    for (let i = 0; i < t.length; i += 3) {
      const [a, b, c] = [3 * t[i]!, 3 * t[i + 1]!, 3 * t[i + 2]!];
      if (p[a + 2]! <= over && p[b + 2]! <= over && p[c + 2]! <= over) continue;
      const k = Math.ceil(Math.max(gap(p, a, b), gap(p, b, c), gap(p, c, a)) / SPACING);
      for (let j = 0; k > 1 && j <= k; j++) {
        for (let l = 0; l <= k - j; l++) {
          const [u, w] = [j / k, l / k];
          const s = 1 - u - w;
          this.#put(
            s * p[a]! + u * p[b]! + w * p[c]!,
            s * p[a + 1]! + u * p[b + 1]! + w * p[c + 1]!,
            s * p[a + 2]! + u * p[b + 2]! + w * p[c + 2]!,
            over,
          );
        }
      }
    }
  }

  #put(x: number, y: number, z: number, over: number): void {
    if (z <= over) return;
    const { columns, rows } = this.#field;
    const i = Math.floor((x - this.#field.x) / FINE);
    const j = Math.floor((y - this.#field.y) / FINE);
    if (i < 0 || j < 0 || i >= columns || j >= rows) return;
    const at = 3 * (j * columns + i);
    const known = this.#points[at + 2]!;
    if (known * this.#sign >= z * this.#sign) return;
    this.#points[at] = x;
    this.#points[at + 1] = y;
    this.#points[at + 2] = z;
  }

  blocks(): Block[] {
    const { columns, rows } = this.#field;
    const out: Block[] = [];
    for (let y = 0; y < rows / BLOCK; y++) {
      for (let x = 0; x < columns / BLOCK; x++) {
        const block: Block = { x, y, extreme: NaN, points: [] };
        for (let k = 0; k < BLOCK * BLOCK; k++) {
          const j = y * BLOCK + Math.floor(k / BLOCK);
          const at = 3 * (j * columns + x * BLOCK + (k % BLOCK));
          const z = this.#points[at + 2]!;
          if (Number.isNaN(z)) continue;
          block.points.push(this.#points[at]!, this.#points[at + 1]!, z);
          if (!(block.extreme * this.#sign >= z * this.#sign)) block.extreme = z;
        }
        if (block.points.length > 0) out.push(block);
      }
    }
    return out;
  }
}

const gap = (p: Float64Array, a: number, b: number): number =>
  Math.hypot(p[a]! - p[b]!, p[a + 1]! - p[b + 1]!, p[a + 2]! - p[b + 2]!);

const widthAt = (head: HeadTable, above: number): number =>
  head[Math.min(head.length - 1, Math.floor(above / STEP))]!;

function clash(tips: readonly Block[], tall: readonly Block[], head: HeadTable): Vec3 | undefined {
  const side = FINE * BLOCK;
  for (const over of tall) {
    for (const under of tips) {
      const above = over.extreme - under.extreme;
      if (above <= LOWEST) continue;
      const dx = side * Math.max(0, Math.abs(over.x - under.x) - 1);
      const dy = side * Math.max(0, Math.abs(over.y - under.y) - 1);
      const wide = widthAt(head, above);
      if (dx * dx + dy * dy >= wide * wide) continue;
      const hit = clashOf(under, over.points, head);
      if (hit) return hit;
    }
  }
  return undefined;
}

function clashOf(
  { points: tips, extreme }: Block,
  tall: readonly number[],
  head: HeadTable,
): Vec3 | undefined {
  for (let j = 0; j < tall.length; j += 3) {
    const [x, y, z] = [tall[j]!, tall[j + 1]!, tall[j + 2]!];
    if (z - extreme <= LOWEST) continue;
    const most = widthAt(head, z - extreme);
    for (let i = 0; i < tips.length; i += 3) {
      const dx = x - tips[i]!;
      const dy = y - tips[i + 1]!;
      const far = dx * dx + dy * dy;
      if (far >= most * most) continue;
      const above = z - tips[i + 2]!;
      if (above <= LOWEST) continue;
      const keep = widthAt(head, above);
      if (far < keep * keep) return [x, y, z];
    }
  }
  return undefined;
}
