/**
 * What must come before what: regions come in, for each region those that must be printed earlier go
 * out. Two reasons count: a region stands on another, or the other would stand in the head's way if
 * it came first. The second is judged on a grid of each region's build frame: over every place where
 * the tip goes, at the lowest height at which it goes there, the head must clear everything beside
 * it. Cells err to the safe side, so two regions may seem to be in one another's way; the order as
 * given, which the search for regions has already tried the head in, then decides.
 */
import type { Finding } from '../base/fault.js';
import { type Frame, buildFromPart } from '../base/frame.js';
import { clearanceAt, headRadius, headTop } from '../machine/head.js';
import type { Machine } from '../machine/machine.js';
import type { Region } from '../regions/region.js';
import { type Boxes, boxesOf, turnedBox } from './boxes.js';

/** Edge of a cell, mm. */
const CELL = 4;
/** What rises less than this over the tip is within what boxes forgive, mm. */
const LOWEST = 1.5;

/**
 * @returns `before[r]`: regions that must be printed before region r
 */
export function precedence(
  machine: Machine,
  regions: readonly Region[],
): { before: number[][]; findings: Finding[] } {
  const before = regions.map((r) => [...r.standsOn]);
  const findings: Finding[] = [];
  const blocks = blockedBy(machine, regions);
  // Edges that the given order keeps come first; they cannot close a circle.
  for (const [i, j] of blocks.filter(([i, j]) => i < j)) before[j]!.push(i);
  for (const [i, j] of blocks.filter(([i, j]) => i > j)) {
    if (comesBefore(before, j, i)) {
      if (!standsUpon(regions, i, j) && !blocks.some(([a, b]) => a === j && b === i)) {
        findings.push(inTheWay(i, j));
      }
      continue;
    }
    before[j]!.push(i);
  }
  return { before, findings };
}

function inTheWay(i: number, j: number): Finding {
  return {
    code: 'order/in-the-way',
    severity: 'warning',
    message: `while region ${i + 1} is printed the head passes near region ${j + 1}, which must come first`,
    at: { region: i },
  };
}

/** True if region a must come before region b through any chain. */
function comesBefore(before: readonly (readonly number[])[], a: number, b: number): boolean {
  const seen = new Set<number>();
  const open = [b];
  for (let r = open.pop(); r !== undefined; r = open.pop()) {
    if (r === a) return true;
    if (seen.has(r)) continue;
    seen.add(r);
    open.push(...before[r]!);
  }
  return false;
}

const standsUpon = (regions: readonly Region[], top: number, base: number): boolean =>
  comesBefore(
    regions.map((r) => r.standsOn),
    base,
    top,
  );

/** Pairs (i, j): region j, if it is there, is in the head's way while region i is printed. */
function blockedBy(machine: Machine, regions: readonly Region[]): [number, number][] {
  if (regions.length < 2) return [];
  const boxes = regions.map((r) => boxesOf(r.mesh));
  const free = freeHeights(machine);
  return regions.flatMap((region, i) => {
    const frame = buildFromPart(region.direction);
    const tips = columns(frame, boxes[i]!, 'lowest');
    return boxes.flatMap((other, j): [number, number][] =>
      // What region i stands on lies under it and is there whatever the order.
      j !== i && !standsUpon(regions, i, j) && blocks(tips, columns(frame, other, 'highest'), free)
        ? [[i, j]]
        : [],
    );
  });
}

interface Column {
  readonly x: number;
  readonly y: number;
  z: number;
}

/** Lowest or highest surface over each cell of the build frame; cell numbers and mm. */
function columns(frame: Frame, boxes: Boxes, which: 'lowest' | 'highest'): Column[] {
  const cells = new Map<number, Column>();
  for (let i = 0; i < boxes.length; i += 6) {
    const [x, y, z] = turnedBox(frame, boxes, i) as [
      [number, number],
      [number, number],
      [number, number],
    ];
    const cx = Math.floor((x[0] + x[1]) / 2 / CELL);
    const cy = Math.floor((y[0] + y[1]) / 2 / CELL);
    // The middle of the box's height: its size is less than what a cell forgives anyway.
    const height = (z[0] + z[1]) / 2;
    const key = (cx + 65536) * 131072 + cy + 65536;
    const cell = cells.get(key);
    if (!cell) cells.set(key, { x: cx, y: cy, z: height });
    else cell.z = which === 'highest' ? Math.max(cell.z, height) : Math.min(cell.z, height);
  }
  return [...cells.values()];
}

function blocks(
  tips: readonly Column[],
  others: readonly Column[],
  free: (aside: number) => number,
): boolean {
  const tall = [...others].sort((a, b) => b.z - a.z);
  for (const tip of tips) {
    for (const other of tall) {
      const rise = other.z - tip.z;
      if (rise <= LOWEST) break;
      const [dx, dy] = [other.x - tip.x, other.y - tip.y];
      const aside = CELL * Math.max(0, Math.sqrt(dx * dx + dy * dy) - Math.SQRT2);
      if (rise > free(aside)) return true;
    }
  }
  return false;
}

/** Heights over the tip at which the head's radius is asked, mm. */
const SLICE = 0.5;

/** Height over the tip up to which the head with its clearance is no wider than `aside`, mm. */
function freeHeights(machine: Machine): (aside: number) => number {
  const top = headTop(machine);
  const wide: number[] = [];
  let widest = 0;
  for (let k = 0; k * SLICE <= top; k++) {
    widest = Math.max(widest, headRadius(machine, k * SLICE) + clearanceAt(machine, k * SLICE));
    wide.push(widest);
  }
  return (aside) => {
    let low = 0;
    let high = wide.length;
    while (low < high) {
      const middle = (low + high) >> 1;
      if (wide[middle]! > aside) high = middle;
      else low = middle + 1;
    }
    return low === wide.length ? Infinity : Math.max(0, (low - 1) * SLICE);
  };
}
