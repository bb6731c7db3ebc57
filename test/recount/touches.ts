/**
 * The dense recount of touches: every move of a program in steps of 0.1 mm or 0.2 deg, and at every
 * step each body of the machine against each other and against what is laid by then. Nothing here
 * sweeps or advances (two bodies that are further apart than they can be moved in the steps to come
 * are left alone until then), and no code is shared with the planner or the check.
 *
 * A bead is two rows of balls, one along each side of it, of half its height, square to the head. Bodies meet by the
 * signed distance of the one at points of the other's skin, both ways round: exact where a corner or
 * edge meets a face, up to half of SPACING too large where edge crosses edge.
 *
 * The lowest clearance of the head must come near to what it prints on. It is counted apart: it touches
 * where it is deeper than BEAD in anything that is laid. All else touches at a gap of 0.
 */
import { type Beads, frameOf } from './beads.js';
import { type File, type Matrix, type Vec, place, seenFrom, unit } from './chain.js';
import { Cloud, rangeOf } from './cloud.js';
import { meshSolid } from './mesh.js';
import { type Moves, Tip } from './program.js';
import { type Solid, box, cut, joined, solidOf, turned } from './solids.js';

/** Steps, mm and deg. */
const STEP = { linear: 0.1, rotary: 0.2 };
/** How deep the nozzle itself may be in what it prints on, mm. */
export const BEAD = 0.3;
/** Rounding of the program's decimals and of float32, mm. */
const ROUNDING = 2e-3;
/** Pairs that are further apart are not looked at until they can have come nearer, mm. */
const ROOM = 20;
/** Along a bead its balls stand so far apart, mm. */
const ROW = 0.15;

export interface Touch {
  readonly line: number;
  readonly between: string;
  /** mm */
  readonly depth: number;
}

export interface Touches {
  readonly steps: number;
  /** Steps at which anything touches. */
  readonly count: number;
  /** For each pair that touches, where it is deepest. */
  readonly worst: readonly Touch[];
  /** Least gap of all but the lowest part of the head, at most the machine's clearance, mm. */
  readonly least: number;
  readonly leastAt: Touch | undefined;
  /** Deepest that the lowest part of the head goes into what is laid, mm. */
  readonly dip: number;
}

interface Body {
  readonly name: string;
  readonly carrier: number;
  readonly solid: Solid;
  /** A ball around it. */
  readonly middle: Vec;
  readonly radius: number;
  /** Points of its skin, made when they are first asked about. */
  skin(): Cloud;
}

/** @param beads with their heights */
export function countTouches(file: File, moves: Moves, beads: Beads): Touches {
  return new Recount(file, moves, beads).run();
}

interface Pair {
  readonly names: string;
  /** Joints that move the one against the other, and how far a place moves by a mm or a deg of each. */
  readonly under: readonly number[];
  readonly reach: readonly number[];
  /** The least gap, if it is less than asked. */
  gap(within: number): number | undefined;
  /** A lower bound of the gap to what is laid near a place over the table, for pairs that are asked. */
  toTip?(tip: Vec): number;
  /** How far places of the two may still be moved before they need be looked at again, mm. */
  room: number;
}

class Recount {
  readonly #file: File;
  readonly #moves: Moves;
  readonly #tip: Tip;
  readonly #table: number;
  readonly #head: Body;
  readonly #nozzle: Solid;
  readonly #pairs: readonly Pair[];
  readonly #laid: Cloud;
  readonly #beads: Beads;
  /** Nothing that is laid is farther from the middle of the table, mm. */
  readonly #extent: number;
  /** The first piece that is not laid yet. */
  #next = 0;
  /** Seen from one carrier, where another is: written over each time. */
  readonly #seen = unit();
  readonly #worst = new Map<string, Touch>();
  #least: number;
  #leastAt: Touch | undefined;
  #dip = 0;
  #line = 0;

  constructor(file: File, moves: Moves, beads: Beads) {
    this.#file = file;
    this.#moves = moves;
    this.#tip = new Tip(file);
    this.#table = this.#tip.chain.last(true);
    const [head, ...others] = bodiesOf(file, this.#tip);
    this.#head = head!;
    this.#nozzle = headOf(file, false);
    this.#least = file.clearance;
    this.#beads = beads;
    const { least, most } = boxOf(beads);
    this.#extent = Math.hypot(...least.map((v, c) => Math.max(Math.abs(v), Math.abs(most[c]!))));
    this.#laid = new Cloud(least, most, 1);
    this.#pairs = [...this.#machinePairs([head!, ...others]), ...this.#laidPairs(others)];
  }

  /** Bodies that one joint carries are rigid; those that are near with all joints at zero belong together. */
  #machinePairs(bodies: readonly Body[]): Pair[] {
    const { chain } = this.#tip;
    chain.set(new Float64Array(chain.joints.length));
    return bodies.flatMap((a, i) =>
      bodies.slice(0, i).flatMap((b) => {
        if (a.carrier === b.carrier) return [];
        const gap = (within: number): number | undefined => {
          const one = this.#skinGap(a, b, within);
          return this.#skinGap(b, a, one ?? within) ?? one;
        };
        if (gap(this.#file.clearance + 0.01) !== undefined) return [];
        const under = chain.between(a.carrier, b.carrier);
        const reach = under.map((j) => this.#reach(j, this.#isUnder(j, a) ? a : b));
        return [{ names: `${a.name} and ${b.name}`, under, reach, gap, room: 0 }];
      }),
    );
  }

  #isUnder(joint: number, { carrier }: Pick<Body, 'carrier'>): boolean {
    const { chain } = this.#tip;
    return carrier >= 0 && chain.joints[carrier]!.onTable === chain.joints[joint]!.onTable;
  }

  /** How far any place of a body moves by a mm or a deg of a joint that carries it, at most. */
  #reach(joint: number, { middle, radius }: Pick<Body, 'middle' | 'radius'>): number {
    const { joints } = this.#tip.chain;
    const { kind, onTable, point = [0, 0, 0] } = joints[joint]!;
    if (kind === 'linear') return 1;
    // With the joints between at zero, and then with all that they may add.
    let far = Math.hypot(...middle) + radius + Math.hypot(...point);
    joints.forEach((j, i) => {
      if (j.onTable !== onTable || i <= joint) return;
      if (j.kind === 'rotary') far += 2 * Math.hypot(...(j.point ?? [0, 0, 0]));
      else if (j.travel !== 'endless') far += Math.max(...j.travel.map(Math.abs));
    });
    return (far * Math.PI) / 180;
  }

  /** The least distance of b's skin from a. */
  #skinGap(a: Body, b: Body, within: number): number | undefined {
    const m = this.#seenFrom(a.carrier, b.carrier);
    if (a.solid.distance(...place(m, b.middle)) - b.radius >= within) return undefined;
    return b.skin().nearest(a.solid, m, within)?.gap;
  }

  #seenFrom(a: number, b: number): Matrix {
    const { carried } = this.#tip.chain;
    seenFrom(carried.at(a)!, carried.at(b)!, this.#seen);
    return this.#seen;
  }

  /** All but the head, which is asked at every step. */
  #laidPairs(bodies: readonly Body[]): Pair[] {
    return bodies.flatMap((body) => {
      const { name, carrier, solid } = body;
      if (carrier === this.#table) return [];
      const seen = (): Matrix => this.#seenFrom(carrier, this.#table);
      const under = this.#tip.chain.between(carrier, this.#table);
      const part = { carrier: this.#table, middle: [0, 0, 0] as const, radius: this.#extent };
      return [
        {
          names: `${name} and what is laid`,
          under,
          reach: under.map((j) => this.#reach(j, this.#isUnder(j, part) ? part : body)),
          gap: (within) => this.#laid.nearest(solid, seen(), within)?.gap,
          toTip: (tip) => solid.distance(...place(seen(), tip)) - ASIDE,
          room: 0,
        },
      ];
    });
  }

  run(): Touches {
    const { joints, jointCount: n, from, line } = this.#moves;
    const now = new Float64Array(n);
    let before = from;
    let steps = 0;
    let count = 0;
    for (let b = 0; b < line.length; b++) {
      this.#line = line[b]!;
      const to = joints.subarray(n * b, n * b + n);
      const by = to.map((v, j) => v - before[j]!);
      const kinds = this.#tip.chain.joints;
      const most = by.reduce(
        (m, v, j) => Math.max(m, Math.abs(v) / STEP[kinds[j]!.kind as 'linear' | 'rotary']),
        0,
      );
      const straight = by.every((v, j) => v === 0 || kinds[j]!.kind === 'linear');
      const parts = Math.ceil(most);
      for (let k = 1; k <= parts; k++) {
        for (let j = 0; j < n; j++) now[j] = before[j]! + (by[j]! * k) / parts;
        steps++;
        if (this.#touchesAt(now, by, parts, straight)) count++;
      }
      this.#lay(b);
      before = to;
    }
    const [worst, least] = [[...this.#worst.values()], this.#least];
    return { steps, count, worst, least, leastAt: this.#leastAt, dip: this.#dip };
  }

  #touchesAt(now: Float64Array, by: Float64Array, parts: number, straight: boolean): boolean {
    const { tip, up } = this.#tip.over(now);
    const within = this.#within;
    let touches = false;
    for (const pair of this.#pairs) {
      let moved = 0;
      pair.under.forEach((j, k) => (moved += Math.abs(by[j]!) * pair.reach[k]!));
      if (moved === 0) continue;
      pair.room -= moved / parts;
      if (pair.room > 0) continue;
      const far = within + ROOM;
      const gap = pair.gap(far) ?? far;
      pair.room = gap - within;
      if (pair.room < 0) touches = this.#note(pair.names, gap) || touches;
    }
    if (this.#laid.count === 0) return touches;
    // While nothing turns, a plane square to the head through the tip tells at once what is lower.
    if (straight) this.#laid.turnTo(up);
    const level = straight ? tip[0] * up[0] + tip[1] * up[1] + tip[2] * up[2] : -Infinity;
    const seen = this.#seenFrom(this.#head.carrier, this.#table);
    const over = level + this.#file.clearance;
    const near = this.#laid.nearest(this.#head.solid, seen, within, over);
    if (near) touches = this.#note('head and what is laid', near.gap) || touches;
    const deeper = -Math.min(this.#dip, BEAD) - ROUNDING;
    const dip = this.#laid.nearest(this.#nozzle, seen, deeper, level);
    if (!dip) return touches;
    this.#dip = Math.max(this.#dip, -dip.gap);
    return -dip.gap > BEAD ? this.#note('nozzle and what is laid', dip.gap) || touches : touches;
  }

  /** Gaps from this on are neither a touch nor the least so far. */
  get #within(): number {
    return Math.max(0, this.#least) - ROUNDING;
  }

  #note(between: string, gap: number): boolean {
    if (gap < this.#least) {
      this.#least = gap;
      this.#leastAt = { line: this.#line, between, depth: -gap };
    }
    if (gap >= -ROUNDING) return false;
    const known = this.#worst.get(between);
    if (!known || known.depth < -gap) {
      this.#worst.set(between, { line: this.#line, between, depth: -gap });
    }
    return true;
  }

  /** The bead of a block as rows of balls along each side of its pieces. */
  #lay(b: number): void {
    const { block, length, volume, height, tip } = this.#beads;
    for (; block[this.#next] === b; this.#next++) {
      const i = this.#next;
      const size = length[i]!;
      const area = volume[i]! / size;
      // A stadium w wide and h high: (w - h) h + pi h^2 / 4; less than the circle is a smaller circle.
      const h = Math.min(height[i]!, 2 * Math.sqrt(area / Math.PI));
      const side = (area / h + h * (1 - Math.PI / 4) - h) / 2;
      const to = [tip[6 * i + 3]!, tip[6 * i + 4]!, tip[6 * i + 5]!] as const;
      for (const pair of this.#pairs) {
        if (!pair.toTip) continue;
        pair.room = Math.min(pair.room, pair.toTip(to) - size - this.#within);
      }
      const { across, up } = frameOf(this.#beads, i);
      const count = Math.max(1, Math.ceil(size / ROW));
      for (let k = 0; k <= count; k++) {
        for (const s of side > 0.02 ? [-side, side] : [0]) {
          const at = (c: number): number =>
            tip[6 * i + c]! +
            ((tip[6 * i + 3 + c]! - tip[6 * i + c]!) * k) / count -
            (up[c]! * h) / 2 +
            s * across[c]!;
          this.#laid.add(at(0), at(1), at(2), h / 2);
        }
      }
    }
  }
}

function bodiesOf(file: File, { chain }: Tip): Body[] {
  const { table, obstacles = [] } = file;
  const body = (name: string, carrier: number, solid: Solid): Body => {
    let skin: Cloud | undefined;
    return { name, carrier, solid, ...ballAround(solid), skin: () => (skin ??= Cloud.of(solid)) };
  };
  const { face, thickness, mesh } = table;
  const plate = (): Solid =>
    face.shape === 'disc'
      ? solidOf({
          shape: 'cylinder',
          from: [0, 0, -thickness!],
          to: [0, 0, 0],
          radius: face.radius,
        })
      : box(
          [-face.size[0] / 2, -face.size[1] / 2, -thickness!],
          [face.size[0] / 2, face.size[1] / 2, 0],
        );
  const carrier = (letter: string): number =>
    letter === 'frame' ? -1 : chain.joints.findIndex((j) => j.letter === letter);
  return [
    body('head', chain.last(false), headOf(file, true)),
    body(
      'table',
      chain.last(true),
      joined([mesh ? solidOf(mesh) : plate()], table.origin ?? [0, 0, 0]),
    ),
    ...obstacles.map((o) => body(o.name, carrier(o.carriedBy), solidOf(o.solid))),
  ];
}

/** What of the head lies over the clearance, or under it; boxes are no part of the tip. */
function headOf({ head, clearance }: File, above: boolean): Solid {
  const { stack = [], boxes = [], meshes = [], tip = [0, 0, 0] } = head;
  const solids = [
    ...(stack.length > 0 ? [turned(cut(stack, clearance, above))] : []),
    ...(above ? boxes.map((b) => box(b.from, b.to)) : []),
    ...meshes.map((m) => (above ? meshSolid(m, clearance) : meshSolid(m, -Infinity, clearance))),
  ];
  return joined(solids, tip);
}

function ballAround({ skin }: Solid): { middle: Vec; radius: number } {
  const middle = [0, 1, 2].map((c) => {
    const [low, high] = rangeOf(skin, c);
    return (low + high) / 2;
  }) as unknown as Vec;
  let radius = 0;
  for (let i = 0; i < skin.length; i += 3) {
    const [x, y, z] = middle;
    radius = Math.max(radius, Math.hypot(skin[i]! - x, skin[i + 1]! - y, skin[i + 2]! - z));
  }
  return { middle, radius };
}

/** Corners of all that is laid, with room for the beads about the way of the tip. */
function boxOf({ tip }: Beads): { readonly least: Vec; readonly most: Vec } {
  const [least, most] = [
    [0, 0, 0],
    [0, 0, 0],
  ] as [number[], number[]];
  for (let i = 0; i < tip.length; i++) {
    least[i % 3] = Math.min(least[i % 3]!, tip[i]! - ASIDE);
    most[i % 3] = Math.max(most[i % 3]!, tip[i]! + ASIDE);
  }
  return { least: least as never as Vec, most: most as never as Vec };
}

/** A bead reaches less far from where the tip is, mm. */
const ASIDE = 2;
