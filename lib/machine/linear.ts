/**
 * With fixed rotary joints the nozzle tip is an affine function of the three linear joints, so their
 * values are an affine function of the tip: the map is made once for a region and applied to every
 * point of it.
 */
import { applyDirection, inverse, turn } from '../base/frame.js';
import { type Vec3, cross, dot, scale } from '../base/vector.js';
import { jointsOf } from './joint-chain.js';
import { forward } from './forward.js';
import type { Joint, Machine } from './machine.js';

/** Linear joint `linear[k]` = matrix[4 k .. 4 k + 2] . pPart + matrix[4 k + 3]. */
export interface LinearMap {
  /** Joint values with which the map was made; the rotary ones hold, the linear ones are zero. */
  readonly rotaries: Float64Array;
  /** Indices of the linear joints in `Machine.joints`. */
  readonly linear: readonly [number, number, number];
  /** 3 rows of 4: mm of joint for mm of tip, and the joint value at the part origin, mm. */
  readonly matrix: Float64Array;
}

/**
 * @param joints joint values in the order of `Machine.joints`; only the rotary ones are read
 * @returns undefined if at this pose the linear joints do not span space
 */
export function linearMap(machine: Machine, joints: ArrayLike<number>): LinearMap | undefined {
  const linear = jointsOf(machine, 'linear') as [number, number, number];
  const rotaries = Float64Array.from(joints);
  for (const i of linear) rotaries[i] = 0;
  const rest = forward(machine, rotaries).tip;
  const [u, v, w] = linear.map((i) => tipRate(machine, rotaries, i)) as [Vec3, Vec3, Vec3];
  const volume = dot(u, cross(v, w));
  if (Math.abs(volume) < 1e-6) return undefined;
  const rows = [cross(v, w), cross(w, u), cross(u, v)].map((r) => scale(r, 1 / volume));
  const matrix = new Float64Array(12);
  rows.forEach((r, k) => matrix.set([r[0], r[1], r[2], -dot(r, rest)], 4 * k));
  return { rotaries, linear, matrix };
}

/** How the tip moves over the part for each mm of linear joint `index`, part frame. */
function tipRate(machine: Machine, joints: Float64Array, index: number): Vec3 {
  const chain = machine.joints;
  const own = chain[index]!;
  let rate = own.axis;
  // The joints between the frame and this one turn its axis; only those on its own side do.
  if (!own.carriesTable) {
    for (let i = index - 1; i >= 0; i--) {
      if (!chain[i]!.carriesTable) rate = turned(chain[i]!, joints[i]!, rate);
    }
  }
  // Seen from the part: the table joints undone, those beyond this one if it carries the table.
  chain.forEach((joint, i) => {
    if (joint.carriesTable && (!own.carriesTable || i > index)) {
      rate = turned(joint, -joints[i]!, rate);
    }
  });
  rate = applyDirection(inverse(machine.mount), rate);
  return own.carriesTable ? scale(rate, -1) : rate;
}

const turned = (joint: Joint, value: number, d: Vec3): Vec3 =>
  joint.kind === 'rotary' ? applyDirection(turn(joint.axis, value), d) : d;

/** Joint values for a tip, written into `out[at ..]` with the map's rotary values. */
export function mapInto(
  map: LinearMap,
  x: number,
  y: number,
  z: number,
  out: Float64Array,
  at: number,
): void {
  const { matrix: m, linear, rotaries } = map;
  for (let i = 0; i < rotaries.length; i++) out[at + i] = rotaries[i]!;
  for (let k = 0; k < 3; k++) {
    out[at + linear[k]!] = m[4 * k]! * x + m[4 * k + 1]! * y + m[4 * k + 2]! * z + m[4 * k + 3]!;
  }
}
