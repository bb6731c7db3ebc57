/**
 * On which side of what is printed the head stands while curved layers are laid. Where the growth closes on itself, as
 * under a belly or in the crown of a cavity, a head along it comes near the beads across, and one that leans to that side
 * touches them. At places along a path the room between them is measured, and how it grows as the head leans: to first
 * order the directions with room enough are those on one side of a plane, and the tube of directions (head-tube.ts) is
 * cut by it. Where the growth itself has too little room the head is aimed to that side, and where the lean is not enough
 * for that, up to MOST_ASIDE from the growth: a nozzle that digs 0.1 mm into one side of its bead is better than a head in
 * the part. It is the nearest thing that counts at each place; whether all of them are clear is found on the finished
 * blocks.
 *
 * Cost: a few distances a place, three to a dozen more where something is near.
 */
import {
  DEG,
  type Vec3,
  add,
  angle,
  cross,
  dot,
  length,
  pointAt,
  scale,
  square,
  sub,
  unit,
} from '../../base/vector.js';
import { type ClearancePair, gapAt } from '../../clearance/convex/conservative-advancement.js';
import { RUBBED_OVER } from '../../clearance/machine-bodies.js';
import { pairsOf } from '../../clearance/scene.js';
import { marginsUnder } from '../../machine/head.js';
import type { Paths } from '../../paths/paths.js';
import type { GrowingPart } from './growing-part.js';
import type { HeadDirection } from './head-direction.js';
import type { HeadTube } from './head-tube.js';
import type { HeadTurn } from './head-turn.js';
import { turnedJoints } from './turned-joints.js';

/**
 * Places along a path are so far apart, mm, or in the direction of growth, cosine, and nearer together where there is no
 * more room than was sought; its ends are among them, and its corners, cosine.
 */
const ASIDE_SPACING = 2;
const TIGHT_SPACING = 0.3;
/** A side that leaves the head less than this is tight, rad. */
const TIGHT_SLACK = 0.01;
const ASIDE_TURN = Math.cos(3 * DEG);
const ASIDE_CORNER = Math.cos(30 * DEG);
/** Room over what must be kept that is sought, mm. */
const ROOM_KEPT = 0.05;
/** Of the height of a piece of the head over layers that are level, less what it keeps: more room than that is enough. */
const ENOUGH_SHARE = 0.6;
/** The same beside what stands on the table, mm. */
const ENOUGH_BESIDE = 0.5;
/** By so much the head leans to find how its room grows, rad. */
const TRIED_LEAN = 0.02;
/** A room that grows less than this as the head leans is not to be had by leaning, mm for each rad. */
const LEAST_GROWTH = 0.5;
const ASIDE_STEPS = 4;
/** So far the head may stand from the growth where nothing less has room enough, rad. */
const MOST_ASIDE = 15 * DEG;
/** Directions that differ by less are one: cosine. */
const SIDE_ROUNDING = 1e-9;

/**
 * The room that a head has at a place before a path is laid: the least distance from what is printed, less what it must
 * keep, mm; Infinity where that is enough.
 */
export type RoomOf = (path: number, tip: Vec3, turn: HeadTurn) => number;

/** Among what is printed while a run of curved layers grows. */
export function roomAmong(growth: GrowingPart, region: number): RoomOf {
  const { machine, bodies, search, still } = growth.setting;
  const enough = new Map<unknown, number>([[bodies.head, ENOUGH_BESIDE]]);
  marginsUnder(machine).forEach(({ from, need }, i) =>
    enough.set(bodies.overBase[i]!.body, ENOUGH_SHARE * (from - need)),
  );
  enough.set(bodies.overSheet, ENOUGH_SHARE * RUBBED_OVER);
  const pairsBefore = (path: number): ClearancePair[] =>
    pairsOf(growth.sceneOnSheets(region, path), region, false)
      .filter(({ body, rough }) => rough && enough.has(body))
      .map((pair) => growth.inSpace(pair));
  let [known, pairs] = [-1, pairsBefore(0)];
  return (path, tip, turn) => {
    if (path !== known) [known, pairs] = [path, pairsBefore(path)];
    const joints = turnedJoints(machine, tip, turn, machine.ready);
    let least = Infinity;
    for (const pair of pairs) {
      const within = pair.need + Math.min(least, enough.get(pair.body)!);
      const near = gapAt(machine, search, pair, joints, still, within, 0);
      if (near) least = near.gap - pair.need;
    }
    return least;
  };
}

/** What is asked of the head at a place near something. */
interface Aside {
  /** The head's direction grows in room towards this side, a unit vector. */
  readonly side: Vec3;
  /** Where it is aimed. */
  readonly aim: Vec3;
  /** How far its product with the side may lie under that of the aim. */
  readonly slack: number;
}

/**
 * Cuts the tube along a path, in place.
 * @param first point of the tube
 * @param at values of the rotary joints before the path
 */
export function keepAside(
  head: HeadDirection,
  tube: HeadTube,
  { points, start }: Paths,
  path: number,
  first: number,
  at: HeadTurn,
  room: RoomOf,
): void {
  let turn = at;
  const asideAt = (k: number): Aside | undefined => {
    const tip = pointAt(points, k);
    const roomAlong = (d: Vec3): number => {
      const found = head.nearest(d, ...turn);
      return found ? room(path, tip, found) : -Infinity;
    };
    turn = head.nearest(pointAt(tube.aims, k - first), ...turn) ?? turn;
    return soughtAside(tube, k - first, aimed, roomAlong);
  };
  let before: Aside | undefined;
  let [last, gone] = [start[path]!, 0];
  let grown = pointAt(tube.aims, last - first);
  let aimed = grown;
  for (let k = start[path]!; k < start[path + 1]!; k++) {
    if (k > last) gone += length(sub(pointAt(points, k), pointAt(points, k - 1)));
    const ends = k === start[path] || k + 1 === start[path + 1] || isCorner(points, k);
    const turns = dot(pointAt(tube.aims, k - first), grown) < ASIDE_TURN;
    const isTight = before !== undefined && before.slack < TIGHT_SLACK;
    const spacing = isTight ? TIGHT_SPACING : ASIDE_SPACING;
    if (!ends && !turns && gone < spacing) continue;
    grown = pointAt(tube.aims, k - first);
    const found = asideAt(k);
    aimed = found?.aim ?? grown;
    if (k === last) cut(tube, k - first, found, found, 1);
    for (let i = last + 1; i <= k; i++)
      cut(tube, i - first, before, found, (i - last) / (k - last));
    [before, last, gone] = [found, k, 0];
  }
}

function isCorner(points: Float64Array, k: number): boolean {
  const at = pointAt(points, k);
  const [from, to] = [sub(at, pointAt(points, k - 1)), sub(pointAt(points, k + 1), at)];
  return dot(from, to) < ASIDE_CORNER * length(from) * length(to);
}

/** What is asked of the head at a point of the tube; undefined with room enough, or where no side has more. */
function soughtAside(
  { growth, aims, leastCosine, leastZ }: HeadTube,
  k: number,
  before: Vec3,
  roomAlong: (d: Vec3) => number,
): Aside | undefined {
  const [axis, aim] = [pointAt(growth, k), pointAt(aims, k)];
  const room = roomAlong(aim);
  // Enough, or out of the joints' reach.
  if (!Number.isFinite(room)) return undefined;
  const cosine = Math.min(leastCosine[k]!, Math.cos(MOST_ASIDE));
  const cone = { axis, cosine, leastZ: leastZ[k]! };
  const [found, got] = uphill(cone, aim, room, roomAlong);
  if (got >= 0) return found;
  const around = allAround(cone, before, roomAlong);
  return around && around.room > got ? uphill(cone, around.aim, around.room, roomAlong)[0] : found;
}

/** Directions about the growth: no farther from it than a cosine, and no flatter than a least z. */
interface LeanCone {
  readonly axis: Vec3;
  readonly cosine: number;
  readonly leastZ: number;
}

/** Goes from a direction to where there is more room, until there is enough; with the room there. */
function uphill(
  cone: LeanCone,
  from: Vec3,
  given: number,
  roomAlong: (d: Vec3) => number,
): readonly [Aside | undefined, number] {
  let [aim, room] = [from, given];
  let found: Aside | undefined;
  for (let n = 0; n < ASIDE_STEPS && room < Infinity; n++) {
    const rise = growthOf(aim, room, roomAlong);
    const steep = length(rise);
    if (steep < LEAST_GROWTH) break;
    const side = scale(rise, 1 / steep);
    const lacks = (ROOM_KEPT - room) / steep;
    found = { side, aim, slack: Math.max(0, -lacks) };
    if (lacks <= 0) break;
    const next = within(cone, unit(add(aim, scale(side, Math.tan(Math.min(lacks, 1))))));
    const more = roomAlong(next);
    if (more <= room || next[2] < cone.leastZ) break;
    [aim, room] = [next, more];
    found = { side, aim, slack: 0 };
  }
  return [found, room];
}

/**
 * The direction with room enough that is nearest to the growth and to where the head was aimed before, else the one with
 * most; among rings about the growth, for between several things the way to more room is not always uphill.
 */
function allAround(
  { axis, cosine, leastZ }: LeanCone,
  before: Vec3,
  roomAlong: (d: Vec3) => number,
): { readonly aim: Vec3; readonly room: number } | undefined {
  const u = square(axis);
  const v = cross(axis, u);
  let best: { aim: Vec3; room: number; off: number } | undefined;
  for (let ring = 1; ring <= RINGS; ring++) {
    const lean = (Math.acos(cosine) * ring) / RINGS;
    for (let i = 0; i < RING_DIRECTIONS; i++) {
      const turn = (2 * Math.PI * (i + ring / 2)) / RING_DIRECTIONS;
      const way = add(scale(u, Math.cos(turn)), scale(v, Math.sin(turn)));
      const aim = add(scale(axis, Math.cos(lean)), scale(way, Math.sin(lean)));
      if (aim[2] < leastZ) continue;
      const room = Math.min(ROOM_KEPT, roomAlong(aim));
      const off = lean + angle(aim, before);
      const isBetter = !best || room > best.room || (room === best.room && off < best.off);
      if (isBetter) best = { aim, room, off };
    }
  }
  return best;
}

const RINGS = 3;
const RING_DIRECTIONS = 12;

/** How the room grows as the head leans, mm for each rad along two ways square to it. */
function growthOf(d: Vec3, room: number, roomAlong: (d: Vec3) => number): Vec3 {
  const u = square(d);
  const rates = [u, cross(d, u)].map((way) => {
    const there = roomAlong(unit(add(d, scale(way, TRIED_LEAN))));
    const more = Number.isFinite(there) ? there - room : Math.sign(there) * TRIED_LEAN;
    return scale(way, more / TRIED_LEAN);
  }) as [Vec3, Vec3];
  return add(...rates);
}

/** A direction, or the nearest one in a cone. */
function within({ axis, cosine }: LeanCone, d: Vec3): Vec3 {
  const along = dot(d, axis);
  if (along >= cosine) return d;
  const off = unit(sub(d, scale(axis, along)));
  return add(scale(axis, cosine), scale(off, Math.sqrt(1 - cosine * cosine)));
}

/** Cuts the tube at a point between two places: what is asked there fades towards one at which nothing is. */
function cut(
  tube: HeadTube,
  k: number,
  before: Aside | undefined,
  after: Aside | undefined,
  share: number,
): void {
  const [from, to] = [before ?? after, after ?? before];
  if (!from || !to) return;
  const blend = (a: Vec3, b: Vec3): Vec3 => unit(add(scale(a, 1 - share), scale(b, share)));
  const { growth, aims, sides, leastCosine, leastSide } = tube;
  const own = pointAt(aims, k);
  const [side, aim] = [blend(from.side, to.side), blend(before?.aim ?? own, after?.aim ?? own)];
  const slack = (1 - share) * (before?.slack ?? NO_SIDE) + share * (after?.slack ?? NO_SIDE);
  aims.set(aim, 3 * k);
  sides.set(side, 3 * k);
  leastSide[k] = dot(side, aim) - slack - SIDE_ROUNDING;
  // What stands farther from the growth than the lean is about the aim, and no wider than needs be.
  if (dot(aim, pointAt(growth, k)) >= leastCosine[k]!) return;
  growth.set(aim, 3 * k);
  leastCosine[k] = BEYOND_LEAN;
}

/** How near the head keeps to an aim beyond the lean: cosine. */
const BEYOND_LEAN = Math.cos(1 * DEG);
/** Slack with which a side asks nothing: more than the sine of any lean. */
const NO_SIDE = 0.5;
