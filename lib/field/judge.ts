/**
 * What a growth field is worth before anything is sliced with it: the skin that it leaves hanging and the part of that
 * which no field could carry, the places where the head would stand in what was printed before, and how far the machine
 * tilts. Samples of the skin stand for the part, and for the head places inside it too, where fronts that meet leave a
 * valley between them; printing order is the field's value. The proof that nothing touches is made on the laid beads,
 * later; here fields are compared.
 *
 * Cost: linear in the samples of the skin and the cubes, and in the cells of half a spacing that the skin reaches into
 * times a bounded number of places at which the head is tried: the sample of a cell that grows first stands for it. All
 * samples, of which slender or small facets give many to a cell, took four times as long for the same shares.
 */
import { type Vec3, pointAt } from '../base/vector.js';
import type { Lattice } from './lattice.js';
import { type GrownField, growthAt, layerPoint } from './field-map.js';
import { type GrowthRules, isStanding } from './growth-rules.js';
import { middleOf } from './linear-functions.js';
import { cellsOf, floorOf } from './skin.js';

/** The head as it stands over the tip. */
export interface HeadOutline {
  /** Radius at a height over the tip, the distance that is kept with it, mm; 0 where nothing is in the way. */
  readonly radiusAt: (above: number) => number;
  /** Height of its top, mm. */
  readonly top: number;
}

export interface JudgedField {
  /** Skin that leans farther over than the overhang allows, mm2. */
  readonly hangingMm2: number;
  /** The part of the skin that leans so far that no tilt in reach at that height carries it, mm2. */
  readonly unavoidableMm2: number;
  /** Share of the tried places at which the head would stand in what is there. */
  readonly hidden: number;
  /** Greatest tilt of growth at the skin, rad. */
  readonly tilt: number;
}

/** Edge of a cell for which one sample of the skin stands in the head's way, in spacings. */
const HEAD_CELL_SHARE = 0.5;
/** Places at which the head is tried, about, on the skin and as many inside. */
const TRIED = 1500;
/** What was grown less than this before is not there yet, mm of growth. */
export const JUST_LAID = 0.3;
/** The head is looked at from this height over the tip: below it is what the tip prints on, mm. */
const OVER_TIP = 0.6;
/** Slack of the overhang, cosine: a facet at just the angle does not hang. */
export const AT_THE_ANGLE = 2e-3;

/** A place at which the head is tried. */
export interface TriedPlace {
  readonly point: Vec3;
  /** Growth there, mm. */
  readonly value: number;
  /** Outward unit normal of the skin; undefined inside the part. */
  readonly normal?: Vec3;
}

/** What the head meets at places spread over the part. */
export interface HeadTries {
  readonly there: FirstGrown;
  readonly tried: number;
  /** Where the head would stand in what was grown before. */
  readonly hidden: readonly TriedPlace[];
}

export function tryHead(map: GrownField, head: HeadOutline): HeadTries {
  const { skin } = map.lattice;
  const onSkin = Array.from(skin.areas, (_, s): TriedPlace => {
    const point = pointAt(skin.points, s);
    return { point, value: layerPoint(map, point)![2], normal: pointAt(skin.normals, s) };
  });
  const inside = innerPlaces(map);
  const there = firstGrown(map.lattice, onSkin, inside);
  const some = [onSkin, inside].flatMap((places) => {
    const stride = Math.max(1, Math.floor(places.length / TRIED));
    return places.filter((_, i) => i % stride === 0);
  });
  const hidden = some.filter(({ point, value }) =>
    headMeets(there, point, value - JUST_LAID, growthAt(map, point)!, head),
  );
  return { there, tried: some.length, hidden };
}

/** Of each cube that has one, the middle of a tetrahedron that the skin does not reach into. */
function innerPlaces({ lattice, layerNodes }: GrownField): TriedPlace[] {
  const { shape, tetrahedra, skinTetrahedron } = lattice;
  const isOnSkin = new Uint8Array(shape.length);
  for (const t of skinTetrahedron) isOnSkin[t] = 1;
  const places: TriedPlace[] = [];
  for (let t = 0; t < shape.length; t++) {
    if (shape[t] !== 0 || isOnSkin[t] === 1) continue;
    let value = 0;
    for (let k = 0; k < 4; k++) value += layerNodes[3 * tetrahedra[4 * t + k]! + 2]! / 4;
    places.push({ point: middleOf(lattice, t), value });
  }
  return places;
}

export function judgeField(
  map: GrownField,
  rules: GrowthRules,
  head: HeadOutline,
  { hidden, tried } = tryHead(map, head),
): JudgedField {
  const { skin } = map.lattice;
  const count = skin.areas.length;
  const limit = -Math.sin(rules.overhang) - AT_THE_ANGLE;
  const floor = floorOf(skin);
  let [hangingMm2, unavoidableMm2, tilt] = [0, 0, 0];
  for (let s = 0; s < count; s++) {
    if (isStanding(skin, s, floor)) continue;
    const p = pointAt(skin.points, s);
    const d = growthAt(map, p)!;
    const n = pointAt(skin.normals, s);
    tilt = Math.max(tilt, Math.acos(Math.max(-1, Math.min(1, d[2]))));
    if (n[0] * d[0] + n[1] * d[1] + n[2] * d[2] < limit) hangingMm2 += skin.areas[s]!;
    const below = Math.asin(Math.max(-1, Math.min(1, -n[2])));
    const reach = rules.mostTilt(p[2] - floor);
    if (below - rules.overhang > reach + AT_THE_ANGLE) unavoidableMm2 += skin.areas[s]!;
  }
  return { hangingMm2, unavoidableMm2, hidden: hidden.length / tried, tilt };
}

/** What may be in the way, by value: of each cell of the skin the sample that grows first, and places inside. */
export interface FirstGrown {
  readonly points: Float64Array;
  readonly value: Float64Array;
}

function firstGrown(
  { skin, spacing }: Lattice,
  onSkin: readonly TriedPlace[],
  inside: readonly TriedPlace[],
): FirstGrown {
  const first = new Map<number, TriedPlace>();
  cellsOf(skin, HEAD_CELL_SHARE * spacing).forEach((cell, s) => {
    const known = first.get(cell);
    if (!known || known.value > onSkin[s]!.value) first.set(cell, onSkin[s]!);
  });
  const order = [...first.values(), ...inside].sort((a, b) => a.value - b.value);
  return {
    points: Float64Array.from(order.flatMap(({ point }) => point)),
    value: Float64Array.from(order, ({ value }) => value),
  };
}

/** Whether something that was grown before a value stands within the head over a tip. */
function headMeets(
  { points, value }: FirstGrown,
  tip: Vec3,
  before: number,
  d: Vec3,
  head: HeadOutline,
): boolean {
  for (let k = 0; k < value.length; k++) {
    if (value[k]! >= before) return false;
    const at = 3 * k;
    const [x, y, z] = [points[at]! - tip[0], points[at + 1]! - tip[1], points[at + 2]! - tip[2]];
    if (inHead(x, y, z, d, head)) return true;
  }
  return false;
}

/** Whether a point stands in the head, which points along d; from the tip, mm. */
export function inHead(x: number, y: number, z: number, d: Vec3, head: HeadOutline): boolean {
  const above = x * d[0] + y * d[1] + z * d[2];
  if (above < OVER_TIP || above > head.top) return false;
  return x * x + y * y + z * z - above * above < head.radiusAt(above) ** 2;
}

/** Which of two fields is better: by what hides from the head, then by what hangs, then by tilt. */
export const better = (a: JudgedField, b: JudgedField): boolean =>
  a.hidden !== b.hidden
    ? a.hidden < b.hidden
    : a.hangingMm2 !== b.hangingMm2
      ? a.hangingMm2 < b.hangingMm2
      : a.tilt < b.tilt;
