/**
 * Forward kinematics: nozzle tip and build direction in the part frame for given joint values. The
 * build direction is the head's own upward axis seen from the part, so layers grow towards the head.
 */
import type { Vec3 } from '../base/vector.js';
import type { Machine } from './machine.js';

export interface Pose {
  /** Nozzle tip, part frame, mm. */
  readonly tip: Vec3;
  /** Unit build direction, part frame. */
  readonly direction: Vec3;
}

/**
 * Where the joints bring the tip in the part frame, and the build direction there.
 * @param joints values in the order of `Machine.joints`, mm and rad
 */
export function forward(machine: Machine, joints: ArrayLike<number>): Pose {
  const out = new Float64Array(6);
  forwardInto(machine, joints, 0, out);
  return { tip: [out[0]!, out[1]!, out[2]!], direction: [out[3]!, out[4]!, out[5]!] };
}

/**
 * The same without allocation, for hot loops: reads joint values from `joints[at ..]`, writes tip
 * x y z and direction x y z into `out[0 .. 5]`.
 */
export function forwardInto(
  machine: Machine,
  joints: ArrayLike<number>,
  at: number,
  out: Float64Array,
): void {
  const chain = machine.joints;
  out.set(machine.tip);
  out[3] = 0;
  out[4] = 0;
  out[5] = 1;
  // Head joints: the one next to the head moves it first.
  for (let i = chain.length - 1; i >= 0; i--) {
    if (!chain[i]!.carriesTable) moveInto(chain[i]!, joints[at + i]!, 1, out);
  }
  // Table joints backwards: undo the one next to the frame first.
  for (let i = 0; i < chain.length; i++) {
    if (chain[i]!.carriesTable) moveInto(chain[i]!, joints[at + i]!, -1, out);
  }
  out[0]! -= machine.origin[0];
  out[1]! -= machine.origin[1];
  out[2]! -= machine.origin[2];
  backInto(machine.mount, out, 0);
  backInto(machine.mount, out, 3);
}

/**
 * How far the tip moves in the part frame, mm, while joint j goes from `step` below its value to `step` above it:
 * over twice the step, the central difference. `joints` is left as it was.
 */
export function tipChange(machine: Machine, joints: Float64Array, j: number, step: number): Vec3 {
  const value = joints[j]!;
  const ahead = new Float64Array(6);
  const behind = new Float64Array(6);
  joints[j] = value + step;
  forwardInto(machine, joints, 0, ahead);
  joints[j] = value - step;
  forwardInto(machine, joints, 0, behind);
  joints[j] = value;
  return [ahead[0]! - behind[0]!, ahead[1]! - behind[1]!, ahead[2]! - behind[2]!];
}

/** What a joint does to a point and a direction, or with sense -1 undoes. */
function moveInto(
  joint: Machine['joints'][number],
  value: number,
  sense: 1 | -1,
  out: Float64Array,
): void {
  const [ax, ay, az] = joint.axis;
  if (joint.kind === 'linear') {
    out[0]! += sense * value * ax;
    out[1]! += sense * value * ay;
    out[2]! += sense * value * az;
    return;
  }
  if (value === 0) return;
  const [px, py, pz] = joint.point;
  const c = Math.cos(value);
  const s = sense * Math.sin(value);
  const along = sense * joint.runOut[0] * (c - 1) + joint.runOut[1] * s;
  out[0]! -= px;
  out[1]! -= py;
  out[2]! -= pz;
  turnInto(ax, ay, az, c, s, out, 0);
  turnInto(ax, ay, az, c, s, out, 3);
  out[0]! += px + along * ax;
  out[1]! += py + along * ay;
  out[2]! += pz + along * az;
}

/** Turns v[at ..] back by the rotation of a frame, in place. */
function backInto(f: Machine['mount'], v: Float64Array, at: number): void {
  const x = v[at]!;
  const y = v[at + 1]!;
  const z = v[at + 2]!;
  v[at] = f[0]! * x + f[1]! * y + f[2]! * z;
  v[at + 1] = f[4]! * x + f[5]! * y + f[6]! * z;
  v[at + 2] = f[8]! * x + f[9]! * y + f[10]! * z;
}

/** Rodrigues: v cos + (a x v) sin + a (a.v)(1 - cos), in place. */
function turnInto(
  ax: number,
  ay: number,
  az: number,
  c: number,
  s: number,
  v: Float64Array,
  at: number,
): void {
  const x = v[at]!;
  const y = v[at + 1]!;
  const z = v[at + 2]!;
  const k = (ax * x + ay * y + az * z) * (1 - c);
  v[at] = x * c + (ay * z - az * y) * s + ax * k;
  v[at + 1] = y * c + (az * x - ax * z) * s + ay * k;
  v[at + 2] = z * c + (ax * y - ay * x) * s + az * k;
}
