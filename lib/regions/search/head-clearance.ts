/**
 * Whether the head keeps clear of what is already there while a piece is printed. The tip visits the
 * whole piece with the head along the build direction, and a point of the rest at height s over the tip
 * must be farther from the head's axis than the radius there of the head grown by its clearance in
 * every direction. What lies under the plane on which the piece is built is judged by how far that
 * plane leans (`leanOf`).
 *
 * Both skins are sampled, no two neighbouring samples farther apart than SAMPLE_SPACING. In columns of
 * COLUMN mm square to the direction only the lowest tip place and the highest point of the rest count,
 * for the head is taken to be no narrower higher up. Blocks of columns that cannot clash by their
 * extremes are passed over; of the others the points themselves are compared. Rejected: columns taken
 * as their whole square, since at a leaning base every piece then clashes with its own foot.
 */
import { type Frame, applyPoints, buildFromPart } from '../../base/frame.js';
import type { Mesh } from '../../base/mesh.js';
import { type Vec3, angle, dot } from '../../base/vector.js';
import type { Frustum } from '../../machine/head.js';
import type { HeadPart, SearchLimits } from './machine-limits.js';

/** Greatest distance between neighbouring samples, mm. */
const SAMPLE_SPACING = 1;
/** Side of a column, mm. */
const COLUMN = 1;
/** Columns along the side of a block. */
const BLOCK_COLUMNS = 6;
/** What rises less than this over the tip, or over the plane, counts as level with it, mm. */
const LOWEST = 0.05;
/** Step of the outline's table, mm. */
const OUTLINE_STEP = 0.25;

/** The widest that the grown head is at heights 0, OUTLINE_STEP, 2 OUTLINE_STEP, ... over the tip, mm. */
type RadiusTable = Float64Array;

export interface HeadTable {
  readonly beside: RadiusTable;
  readonly under: RadiusTable;
  /** How far a plane may lean so that the head keeps clear of all that lies under it, rad. */
  readonly lean: number;
}

export const headTable = (limits: SearchLimits): HeadTable => ({
  beside: tableOf(limits.beside),
  under: tableOf(limits.under),
  lean: leanOf(limits),
});

function tableOf(aparts: readonly HeadPart[]): RadiusTable {
  const top = Math.max(
    0,
    ...aparts.flatMap(({ rounds, need }) => rounds.map((r) => r.high + need)),
  );
  const widest = new Float64Array(top > 0 ? Math.ceil(top / OUTLINE_STEP) + 1 : 0);
  for (let i = 0; i < widest.length; i++) {
    widest[i] = i > 0 ? widest[i - 1]! : 0;
    for (const { rounds, need } of aparts) {
      for (const round of rounds) {
        widest[i] = Math.max(
          widest[i]!,
          grown(round, need, i * OUTLINE_STEP, (i + 1) * OUTLINE_STEP),
        );
      }
    }
  }
  return widest;
}

/**
 * The widest radius within `need` of a round piece between two heights, mm: rims grow to rings of the
 * section of a circle, the flank is shifted along its normal.
 */
function grown(
  { low, lowRadius, high, highRadius }: Frustum,
  need: number,
  from: number,
  to: number,
): number {
  const rim = (at: number, radius: number): number => {
    const off = Math.max(0, from - at, at - to);
    return off < need ? radius + Math.sqrt(need * need - off * off) : 0;
  };
  let most = Math.max(rim(low, lowRadius), rim(high, highRadius));
  const [rise, widen] = [high - low, highRadius - lowRadius];
  const long = Math.hypot(rise, widen);
  if (!(rise > 0)) return most;
  // The shifted flank runs between these two; it is widest at an end of its heights or of from .. to.
  const [down, out] = [(-need * widen) / long, (need * rise) / long];
  for (const s of [from, to, low + down, high + down]) {
    if (s < Math.max(from, low + down) || s > Math.min(to, high + down)) continue;
    most = Math.max(most, lowRadius + ((s - down - low) / rise) * widen + out);
  }
  return most;
}

/**
 * How far a plane may lean against the direction so that the head, with its tip on or over the plane,
 * keeps clear of all that lies under the plane, rad: seen from the tip, no rim comes nearer than its
 * need to a line of that slope.
 */
function leanOf({ under }: SearchLimits): number {
  let least = Math.PI / 2;
  for (const { rounds, need } of under) {
    for (const { low, lowRadius, high, highRadius } of rounds) {
      for (const [above, radius] of [
        [low, lowRadius],
        [high, highRadius],
      ] as const) {
        const away = Math.hypot(above, radius);
        // The tip alone, of a head like a needle.
        if (away === 0) continue;
        const lean = Math.atan2(above, radius) - Math.asin(Math.min(1, need / away));
        least = Math.min(least, Math.max(0, lean));
      }
    }
  }
  return least;
}

/** A plane, the points x with x.normal = offset (mm), and the direction of what is built on it. */
export interface BasePlane {
  readonly normal: Vec3;
  readonly offset: number;
  readonly direction: Vec3;
}

/** A point of the rest that the head would meet, in the part frame. */
export function headMeets(
  piece: Mesh,
  rest: Mesh,
  base: BasePlane,
  head: HeadTable,
): Vec3 | undefined {
  const tables = [{ table: head.beside, sign: 1 }];
  if (angle(base.normal, base.direction) > head.lean + 1e-6) {
    tables.push({ table: head.under, sign: -1 });
  }
  const turn = buildFromPart(base.direction);
  const turned = applyPoints(turn, piece.vertices);
  const other = applyPoints(turn, rest.vertices);
  const widest = Math.max(...tables.map(({ table }) => table.at(-1) ?? 0));
  if (widest === 0) return undefined;
  const field = fieldAround(turned, widest);
  const tips = new Columns(field, -1);
  tips.lay(piece, turned, []);
  const low = tips.blocks();
  for (const { table, sign } of tables) {
    if (table.length === 0) continue;
    const [x, y, z] = [0, 1, 2].map((k) => sign * dot(base.normal, axisOf(turn, k)));
    const tall = new Columns(field, 1);
    tall.lay(rest, other, [
      { x: 0, y: 0, z: 1, over: field.floor + LOWEST },
      { x: x!, y: y!, z: z!, over: sign * (base.offset + LOWEST) },
    ]);
    const hit = clash(low, tall.blocks(), table);
    if (hit) return back(turn, hit);
  }
  return undefined;
}

/** Row k of the rotation: axis k of the turned frame, in the part frame. */
const axisOf = (f: Frame, k: number): Vec3 => [f[k]!, f[4 + k]!, f[8 + k]!];

/** The inverse rotation; a build frame has no shift. */
const back = (f: Frame, p: Vec3): Vec3 => [
  f[0]! * p[0] + f[1]! * p[1] + f[2]! * p[2],
  f[4]! * p[0] + f[5]! * p[1] + f[6]! * p[2],
  f[8]! * p[0] + f[9]! * p[1] + f[10]! * p[2],
];

/** The rectangle in which anything can meet the head. */
interface SampleField {
  readonly x: number;
  readonly y: number;
  readonly columns: number;
  readonly rows: number;
  /** The lowest tip place, mm. */
  readonly floor: number;
}

function fieldAround(p: Float64Array, reach: number): SampleField {
  const least = [Infinity, Infinity, Infinity];
  const most = [-Infinity, -Infinity];
  for (let i = 0; i < p.length; i += 3) {
    for (let c = 0; c < 3; c++) if (p[i + c]! < least[c]!) least[c] = p[i + c]!;
    for (let c = 0; c < 2; c++) if (p[i + c]! > most[c]!) most[c] = p[i + c]!;
  }
  const side = COLUMN * BLOCK_COLUMNS;
  const count = (c: number): number =>
    BLOCK_COLUMNS * Math.max(1, Math.ceil((most[c]! - least[c]! + 2 * reach) / side));
  return {
    x: least[0]! - reach,
    y: least[1]! - reach,
    columns: count(0),
    rows: count(1),
    floor: least[2]!,
  };
}

interface PointBlock {
  readonly x: number;
  readonly y: number;
  extreme: number;
  /** Packed xyz. */
  readonly points: number[];
}

/** The points whose product with (x, y, z) is more than `over`. */
interface HalfSpace {
  readonly x: number;
  readonly y: number;
  readonly z: number;
  readonly over: number;
}

/** For each point a bit for every half that it is not in. */
function outside(p: Float64Array, halves: readonly HalfSpace[]): Uint8Array {
  const out = new Uint8Array(p.length / 3);
  halves.forEach(({ x, y, z, over }, i) => {
    for (let v = 0, at = 0; v < out.length; v++, at += 3) {
      if (!(x * p[at]! + y * p[at + 1]! + z * p[at + 2]! > over)) out[v]! |= 1 << i;
    }
  });
  return out;
}

function within(halves: readonly HalfSpace[], x: number, y: number, z: number): boolean {
  for (const h of halves) if (!(h.x * x + h.y * y + h.z * z > h.over)) return false;
  return true;
}

/** The extreme point of each column of a field. */
class Columns {
  readonly #field: SampleField;
  readonly #sign: 1 | -1;
  readonly #points: Float64Array;

  /** @param sign 1 keeps the highest point of a column, -1 the lowest */
  constructor(field: SampleField, sign: 1 | -1) {
    this.#field = field;
    this.#sign = sign;
    this.#points = new Float64Array(3 * field.columns * field.rows).fill(NaN);
  }

  /** Lays a skin on the field: `p` are its turned vertices; what is not in all halves is left out. */
  lay({ triangles: t }: Mesh, p: Float64Array, halves: readonly HalfSpace[]): void {
    const out = outside(p, halves);
    for (let v = 0; v < out.length; v++) {
      if (out[v] === 0) this.#put(p[3 * v]!, p[3 * v + 1]!, p[3 * v + 2]!);
    }
    for (let i = 0; i < t.length; i += 3) {
      const [a, b, c] = [t[i]!, t[i + 1]!, t[i + 2]!];
      if ((out[a]! & out[b]! & out[c]!) !== 0) continue;
      const longest = Math.max(gap2(p, a, b), gap2(p, b, c), gap2(p, c, a));
      if (longest <= SAMPLE_SPACING * SAMPLE_SPACING) continue;
      const k = Math.ceil(Math.sqrt(longest) / SAMPLE_SPACING);
      this.#spread(p, 3 * a, 3 * b, 3 * c, k, (out[a]! | out[b]! | out[c]!) === 0 ? [] : halves);
    }
  }

  /** Samples of a triangle with k steps along each edge. */
  #spread(
    p: Float64Array,
    a: number,
    b: number,
    c: number,
    k: number,
    halves: readonly HalfSpace[],
  ): void {
    for (let j = 0; j <= k; j++) {
      for (let l = 0; l <= k - j; l++) {
        const u = j / k;
        const w = l / k;
        const s = 1 - u - w;
        const x = s * p[a]! + u * p[b]! + w * p[c]!;
        const y = s * p[a + 1]! + u * p[b + 1]! + w * p[c + 1]!;
        const z = s * p[a + 2]! + u * p[b + 2]! + w * p[c + 2]!;
        if (within(halves, x, y, z)) this.#put(x, y, z);
      }
    }
  }

  #put(x: number, y: number, z: number): void {
    const field = this.#field;
    const i = Math.floor((x - field.x) / COLUMN);
    const j = Math.floor((y - field.y) / COLUMN);
    if (i < 0 || j < 0 || i >= field.columns || j >= field.rows) return;
    const points = this.#points;
    const at = 3 * (j * field.columns + i);
    if (points[at + 2]! * this.#sign >= z * this.#sign) return;
    points[at] = x;
    points[at + 1] = y;
    points[at + 2] = z;
  }

  blocks(): PointBlock[] {
    const { columns, rows } = this.#field;
    const out: PointBlock[] = [];
    for (let y = 0; y < rows / BLOCK_COLUMNS; y++) {
      for (let x = 0; x < columns / BLOCK_COLUMNS; x++) {
        const block: PointBlock = { x, y, extreme: NaN, points: [] };
        for (let k = 0; k < BLOCK_COLUMNS * BLOCK_COLUMNS; k++) {
          const j = y * BLOCK_COLUMNS + Math.floor(k / BLOCK_COLUMNS);
          const at = 3 * (j * columns + x * BLOCK_COLUMNS + (k % BLOCK_COLUMNS));
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

const gap2 = (p: Float64Array, a: number, b: number): number =>
  (p[3 * a]! - p[3 * b]!) ** 2 +
  (p[3 * a + 1]! - p[3 * b + 1]!) ** 2 +
  (p[3 * a + 2]! - p[3 * b + 2]!) ** 2;

const widthAt = (head: RadiusTable, above: number): number =>
  head[Math.min(head.length - 1, Math.floor(above / OUTLINE_STEP))]!;

function clash(
  tips: readonly PointBlock[],
  tall: readonly PointBlock[],
  head: RadiusTable,
): Vec3 | undefined {
  const side = COLUMN * BLOCK_COLUMNS;
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
  { points: tips, extreme }: PointBlock,
  tall: readonly number[],
  head: RadiusTable,
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
