/**
 * Links that leave a curved layer, and those inside one on which the head would swing away from the growth, as where a
 * cable is wound back. What was laid bulges between two places of a sheet and may stand beside the head
 * wherever it turns to, so no height over the layer is enough by itself: the tip rises along the growth, goes over in
 * a straight line while the rotary joints turn evenly, and comes down along the growth there, the lower of a few
 * heights at which nothing is in the way of head and tip for the whole of it. Where none of them is free the link is
 * planned like a move between regions.
 */
import { DEG, add, dot, length, scale, sub, unit } from '../../base/vector.js';
import type { ClearancePair } from '../../clearance/convex/conservative-advancement.js';
import { type Scene, pairsOf } from '../../clearance/scene.js';
import { forward } from '../../machine/forward.js';
import { rotaryPair } from '../../machine/inverse.js';
import type { Machine } from '../../machine/machine.js';
import { violationsOf } from '../transfer/travel-limits.js';
import type { BlockList, JointPolyline } from './blocks.js';
import type { GrowingPart } from './growing-part.js';
import type { RoomOf } from './keep-aside.js';
import { turnBetween } from './head-turn.js';
import type { Led, LinkEnd, SheetRun, Turned, TurningMover } from './mover.js';
import type { HeadTurns } from './lean-head.js';
import { TurningWay } from './turning-way.js';

/** What the tip keeps from what is printed while it goes over, mm; lower lifts keep half of themselves. */
const TIP_KEEPS = 0.4;
/** Heights that are tried after the job's own, over the clearance, mm. */
const LINK_HEIGHTS = [0.1, 2, 6, 16];

/** A run of curved layers, which also counts what of it is there. */
export interface GrowingSheets extends SheetRun {
  /** Of each block of the run so far: how many beads of the region are there while it is made. */
  grown(blocks: number): Uint32Array;
}

/**
 * @param lift the lowest height of links, mm
 * @param room of the head among what is printed
 * @param around a way to the start of a path, where none of the simple links is free
 */
export function growingSheets(
  run: { readonly region: number; readonly pathFrom: number },
  turns: HeadTurns,
  mover: TurningMover,
  blocks: BlockList,
  growth: GrowingPart,
  lift: number,
  room: RoomOf,
  around: (path: number, end: Float64Array) => readonly Float64Array[],
): GrowingSheets {
  const links = new SheetLinks(growth, run.region, lift);
  /** Block with which the way to each path begins. */
  const begins: number[] = [];
  return {
    turns,
    mover,
    mustLift: (path, way, from, to) =>
      swings(growth.setting.machine, blocks.now, from, to) ||
      lacksRoom(path, [from, ...way, to], room),
    begin: () => begins.push(blocks.count),
    link: (path, from, to) =>
      links.over(path, from, to, blocks.now, mover.led) ??
      around(path, mover.jointsAt(to.tip, to.turn)),
    grown(until) {
      const first = begins[0]!;
      const out = new Uint32Array(until - first);
      begins.forEach((block, i) => {
        out.fill(growth.beadsUntil(run.region, run.pathFrom + i), block - first);
      });
      return out;
    },
  };
}

/** Steps of a turn at which the head is looked at, rad. */
const SWING_STEP = 10 * DEG;
/** So far the head may stand from the growth on a link inside a sheet: as far as it may lean over fill, and half as much. */
const SWING = Math.cos(15 * DEG);

/**
 * Whether the head swings away from the growth while its joints turn evenly from one end of a link to the other, and the
 * growth with them.
 * @param near the other joints
 */
export function swings(machine: Machine, near: Float64Array, from: LinkEnd, to: LinkEnd): boolean {
  const { first, second } = rotaryPair(machine);
  const joints = near.slice();
  const by = [to.turn[0] - from.turn[0], to.turn[1] - from.turn[1]] as const;
  const count = Math.ceil(Math.max(Math.abs(by[0]), Math.abs(by[1])) / SWING_STEP);
  for (let k = 1; k < count; k++) {
    const share = k / count;
    joints[first] = from.turn[0] + share * by[0];
    joints[second] = from.turn[1] + share * by[1];
    const up = unit(add(scale(from.up, 1 - share), scale(to.up, share)));
    if (dot(forward(machine, joints).direction, up) < SWING) return true;
  }
  return false;
}

/** The room of the head is looked at so far apart on a link inside a sheet, mm. */
const ROOM_SPACING = 0.2;

/** Whether the head has less room than it must keep on a way between places, its ends aside. */
export function lacksRoom(path: number, way: readonly Turned[], room: RoomOf): boolean {
  for (let i = 1; i < way.length; i++) {
    const [a, b] = [way[i - 1]!, way[i]!];
    const by = sub(b.tip, a.tip);
    const count = Math.max(1, Math.ceil(length(by) / ROOM_SPACING));
    for (let k = 1; k <= count; k++) {
      if (i === way.length - 1 && k === count) continue;
      const share = k / count;
      const tip = add(a.tip, scale(by, share));
      if (room(path, tip, turnBetween(a.turn, b.turn, share)) < 0) return true;
    }
  }
  return false;
}

class SheetLinks {
  readonly #growth: GrowingPart;
  readonly #region: number;
  readonly #lift: number;

  constructor(growth: GrowingPart, region: number, lift: number) {
    this.#growth = growth;
    this.#region = region;
    this.#lift = lift;
  }

  /**
   * The part of a link from over its beginning to over its end, without the moves up and down; undefined where nothing
   * simple is free.
   * @param paths how many of the region's are there
   * @param now joint values at the beginning
   */
  over(
    paths: number,
    from: LinkEnd,
    to: LinkEnd,
    now: Float64Array,
    led: Led,
  ): readonly Float64Array[] | undefined {
    const scene = this.#growth.sceneOnSheets(this.#region, paths);
    const { machine } = scene.setting;
    for (const height of [this.#lift, ...LINK_HEIGHTS.map((h) => machine.clearance + h)]) {
      if (height < this.#lift) continue;
      const [a, b] = [from, to].map(({ tip, up, turn }) => ({
        tip: add(tip, scale(up, height)),
        turn,
      })) as [Turned, Turned];
      const [first] = led({ tip: from.tip, turn: from.turn }, a).slice(-1);
      if (!first) continue;
      const across = led(a, b);
      const down = led(b, { tip: to.tip, turn: to.turn });
      const whole = [first, ...across, ...down];
      if (whole.some((joints) => violationsOf(machine, joints).length > 0)) continue;
      if (!this.#isFree(scene, now, whole, pairsOf(scene, this.#region, false))) continue;
      if (!this.#isFree(scene, first, across, tipPairs(scene, Math.min(TIP_KEEPS, height / 2)))) {
        continue;
      }
      return [first, ...across];
    }
    return undefined;
  }

  #isFree(
    { setting }: Scene,
    from: Float64Array,
    knots: readonly Float64Array[],
    pairs: readonly ClearancePair[],
  ): boolean {
    if (knots.length === 0) return true;
    const n = from.length;
    const joints = new Float64Array(n * knots.length);
    knots.forEach((knot, i) => joints.set(knot, n * i));
    const way: JointPolyline = { jointCount: n, from, joints };
    const turning = new TurningWay(setting, way, 0, knots.length);
    return pairs.every((pair) => !turning.nearest(this.#growth.inSpace(pair), pair.need));
  }
}

/** The head with its tip against everything that is printed and the table. */
function tipPairs({ setting, printed }: Scene, need: number): ClearancePair[] {
  const { wholeHead, table } = setting.bodies;
  return [
    ...printed.flatMap(({ laid: { beads, until } }) =>
      until > 0 ? [{ body: wholeHead, things: beads, until, need }] : [],
    ),
    { body: wholeHead, things: table, need },
  ];
}
