/**
 * The blocks of a run: paths of one region over a span of layers, in layer space, become joint motion.
 * Where layers are flat the rotary joints stand still, every point is one matrix product and every stretch one
 * block; where layers are curved the rotary joints turn from point to point (lean-head.ts), and a stretch is divided
 * so that the tip keeps its path.
 */
import { type Vec3, add, length, pointAt, scale, sub } from '../../base/vector.js';
import type { FlatMap } from '../../layers/layer-map.js';
import { forward } from '../../machine/forward.js';
import type { LinearMap } from '../../machine/linear.js';
import type { Machine } from '../../machine/machine.js';
import type { Skyline } from '../../order/skyline.js';
import { beadArea, filamentArea } from '../../paths/bead.js';
import { Link, PathKind, type Paths } from '../../paths/paths.js';
import { type BlockList, NO_PATH, type Tag } from './blocks.js';
import { turnedJoints } from './turned-joints.js';
import { follow, tipLength } from './follow-direction.js';
import { type HeadTurn, turnBetween } from './head-turn.js';
import type { Mover, SheetRun, Turned, TurningMover } from './mover.js';
import { MoveKind } from '../motion.js';
import type { MotionRules } from '../rules.js';

/**
 * Shorter steps are not made, mm: what rounding leaves between the end of one path and the
 * start of the next, and points of a path that all but coincide. With four decimals the direction of
 * a step of twenty last ones is a matter of rounding by some percent, and so is its feed. A run of
 * such steps is one step as soon as it has come this far, so no path strays further than that.
 */
const SHORTEST_STEP = 0.002;

/** Rotary joints stand still: one affine map from layer space to joints. */
export function flatMover(blocks: BlockList, map: FlatMap, linear: LinearMap): Mover {
  const m = layerMatrix(map, linear);
  const joints = linear.rotaries.slice();
  const [j0, j1, j2] = linear.linear;
  let [px, py, pz] = [NaN, NaN, NaN];
  const set = (x: number, y: number, z: number): void => {
    joints[j0] = m[0]! * x + m[1]! * y + m[2]! * z + m[3]!;
    joints[j1] = m[4]! * x + m[5]! * y + m[6]! * z + m[7]!;
    joints[j2] = m[8]! * x + m[9]! * y + m[10]! * z + m[11]!;
  };
  return {
    to(x, y, z, section, perLength, tag) {
      const far = Math.hypot(x - px, y - py, z - pz);
      if (far < SHORTEST_STEP) return;
      px = x;
      py = y;
      pz = z;
      set(x, y, z);
      // The first call after a transfer only takes note of where the tip already is.
      if (Number.isNaN(far)) return;
      blocks.push(joints, far, section, far * perLength, tag);
    },
    jointsAt(p) {
      set(...p);
      return joints.slice();
    },
  };
}

/** Linear joints from layer space: the affine map of the joint solution after partFromLayer. */
function layerMatrix(map: FlatMap, linear: LinearMap): Float64Array {
  const f = map.partFromLayer;
  const out = new Float64Array(12);
  for (let k = 0; k < 3; k++) {
    const row = linear.matrix.subarray(4 * k, 4 * k + 4);
    for (let c = 0; c < 4; c++) {
      out[4 * k + c] = row[0]! * f[4 * c]! + row[1]! * f[4 * c + 1]! + row[2]! * f[4 * c + 2]!;
    }
    out[4 * k + 3]! += row[3]!;
  }
  return out;
}

/** The head turns along the path: values of the rotary joints come with every point, stretches are divided. */
export function turningMover(
  machine: Machine,
  blocks: BlockList,
  chordError: number,
): TurningMover {
  let at: Turned | undefined;
  const lead = (
    from: Turned,
    to: Turned,
    emit: (joints: Float64Array, t: number) => void,
  ): void => {
    const tipAt = (t: number): Vec3 => add(from.tip, scale(sub(to.tip, from.tip), t));
    const joints = (t: number, near: Float64Array): Float64Array =>
      turnedJoints(machine, tipAt(t), turnBetween(from.turn, to.turn, t), near);
    const start = turnedJoints(machine, from.tip, from.turn, blocks.now);
    if (follow(machine, start, joints, tipAt, chordError, emit)) return;
    throw new Error(`the joints cannot follow the path at ${to.tip.join(' ')}`);
  };
  return {
    to(x, y, z, section, perLength, tag, turn) {
      if (!turn) throw new Error('a point of curved layers without its rotary values');
      const from = at;
      const tip: Vec3 = [x, y, z];
      if (from && length(sub(tip, from.tip)) < SHORTEST_STEP) return;
      at = { tip, turn };
      if (!from) return;
      const far = length(sub(tip, from.tip));
      let gone = 0;
      lead(from, at, (joints, t) => {
        const step = (t - gone) * far;
        gone = t;
        blocks.push(joints, step, section, step * perLength, tag);
      });
    },
    by(knots, turn, tag) {
      for (const knot of knots) {
        blocks.push(knot, tipLength(machine, blocks.now, knot), 0, 0, tag);
      }
      at = { tip: forward(machine, blocks.now).tip, turn };
    },
    led(from, to) {
      const knots: Float64Array[] = [];
      lead(from, to, (joints) => knots.push(joints));
      return knots;
    },
    jointsAt(p, turn) {
      if (!turn) throw new Error('a point of curved layers without its rotary values');
      return turnedJoints(machine, p, turn, blocks.now);
    },
  };
}

/** Draws filament back and primes it again; knows which of the two is due. */
export class Feeder {
  drawn = false;
  readonly #blocks: BlockList;
  readonly #length: number;
  readonly #speed: number;

  constructor(blocks: BlockList, retract: { readonly length: number; readonly speed: number }) {
    this.#blocks = blocks;
    this.#length = retract.length;
    this.#speed = retract.speed;
  }

  draw(region: number, layer: number): void {
    if (!this.drawn) this.#push(-this.#length, region, layer);
    this.drawn = true;
  }

  prime(region: number, layer: number): void {
    if (this.drawn) this.#push(this.#length, region, layer);
    this.drawn = false;
  }

  #push(filament: number, region: number, layer: number): void {
    if (filament === 0) return;
    const tag = { kind: MoveKind.filament, region, layer, pathKind: NO_PATH, speed: this.#speed };
    this.#blocks.push(this.#blocks.now, 0, 0, filament, tag);
  }
}

export interface RunInput {
  readonly region: number;
  readonly paths: Paths;
  /** Paths from .. to (exclusive). */
  readonly from: number;
  readonly to: number;
  readonly rules: MotionRules;
  readonly filamentDiameter: number;
  /** Tip speed that a layer must not exceed (first layer on the table), mm/s. */
  readonly speedLimit: (layer: number) => number;
  /** What stands in the way of links, in layer space. */
  readonly skyline: Skyline;
  /** Of curved layers; left out: the head stands still. */
  readonly sheets?: SheetRun;
}

const SPEED_OF: Record<number, keyof MotionRules['speed']> = {
  [PathKind.contour]: 'contour',
  [PathKind.innerContour]: 'innerContour',
  [PathKind.thin]: 'thin',
  [PathKind.cap]: 'cap',
  [PathKind.fill]: 'fill',
  [PathKind.brim]: 'brim',
};

/** Lays every path of a run; the tip must already stand at the first point of the first path. */
export function layRun(input: RunInput, mover: Mover, feeder: Feeder): void {
  const { paths, rules, region } = input;
  const p = paths.points;
  const perArea = 1 / filamentArea(input.filamentDiameter);
  for (let i = input.from; i < input.to; i++) {
    const a = paths.start[i]!;
    const b = paths.start[i + 1]!;
    const layer = paths.layer[i]!;
    input.sheets?.begin(i);
    if (i > input.from) linkTo(input, i, mover, feeder);
    mover.to(
      p[3 * a]!,
      p[3 * a + 1]!,
      p[3 * a + 2]!,
      0,
      0,
      linkTag(input, layer),
      turnAt(input, a),
    );
    feeder.prime(region, layer);
    const pathKind = paths.kind[i]!;
    const speed = Math.min(rules.speed[SPEED_OF[pathKind]!], input.speedLimit(layer));
    const tag: Tag = { kind: MoveKind.deposit, region, layer, pathKind, speed };
    const lay = (k: number): void => {
      const section = beadArea(paths.width[k]!, paths.height[k]!) * paths.flowFactor[i]!;
      const [x, y, z] = [p[3 * k]!, p[3 * k + 1]!, p[3 * k + 2]!];
      mover.to(x, y, z, section, section * perArea, tag, turnAt(input, k));
    };
    const last = b - 1;
    const before = beforeEnd(p, a, last);
    for (let k = a + 1; k <= before; k++) lay(k);
    lay(last);
  }
}

/** How the head stands at a point; undefined where it stands still. */
export function turnAt(
  { sheets }: { readonly sheets?: SheetRun | undefined },
  point: number,
): HeadTurn | undefined {
  if (!sheets) return undefined;
  const { turns } = sheets;
  const at = 2 * (point - turns.first);
  return [turns.pairs[at]!, turns.pairs[at + 1]!];
}

/** The last point of a..end that is not so near to the end that the move would stop short of it. */
function beforeEnd(p: Float64Array, a: number, end: number): number {
  const far = (k: number): number =>
    Math.hypot(
      p[3 * k]! - p[3 * end]!,
      p[3 * k + 1]! - p[3 * end + 1]!,
      p[3 * k + 2]! - p[3 * end + 2]!,
    );
  let k = end - 1;
  while (k > a && far(k) < SHORTEST_STEP) k--;
  return k;
}

/** Goes back over the last path of the run, filament drawn back, to leave the nozzle's drop on it. */
export function wipe(input: RunInput, mover: Mover): void {
  const { paths, rules } = input;
  const p = paths.points;
  const last = input.to - 1;
  const tag = linkTag(input, paths.layer[last]!);
  let left = rules.wipe;
  for (let k = paths.start[last + 1]! - 1; k > paths.start[last]! && left > 0; k--) {
    const [a, b] = [3 * k, 3 * (k - 1)];
    const by: Vec3 = [p[b]! - p[a]!, p[b + 1]! - p[a + 1]!, p[b + 2]! - p[a + 2]!];
    const far = length(by);
    if (far === 0) continue;
    const share = Math.min(1, left / far);
    const [x, y, z] = add([p[a]!, p[a + 1]!, p[a + 2]!], scale(by, share));
    const [q, r] = [turnAt(input, k), turnAt(input, k - 1)];
    mover.to(x, y, z, 0, 0, tag, q && r && turnBetween(q, r, share));
    left -= far;
  }
}

const linkTag = ({ region, rules }: RunInput, layer: number): Tag => ({
  kind: MoveKind.link,
  region,
  layer,
  pathKind: NO_PATH,
  speed: rules.speed.link,
});

/** From the end of path i - 1 to the start of path i. */
function linkTo(input: RunInput, i: number, mover: Mover, feeder: Feeder): void {
  const { paths, region } = input;
  const layer = paths.layer[i]!;
  const tag = linkTag(input, layer);
  const [last, next] = [paths.start[i]! - 1, paths.start[i]!];
  const [leave, arrive] = [turnAt(input, last), turnAt(input, next)];
  const from = pointAt(paths.points, last);
  const to = pointAt(paths.points, next);
  const { directions } = paths;
  const ends =
    directions && leave && arrive
      ? ([
          { tip: from, up: pointAt(directions, last), turn: leave },
          { tip: to, up: pointAt(directions, next), turn: arrive },
        ] as const)
      : undefined;
  const { sheets } = input;
  if (paths.link[i] === Link.inside) {
    const q = paths.linkPoints;
    const [a, b] = [paths.linkStart[i]!, paths.linkStart[i + 1]!];
    const way = Array.from({ length: b - a }, (_, k) => ({
      tip: pointAt(q, a + k),
      turn: leave && arrive && turnBetween(leave, arrive, (k + 1) / (b - a + 1)),
    }));
    if (!(sheets && ends && sheets.mustLift(i, way as Turned[], ...ends))) {
      for (const { tip, turn } of way) mover.to(...tip, 0, 0, tag, turn);
      return;
    }
  }
  feeder.draw(region, layer);
  if (sheets && ends) {
    sheets.mover.by(sheets.link(i, ...ends), ends[1].turn, tag);
    return;
  }
  const top = Math.max(from[2], to[2]) + input.rules.lift;
  const height = Math.max(top, input.skyline.least(from[0], from[1], to[0], to[1], top));
  mover.to(from[0], from[1], height, 0, 0, tag);
  mover.to(to[0], to[1], height, 0, 0, tag);
}
