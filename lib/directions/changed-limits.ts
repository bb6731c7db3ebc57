/**
 * Hypothetical machines: the limits of the given one with one of them changed, for the question what a part
 * would gain. Each family is nested (a plan under the stricter member is a plan under every laxer one), on
 * which the sweeps rely.
 */
import { DEG } from '../base/vector.js';
import { headPoints, headRadius, headTop } from '../machine/head.js';
import { outlineOf as turnedOutline } from '../machine/outline.js';
import { rotaryPair } from '../machine/inverse.js';
import type { Machine } from '../machine/machine.js';
import { meshFrom } from '../mesh/build.js';
import { treeOf } from '../mesh/bvh.js';
import { type SearchLimits, searchLimits } from '../regions/search/machine-limits.js';

/** Every direction up to a tilt (deg), whatever the azimuth; the head of the machine. */
export function tiltTo(machine: Machine, tilt: number): SearchLimits {
  const most = Math.cos((tilt + 1e-6) * DEG);
  return { ...searchLimits(machine, 180), canReach: (d) => d[2] >= most };
}

/** How far a joint without range may seem to turn either way, deg: evenly spread directions miss a plane. */
export const FIXED_SLACK = 2;

/** Index of the rotary joint about the table normal, in `Machine.joints`; undefined if there is none. */
export function turningJoint(machine: Machine): number | undefined {
  const { first, second, w1, w2 } = rotaryPair(machine);
  const [index, axis] = Math.abs(w1[2]) >= Math.abs(w2[2]) ? [first, w1] : [second, w2];
  return Math.abs(axis[2]) > Math.cos(10 * DEG) ? index : undefined;
}

/**
 * The machine with a range of its turning joint, even about its zero.
 * @param range deg; 0 for a joint that is fixed (within FIXED_SLACK), Infinity for an endless one
 */
export function turningBy(machine: Machine, joint: number, range: number): Machine {
  const half = Math.max(FIXED_SLACK, range / 2) * DEG;
  const joints = machine.joints.map((j, i) =>
    i === joint ? { ...j, least: -half, most: half, endless: range === Infinity } : j,
  );
  return { ...machine, joints };
}

/**
 * The machine with a round table of a radius: past its edge the head may go lower.
 * Wherever the tip is on a part that reaches `part` from the rotary axis, the part of the head farther
 * than radius + part + clearance from the tip, seen along the table normal, is not over the table.
 * @param radius mm @param part mm @param tilt largest tilt, deg
 */
export function tableOf(
  machine: Machine,
  radius: number,
  part: number,
  tilt: number,
): SearchLimits {
  const outline = outlineOf(machine);
  const far = radius + part + machine.clearance;
  return {
    ...searchLimits(machine, tilt),
    leastTipHeight: (t) => leastTipHeightOver(outline, far, machine.clearance, t),
  };
}

interface Disc {
  readonly above: number;
  readonly radius: number;
}

/** Steps of the outline, mm. */
const RADIUS_STEP = 0.5;

function outlineOf(machine: Machine): Disc[] {
  const even = Array.from(
    { length: Math.floor(headTop(machine) / RADIUS_STEP) + 1 },
    (_, i) => i * RADIUS_STEP,
  );
  const extra = [...headPoints(machine).map((p) => p.above), machine.clearance];
  return [...even, ...extra].map((above) => ({ above, radius: headRadius(machine, above) }));
}

/**
 * Least height of the tip, mm, with the head leaning by t over a table of which only what is within
 * `far` of the tip counts. A point a down the slope from the axis at height s stands s sin t + a cos t
 * sideways of the tip and s cos t - a sin t over it.
 */
export function leastTipHeightOver(
  outline: readonly Disc[],
  far: number,
  clearance: number,
  t: number,
): number {
  const [cosine, sine] = [Math.cos(t), Math.abs(Math.sin(t))];
  let least = 0;
  for (const { above: s, radius: r } of outline) {
    let [low, high] = [-r, r];
    if (Math.abs(cosine) < 1e-12) {
      if (s * sine > far) continue;
    } else {
      const ends = [(far - s * sine) / cosine, (-far - s * sine) / cosine];
      low = Math.max(low, Math.min(...ends));
      high = Math.min(high, Math.max(...ends));
    }
    if (low > high) continue;
    least = Math.max(least, Math.min(clearance, s) - s * cosine + high * sine);
  }
  return least;
}

/** The machine with a cone for a head: from the flat tip to the machine's own top and radius. */
export function coneHead(machine: Machine, halfAngle: number): Machine {
  const top = headTop(machine);
  const widest = headWidth(machine);
  const tip = Math.min(machine.nozzle.flat / 2, widest);
  const slope = Math.tan(halfAngle * DEG);
  const full = (widest - tip) / slope;
  const stack = [
    { above: 0, radius: tip },
    { above: Math.min(full, top), radius: Math.min(widest, tip + top * slope) },
    { above: top, radius: Math.min(widest, tip + top * slope) },
  ];
  return { ...machine, stack, headBoxes: [], headMeshes: [] };
}

/** The machine with its head made wider or narrower, all radii in proportion. @param radius mm */
export function headOf(machine: Machine, radius: number): Machine {
  const k = radius / headWidth(machine);
  const sized = ([x, y, z]: readonly [number, number, number]): [number, number, number] => [
    k * x,
    k * y,
    z,
  ];
  return {
    ...machine,
    stack: machine.stack.map((p) => ({ above: p.above, radius: k * p.radius })),
    headBoxes: machine.headBoxes.map((b) => ({ ...b, from: sized(b.from), to: sized(b.to) })),
    headMeshes: machine.headMeshes.map(({ tree }) => {
      const { vertices, triangles } = tree.mesh;
      const mesh = meshFrom(
        vertices.map((x, i) => (i % 3 === 2 ? x : k * x)),
        triangles,
      );
      return { tree: treeOf(mesh), outline: turnedOutline(mesh) };
    }),
  };
}

/** Greatest radius of the head, mm. */
export const headWidth = (machine: Machine): number =>
  headPoints(machine).reduce((most, p) => Math.max(most, p.radius), 0);

export type Limit = 'tilt' | 'rotary' | 'table' | 'cone' | 'head';

/** One limit of a machine set to a value: deg for tilt, rotary and cone, mm for table and head. */
export interface Under {
  readonly limit: Limit;
  /** Infinity for a joint that turns without end. */
  readonly value: number;
  /** How far the part reaches from the rotary axis, mm. */
  readonly extent: number;
}

/** What the machine allows a search, with one limit set to a value if one is given. @param tilt deg */
export const limitsFor = (machine: Machine, tilt: number, under?: Under): SearchLimits =>
  under ? limitsUnder(machine, under, tilt) : searchLimits(machine, tilt);

/** @param tilt largest tilt that the user allows, deg */
export function limitsUnder(
  machine: Machine,
  { limit, value, extent }: Under,
  tilt: number,
): SearchLimits {
  switch (limit) {
    case 'tilt':
      return tiltTo(machine, value);
    case 'rotary':
      return searchLimits(turningBy(machine, turningJoint(machine)!, value), tilt);
    case 'table':
      return tableOf(machine, value, extent, tilt);
    case 'cone':
      return searchLimits(coneHead(machine, value), tilt);
    case 'head':
      return searchLimits(headOf(machine, value), tilt);
  }
}
