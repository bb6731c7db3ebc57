/**
 * How high the beads are. Of a region in one direction: the step of a level of the tip over the level
 * before. Where the head turns as it lays there are no levels, but the marks of the program say which layer
 * each bead is of: it is as high as its axis is long from the tip down to a plane through the layer before
 * (sheets.ts), or to the table, if that comes first.
 */
import { type Beads, frameOf, middleOf } from './beads.js';
import type { Vec } from './chain.js';
import type { Moves } from './program.js';
import { Sheets } from './sheets.js';

/** Heads that turn by less keep their direction, as the length of a difference of unit vectors. */
const TURNS = 1e-3;
/** Layers under one that are asked, the next first: one may end short of a place. */
const LAYERS_DOWN = 3;
/** A bead is higher than this and not higher than that, mm. */
const LOWEST = 0.02;
const HIGHEST = 0.8;

/** Fills in the heights. @returns regions in which the head turns while it lays */
export function findHeights(beads: Beads, moves: Moves): ReadonlySet<number> {
  const turning = turningRegions(beads, moves);
  const levels = levelHeights(beads, moves);
  const sheets = new Sheets(beads, moves);
  const unknown: number[] = [];
  for (let i = 0; i < beads.count; i++) {
    const b = beads.block[i]!;
    const level = levels[i]!;
    beads.height[i] = turning.has(moves.region[b]!) ? heightOver(beads, moves, sheets, i) : level;
    if (beads.height[i] === 0 && turning.has(moves.region[b]!)) unknown.push(i);
  }
  const known = beads.height.filter((h) => h > 0).sort();
  for (const i of unknown) beads.height[i] = known[known.length >> 1] ?? HIGHEST / 4;
  return turning;
}

function turningRegions({ count, up, block }: Beads, { region }: Moves): Set<number> {
  const first = new Map<number, Vec>();
  const out = new Set<number>();
  for (let i = 0; i < 2 * count; i++) {
    const d = [up[3 * i]!, up[3 * i + 1]!, up[3 * i + 2]!] as const;
    const r = region[block[i >> 1]!]!;
    const known = first.get(r);
    if (!known) first.set(r, d);
    else if (Math.hypot(d[0] - known[0], d[1] - known[1], d[2] - known[2]) > TURNS) out.add(r);
  }
  return out;
}

/** 0 where neither a layer before nor the table lies under a bead. */
function heightOver(beads: Beads, { region, layer }: Moves, sheets: Sheets, i: number): number {
  const b = beads.block[i]!;
  const p = middleOf(beads, i);
  const { up } = frameOf(beads, i);
  const toTable = up[2] > 0 ? p[2] / up[2] : Infinity;
  let least = toTable > LOWEST ? toTable : Infinity;
  for (let k = 1; k <= LAYERS_DOWN; k++) {
    const plane = sheets.plane(region[b]!, layer[b]! - k, p, up);
    if (!plane || plane.depth < LOWEST) continue;
    least = Math.min(least, plane.depth);
    break;
  }
  return least < HIGHEST ? least : 0;
}

/** The step of a bead's level over the level before in its region, mm. */
function levelHeights({ count, tip, up, block }: Beads, { region }: Moves): Float64Array {
  const level = new Float64Array(count);
  const of = new Map<number, Set<number>>();
  for (let i = 0; i < count; i++) {
    const at = 6 * i + 3;
    const height = tip[at]! * up[at]! + tip[at + 1]! * up[at + 1]! + tip[at + 2]! * up[at + 2]!;
    level[i] = Math.round(height * 100);
    const r = region[block[i]!]!;
    if (!of.has(r)) of.set(r, new Set());
    of.get(r)!.add(level[i]!);
  }
  const steps = new Map<string, number>();
  for (const [r, levels] of of) {
    const rising = [...levels].sort((a, b) => a - b);
    // Levels of hundredths that rounding has parted are one.
    const clean = rising.filter((v, i) => i === 0 || v - rising[i - 1]! > 2);
    rising.forEach((v) => {
      const i = clean.findLastIndex((w) => w <= v);
      const step = i > 0 ? clean[i]! - clean[i - 1]! : (clean[1] ?? clean[0]! + 20) - clean[0]!;
      steps.set(`${r} ${v}`, step / 100);
    });
  }
  return level.map((v, i) => steps.get(`${region[block[i]!]!} ${v}`) ?? 0);
}
