/**
 * What a direction of growth has to keep in each tetrahedron, and the nearest direction that keeps it:
 * skin that looks down is carried (its normal no farther below the layer than the overhang allows), skin near
 * level is followed where that is wanted, and the machine can tilt so far at that height over the table. A
 * direction is turned in the plane of itself and what it breaks, until the rule just holds. Then comes what is asked for
 * the sake of the head, and reach last, since no machine can break it.
 */
import { DEG, type Vec3, pointAt, scale } from '../base/vector.js';
import type { Lattice } from './lattice.js';
import { middleOf } from './linear-functions.js';
import { type Skin, floorOf } from './skin.js';

export interface GrowthRules {
  /** Steepest angle from the direction of growth at which skin carries itself, rad. */
  readonly overhang: number;
  /** Skin within this of level is followed by the layers, rad; 0 for none. */
  readonly follow: number;
  /** Greatest tilt with the tip at a height over the table, rad; grows with the height. */
  mostTilt(height: number): number;
  /** Least and greatest length of the field's gradient: the layer thickness is divided by it. */
  readonly stretch: readonly [number, number];
}

/** Kept from the overhang's angle, since layers turn between one tetrahedron and the next, rad. */
const MARGIN = 7 * DEG;
/** How much a followed normal outweighs the direction that there is. */
const FOLLOW_WEIGHT = 4;
/** A direction nearer than this to the opposite of a skin's normal has no plane to turn in: cosine. */
const OPPOSED = -0.995;
/** Share of the way out that is then added. */
const WAY_OUT_SHARE = 0.15;
/** Rounds of one rule after the other. */
const RULE_ROUNDS = 4;
/** Normals of one tetrahedron this near to each other are one: cosine. */
const SAME_NORMAL = 0.94;
/** Skin below this height that looks down stands on the table, mm; cosine. */
export const STANDING_HEIGHT = 0.2;
export const STANDING_NORMAL = -0.9;
const NO_NORMALS: readonly Vec3[] = [];
const UPRIGHT: Vec3 = [0, 0, 1];
/** The lowest height over the table at which the head's reach is asked, mm. */
const LOWEST_TIP = 0.2;

export interface Constraints {
  /** Greatest tilt in each tetrahedron: its cosine. */
  readonly leastZ: Float64Array;
  /** Unit normals of the skin in each tetrahedron, those of the largest area last; undefined inside. */
  readonly normals: readonly (readonly Vec3[] | undefined)[];
  /** Cosine between a normal and a direction that just carries it. */
  readonly carried: number;
  /** Cosine of the normal's tilt from which on it is followed; above 1 for none. */
  readonly followed: number;
}

/** Directions asked of tetrahedra; they go before the rules but for the machine's reach. */
export interface AskedDirections {
  /** Packed unit vectors; zero where nothing is asked. */
  readonly direction: Float64Array;
  /** How far the growth follows it, 0 to 1. */
  readonly share: Float64Array;
}

export function constraintsOf(lattice: Lattice, rules: GrowthRules): Constraints {
  const { shape, skin, skinTetrahedron } = lattice;
  const floor = floorOf(skin);
  const leastZ = new Float64Array(shape.length);
  for (let t = 0; t < shape.length; t++) {
    const height = Math.max(LOWEST_TIP, middleOf(lattice, t)[2] - floor);
    leastZ[t] = Math.cos(rules.mostTilt(height));
  }
  const groups: { sum: [number, number, number]; area: number }[][] = [];
  for (let s = 0; s < skin.areas.length; s++) {
    const n = [0, 1, 2].map((c) => skin.normals[3 * s + c]!) as [number, number, number];
    if (isStanding(skin, s, floor)) continue;
    const list = (groups[skinTetrahedron[s]!] ??= []);
    const area = skin.areas[s]!;
    let group = list.find(({ sum }) => dot3(sum, n) > SAME_NORMAL * Math.hypot(...sum));
    if (!group) list.push((group = { sum: [0, 0, 0], area: 0 }));
    for (let c = 0; c < 3; c++) group.sum[c]! += area * n[c]!;
    group.area += area;
  }
  const normals = groups.map((list) =>
    list
      .sort((a, b) => a.area - b.area)
      .map(({ sum }) => sum.map((x) => x / Math.hypot(...sum)) as unknown as Vec3),
  );
  return {
    leastZ,
    normals: Array.from({ length: shape.length }, (_, t) => normals[t]),
    carried: -Math.sin(rules.overhang - MARGIN),
    followed: rules.follow > 0 ? Math.cos(rules.follow) : 2,
  };
}

/** Whether a sample of the skin stands on the table, whose height is `floor`. */
export const isStanding = ({ points, normals }: Skin, s: number, floor: number): boolean =>
  points[3 * s + 2]! < floor + STANDING_HEIGHT && normals[3 * s + 2]! < STANDING_NORMAL;

const dot3 = (a: ArrayLike<number>, b: ArrayLike<number>): number =>
  a[0]! * b[0]! + a[1]! * b[1]! + a[2]! * b[2]!;

/**
 * Turns the unit direction `d` in place until it keeps the rules of a tetrahedron.
 * @param out the way out of the part where skin is exactly opposed, any length; three numbers a tetrahedron
 * @returns whether it had to be turned
 */
export function keepRules(
  { leastZ, normals, carried, followed }: Constraints,
  asked: AskedDirections | undefined,
  t: number,
  d: Float64Array,
  out: Float64Array,
): boolean {
  const own = normals[t] ?? NO_NORMALS;
  for (const n of own) if (n[2] > followed) addTo(d, n, FOLLOW_WEIGHT);
  let turned = false;
  for (let round = 0; round < RULE_ROUNDS; round++) {
    let moved = false;
    for (const n of own) {
      const along = dot3(d, n);
      if (along >= carried - 1e-9) continue;
      moved = true;
      if (along < OPPOSED) {
        const way = pointAt(out, t);
        const long = Math.hypot(...way) || 1;
        addTo(d, scale(way, 1 / long), WAY_OUT_SHARE);
      }
      turnTo(d, n, carried);
    }
    if (d[2]! < leastZ[t]! - 1e-9) {
      moved = true;
      turnTo(d, UPRIGHT, leastZ[t]!);
    }
    if (!moved) break;
    turned = true;
  }
  const share = asked?.share[t] ?? 0;
  if (!asked || share === 0) return turned;
  for (let c = 0; c < 3; c++) d[c]! += share * (asked.direction[3 * t + c]! - d[c]!);
  addTo(d, UPRIGHT, 0);
  if (d[2]! < leastZ[t]!) turnTo(d, UPRIGHT, leastZ[t]!);
  return true;
}

function addTo(d: Float64Array, n: Vec3, share: number): void {
  const x = d[0]! + share * n[0];
  const y = d[1]! + share * n[1];
  const z = d[2]! + share * n[2];
  const long = Math.sqrt(x * x + y * y + z * z);
  d[0] = x / long;
  d[1] = y / long;
  d[2] = z / long;
}

/** Turns d in the plane of d and n until its cosine with n is this; d stays where there is no such plane. */
function turnTo(d: Float64Array, n: Vec3, cosine: number): void {
  const along = dot3(d, n);
  const x = d[0]! - along * n[0];
  const y = d[1]! - along * n[1];
  const z = d[2]! - along * n[2];
  const long = Math.sqrt(x * x + y * y + z * z);
  if (long < 1e-6) return;
  const share = Math.sqrt(1 - cosine * cosine) / long;
  d[0] = cosine * n[0] + share * x;
  d[1] = cosine * n[1] + share * y;
  d[2] = cosine * n[2] + share * z;
}
