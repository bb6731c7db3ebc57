/**
 * Which regions must be printed before which. Two reasons count: a region stands on another, or the other,
 * once it is printed, stands in the head's way. The second is decided exactly, over every bead of both: the
 * head goes along all paths of the one and must keep its clearance from all beads of the other. The head
 * counts as round, since its angle about its own axis is not known yet. Where not all clearances can be
 * kept, an order in which nothing touches is a good one, and what comes near is reported by the motion
 * stage.
 */
import type { Machine } from '../machine/machine.js';
import type { Paths } from '../paths/paths.js';
import type { Region } from '../regions/region.js';
import { type Hindrance, HindranceSearch } from './head-in-the-way.js';

export interface Precedence {
  /** For each region those that must be printed before it. */
  readonly before: number[][];
  /** Pairs of which one would touch the other, and that must come in just that order. */
  readonly cycles: readonly Hindrance[];
}

export function precedence(
  machine: Machine,
  regions: readonly Region[],
  pathsOf: readonly Paths[],
): Precedence {
  const before = regions.map((r) => [...r.standsOn]);
  const ways = new HindranceSearch(machine, regions, pathsOf);
  const hindrances = hindrancesOf(ways, regions);
  const cycles: Hindrance[] = [];
  // Edges that the given order satisfies come first; they cannot close a cycle.
  const kept = (h: Hindrance): boolean => h.hindered < h.by;
  for (const h of [...hindrances.filter(kept), ...hindrances.filter((x) => !kept(x))]) {
    if (!comesBefore(before, h.by, h.hindered)) before[h.by]!.push(h.hindered);
    else {
      const touch = ways.touch(h.hindered, h.by);
      if (touch) cycles.push(touch);
    }
  }
  return { before, cycles };
}

/** True if region a must come before region b through any chain. */
export function comesBefore(before: readonly (readonly number[])[], a: number, b: number): boolean {
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

function hindrancesOf(ways: HindranceSearch, regions: readonly Region[]): Hindrance[] {
  const stands = regions.map((r) => r.standsOn);
  return regions.flatMap((_, i) =>
    regions.flatMap((_, j): Hindrance[] => {
      // What region i stands on is there whatever the order.
      if (i === j || comesBefore(stands, j, i)) return [];
      const met = ways.hindrance(i, j);
      return met ? [met] : [];
    }),
  );
}
