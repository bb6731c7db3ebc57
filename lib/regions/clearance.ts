/**
 * Does the head keep clear of what is already there while a piece is printed? The tip visits every
 * place of the piece with the head standing along the build direction, so in a plane square to it
 * the head is a disc whose radius depends on the height over the tip. Rest and piece are laid on a
 * grid in that plane: of the rest the highest point in each cell, of the piece the lowest. Two cells
 * clash if the head, on the lowest tip place of one, is at the height of the other wide enough to
 * reach it. Cells count as their whole square, so the answer errs towards a clash, by at most the
 * diagonal of a cell. Points against points is exact for vertices, and 40 times slower on 4,000.
 */
import { type Frame, applyPoints, buildFromPart } from '../base/frame.js';
import type { Mesh } from '../base/mesh.js';
import type { Vec3 } from '../base/vector.js';
import type { SearchLimits } from './limits.js';

/** Side of a cell, mm. */
const CELL = 1.5;

/**
 * @returns true if the head meets the rest somewhere, the piece's own base apart
 */
export function headMeets(piece: Mesh, rest: Mesh, d: Vec3, limits: SearchLimits): boolean {
  const turn = buildFromPart(d);
  const tips = gridOf(piece, turn, Math.min);
  const over = gridOf(rest, turn, Math.max);
  let floor = Infinity;
  for (const low of tips.values.values()) floor = Math.min(floor, low);
  const tall = [...over.values].filter(([, high]) => high > floor + LOWEST);
  if (tall.length === 0) return false;
  const widest = widestUpTo(limits);
  const reach = Math.ceil(limits.headMost / CELL) + 1;
  for (const [key, high] of tall) {
    const [x, y] = cellOf(key);
    for (let dx = -reach; dx <= reach; dx++) {
      for (let dy = -reach; dy <= reach; dy++) {
        const low = tips.values.get(keyOf(x + dx, y + dy));
        if (low === undefined) continue;
        const above = high - low;
        if (above <= LOWEST) continue;
        const gap = CELL * Math.hypot(Math.max(0, Math.abs(dx) - 1), Math.max(0, Math.abs(dy) - 1));
        if (gap < widest(above)) return true;
      }
    }
  }
  return false;
}

/** What rises less than this over the tip is passed over by the bead itself, mm. */
const LOWEST = 0.05;

/** Steps of the outline's table, mm. */
const STEP = 0.25;

/** Greatest radius of the head up to each height over the tip: below its top the rest is solid. */
function widestUpTo(limits: SearchLimits): (above: number) => number {
  const table = new Float64Array(Math.ceil(limits.headTop / STEP) + 2);
  for (let i = 1; i < table.length; i++) {
    table[i] = Math.max(
      table[i - 1]!,
      limits.headRadius(i * STEP),
      limits.headRadius((i - 0.5) * STEP),
    );
  }
  return (above) => table[Math.min(table.length - 1, Math.ceil(above / STEP))]!;
}

interface Grid {
  readonly values: ReadonlyMap<number, number>;
}

const OFFSET = 1 << 20;
const keyOf = (x: number, y: number): number => (x + OFFSET) * 2 * OFFSET + (y + OFFSET);
const cellOf = (key: number): [number, number] => {
  const x = Math.floor(key / (2 * OFFSET));
  return [x - OFFSET, key - x * 2 * OFFSET - OFFSET];
};

/** Extreme height of the surface in each cell; facets are walked so finely that no cell is passed over. */
function gridOf(mesh: Mesh, turn: Frame, pick: (a: number, b: number) => number): Grid {
  const p = applyPoints(turn, mesh.vertices);
  const values = new Map<number, number>();
  const put = (x: number, y: number, z: number): void => {
    const key = keyOf(Math.floor(x / CELL), Math.floor(y / CELL));
    const known = values.get(key);
    values.set(key, known === undefined ? z : pick(known, z));
  };
  const t = mesh.triangles;
  for (let i = 0; i < t.length; i += 3) {
    const [a, b, c] = [3 * t[i]!, 3 * t[i + 1]!, 3 * t[i + 2]!];
    const span = Math.max(
      Math.hypot(p[b]! - p[a]!, p[b + 1]! - p[a + 1]!),
      Math.hypot(p[c]! - p[a]!, p[c + 1]! - p[a + 1]!),
      Math.hypot(p[c]! - p[b]!, p[c + 1]! - p[b + 1]!),
    );
    const n = Math.max(1, Math.ceil((2 * span) / CELL));
    for (let j = 0; j <= n; j++) {
      for (let k = 0; k <= n - j; k++) {
        const [u, v] = [j / n, k / n];
        const w = 1 - u - v;
        put(
          w * p[a]! + u * p[b]! + v * p[c]!,
          w * p[a + 1]! + u * p[b + 1]! + v * p[c + 1]!,
          w * p[a + 2]! + u * p[b + 2]! + v * p[c + 2]!,
        );
      }
    }
  }
  return { values };
}
