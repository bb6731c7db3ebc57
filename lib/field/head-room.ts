/**
 * Directions that keep the head of the machine out of what is printed before. Where growth curves inwards, as in the
 * crown of a cavity, fronts close on one another, and the head of one would stand in the front across. At samples of
 * the skin where it does, the nearest direction in which it does not is found, one that also carries the skin if there
 * is one, and asked of the growth about it, the more the nearer. The head goes before what hangs: what comes of it may
 * lean farther over than carries it, and is counted.
 *
 * Asked of the growth within 1.5 spacings only, a hollow ball of 20 mm keeps 0.2 % of its places hidden after three
 * rounds; within 3 none after the first, and 186 mm2 hang by facets for 176. Both of its fields hid 3 % before, and a
 * program was refused.
 *
 * Cost: linear in the samples for each place where the head is tried. Where it is not free, most directions are refused
 * by the sample that refused the one before (without that 57 s for 1,000 places in a channel where none is free).
 */
import { evenDirections } from '../base/even-directions.js';
import { firstAtLeast } from '../base/sorted.js';
import { type Vec3, dot, unit } from '../base/vector.js';
import { type GrownField, growthAt } from './field-map.js';
import type { AskedDirections, GrowthRules } from './growth-rules.js';
import {
  AT_THE_ANGLE,
  type FirstGrown,
  type HeadOutline,
  JUST_LAID,
  inHead,
  tryHead,
} from './judge.js';
import { middleOf } from './linear-functions.js';
import { NearPlaces } from './near-places.js';
import { floorOf } from './skin.js';

/** Directions over the half-sphere among which a free one is looked for. */
const FREE_DIRECTIONS = 1600;
/** How far from its place a direction is asked of the growth, spacings. */
const SPREAD = 3;
/** A direction in which the head is free at a place. */
export interface FreePlace {
  readonly point: Vec3;
  readonly direction: Vec3;
}

/** The places where the head would stand in what was grown before, each with a direction in which it would not. */
export function freePlaces(
  map: GrownField,
  rules: GrowthRules,
  head: HeadOutline,
  { hidden, there } = tryHead(map, head),
): FreePlace[] {
  const floor = floorOf(map.lattice.skin);
  const upper = evenDirections(2 * FREE_DIRECTIONS).slice(0, FREE_DIRECTIONS);
  const limit = -Math.sin(rules.overhang) - AT_THE_ANGLE;
  return hidden.flatMap(({ point, value, normal }) => {
    const growth = growthAt(map, point)!;
    const upright = Math.cos(rules.mostTilt(Math.max(0, point[2] - floor)));
    const inReach = upper
      .filter((d) => d[2] >= upright)
      .sort((a, b) => dot(b, growth) - dot(a, growth));
    const laid = new LaidAround(there, point, value - JUST_LAID, head);
    const carries = (d: Vec3): boolean => !normal || dot(d, normal) >= limit;
    const direction =
      inReach.find((d) => carries(d) && laid.clears(d)) ?? inReach.find((d) => laid.clears(d));
    return direction ? [{ point, direction }] : [];
  });
}

/** What was grown before about a tip. */
class LaidAround {
  /** Packed, from the tip, mm; what stood in the way last comes first, since it does so again. */
  readonly #from: Float64Array;
  readonly #head: HeadOutline;

  constructor({ points, value }: FirstGrown, tip: Vec3, before: number, head: HeadOutline) {
    const count = firstAtLeast(value, before);
    this.#from = points.slice(0, 3 * count).map((x, i) => x - tip[i % 3]!);
    this.#head = head;
  }

  /** Whether none of it stands in a head along a direction. */
  clears(d: Vec3): boolean {
    const from = this.#from;
    for (let i = 0; i < from.length; i += 3) {
      if (!inHead(from[i]!, from[i + 1]!, from[i + 2]!, d, this.#head)) continue;
      for (let c = 0; c < 3; c++) [from[c], from[i + c]] = [from[i + c]!, from[c]!];
      return false;
    }
    return true;
  }
}

/** What the places ask of each tetrahedron. */
export function askedOf({ lattice }: GrownField, places: readonly FreePlace[]): AskedDirections {
  const { shape, spacing } = lattice;
  const near = new NearPlaces<Vec3>(SPREAD * spacing);
  for (const { point, direction } of places) near.add(point, direction);
  const direction = new Float64Array(3 * shape.length);
  const share = new Float64Array(shape.length);
  for (let t = 0; t < shape.length; t++) {
    const sum: [number, number, number] = [0, 0, 0];
    near.each(middleOf(lattice, t), (d, by) => {
      share[t] = Math.max(share[t]!, by);
      for (let c = 0; c < 3; c++) sum[c]! += by * d[c]!;
    });
    if (share[t]! > 0) direction.set(unit(sum), 3 * t);
  }
  return { direction, share };
}
