/**
 * The laying order of the beads of a layer, greedily nearest first: piece by piece, inside a piece rank
 * by rank, groups whole, open beads reversed where that is nearer. The first bead is the one that
 * starts nearest to the layer's own corner, never to where another layer ended: layers may be planned
 * independently of each other.
 */
import { NO_GROUP, type Bead, reversed } from '../layer-bead.js';
import { boxOf } from '../../polygon/loops.js';
import { type NearestFree, nearestOf } from './nearest-free.js';

export function sequence(beads: readonly Bead[]): Bead[] {
  if (beads.length === 0) return [];
  const groups = groupsOf(beads);
  const entries = entryPoints(groups.map((ranks) => ranks[0]!));
  const out: Bead[] = [];
  let [x, y] = cornerOf(beads);
  for (let left = groups.length; left > 0; left--) {
    const piece = entries.owner(entries.tree.find(x, y));
    entries.take(piece);
    for (const rank of groups[piece]!) [x, y] = layNearest(rank, x, y, out);
  }
  return out;
}

/** Beads by piece, then by rank. */
function groupsOf(beads: readonly Bead[]): Bead[][][] {
  const pieces = new Map<number, Map<number, Bead[]>>();
  for (const b of beads) {
    let ranks = pieces.get(b.piece);
    if (!ranks) pieces.set(b.piece, (ranks = new Map()));
    const rank = ranks.get(b.rank);
    if (rank) rank.push(b);
    else ranks.set(b.rank, [b]);
  }
  const byKey = <T>(map: Map<number, T>): T[] =>
    [...map.entries()].sort(([a], [b]) => a - b).map(([, v]) => v);
  return byKey(pieces).map(byKey);
}

function layNearest(beads: readonly Bead[], x: number, y: number, out: Bead[]): [number, number] {
  const units = unitsOf(beads);
  const entries = entryPoints(units.map((unit) => [unit[0]!]));
  for (let left = units.length; left > 0; left--) {
    const entry = entries.tree.find(x, y);
    const i = entries.owner(entry);
    entries.take(i);
    const [first, ...others] = units[i]!;
    out.push(entries.atEnd(entry) ? reversed(first!) : first!, ...others);
    const b = out[out.length - 1]!;
    const end = b.closed ? 0 : b.xy.length - 2;
    x = b.xy[end]!;
    y = b.xy[end + 1]!;
  }
  return [x, y];
}

/** Beads that are chosen together: a group, or one alone. */
function unitsOf(beads: readonly Bead[]): Bead[][] {
  const groups = new Map<number, Bead[]>();
  const units: Bead[][] = [];
  for (const b of beads) {
    const unit = b.group === NO_GROUP ? undefined : groups.get(b.group);
    if (unit) unit.push(b);
    else {
      const fresh = [b];
      units.push(fresh);
      if (b.group !== NO_GROUP) groups.set(b.group, fresh);
    }
  }
  return units;
}

interface EntryPoints {
  readonly tree: NearestFree;
  owner(entry: number): number;
  atEnd(entry: number): boolean;
  /** Takes all entry points of an owner away. */
  take(owner: number): void;
}

/** The points at which the beads of each owner can start: the start, and the end if open. */
function entryPoints(owners: readonly (readonly Bead[])[]): EntryPoints {
  const x: number[] = [];
  const y: number[] = [];
  const owner: number[] = [];
  const end: boolean[] = [];
  const first: number[] = [];
  owners.forEach((beads, i) => {
    first.push(x.length);
    for (const b of beads) {
      for (const at of b.closed ? [0] : [0, b.xy.length - 2]) {
        x.push(b.xy[at]!);
        y.push(b.xy[at + 1]!);
        owner.push(i);
        end.push(at > 0);
      }
    }
  });
  first.push(x.length);
  const tree = nearestOf(Float64Array.from(x), Float64Array.from(y));
  return {
    tree,
    owner: (entry) => owner[entry]!,
    atEnd: (entry) => end[entry]!,
    take(i) {
      for (let entry = first[i]!; entry < first[i + 1]!; entry++) tree.take(entry);
    },
  };
}

function cornerOf(beads: readonly Bead[]): [number, number] {
  let x = Infinity;
  let y = Infinity;
  for (const b of beads) {
    const box = boxOf(b.xy);
    x = Math.min(x, box[0]);
    y = Math.min(y, box[1]);
  }
  return [x, y];
}
