/**
 * Rigid-body dynamics of one side of the machine (the joints that carry the head, or the table): the torque
 * or force that each joint needs for given values, speeds and accelerations. Recursive Newton-Euler with
 * velocities and forces taken at the machine origin (Featherstone, Rigid Body Dynamics Algorithms, 2008,
 * from memory). SI units; gravity points along machine -Z. What springs and weights on ropes push is taken
 * off the joint's own load.
 */
import { GRAVITY } from '../base/gravity.js';
import type { Vec3 } from '../base/vector.js';
import type { Balance } from './drives.js';
import type { Machine } from './machine.js';
import { type Mass, NO_MASS, joined, solidMass } from './mass.js';

interface Link {
  readonly rotary: boolean;
  readonly axis: Vec3;
  /** m */
  readonly point: Vec3;
  readonly balance: Balance | undefined;
}

/** Doubles a link needs: pose 12, screw 6, speed 6, acceleration 6, centre 3, force 6. */
const POSE = 0;
const SCREW = 12;
const SPEED = 18;
const ACCEL = 24;
const CENTRE = 30;
const FORCE = 33;
const LINK_NUMBERS = 39;

/** What a balance pushes towards rising values at a joint value, N m or N. */
const pushOf = ({ torque, at, rate }: Balance, value: number): number =>
  torque - rate * (value - at);

export class ChainDynamics {
  /** Indices in `Machine.joints`, from the frame outwards. */
  readonly joints: readonly number[];
  /** Torque, N m, or force, N, of each joint of the chain, after `load`. */
  readonly torque: Float64Array;
  readonly #links: readonly Link[];
  readonly #own: readonly Mass[];
  readonly #mass: Mass[];
  readonly #s: Float64Array;
  /** Joint values of the pose, rad and m. */
  readonly #values: Float64Array;

  /** @param bodies those of the whole machine; the chain takes its own */
  constructor(machine: Machine, table: boolean) {
    const { joints, drives } = machine;
    this.joints = joints.flatMap((j, i) => (j.carriesTable === table ? [i] : []));
    this.#values = new Float64Array(this.joints.length);
    this.#links = this.joints.map((i) => {
      const { kind, axis, point } = joints[i]!;
      return {
        rotary: kind === 'rotary',
        axis,
        balance: drives?.joints[i]!.balance,
        point: [point[0] / 1000, point[1] / 1000, point[2] / 1000],
      };
    });
    this.#own = this.joints.map((i) =>
      (drives?.bodies ?? [])
        .filter((b) => b.carriedBy === i)
        .reduce((sum, b) => joined(sum, solidMass(b.solid, b.mass)), NO_MASS),
    );
    this.#mass = [...this.#own];
    this.torque = new Float64Array(this.joints.length);
    this.#s = new Float64Array(LINK_NUMBERS * this.joints.length);
  }

  /** What was put on the last link. */
  carried: Mass = NO_MASS;

  /** Puts a body on the last link, beside its own; in machine coordinates with all joints at zero, m. */
  carry(mass: Mass): void {
    const last = this.joints.length - 1;
    if (last >= 0) this.#mass[last] = joined(this.#own[last]!, mass);
    this.carried = mass;
  }

  /** Mass of all that joint k of the chain moves, kg. */
  massFrom(k: number): number {
    let sum = 0;
    for (let i = k; i < this.#mass.length; i++) sum += this.#mass[i]!.kg;
    return sum;
  }

  /** Poses of the links for joint values q (order of the chain, m and rad). */
  pose(q: ArrayLike<number>): void {
    const s = this.#s;
    for (let k = 0; k < this.#links.length; k++) {
      this.#values[k] = q[k]!;
      const at = LINK_NUMBERS * k;
      const before = at - LINK_NUMBERS;
      if (k === 0) {
        s.fill(0, POSE, POSE + 12);
        s[0] = s[4] = s[8] = 1;
      } else s.copyWithin(at + POSE, before + POSE, before + POSE + 12);
      this.#screw(k);
      this.#move(k, q[k]!);
      const c = this.#mass[k]!.centre;
      for (let r = 0; r < 3; r++) {
        s[at + CENTRE + r] =
          s[at + r]! * c[0] + s[at + 3 + r]! * c[1] + s[at + 6 + r]! * c[2] + s[at + 9 + r]!;
      }
    }
  }

  /** The joint's axis as it stands now: direction, and point x direction for a turning one. */
  #screw(k: number): void {
    const s = this.#s;
    const at = LINK_NUMBERS * k;
    const { rotary, axis, point } = this.#links[k]!;
    const z = [0, 0, 0];
    const p = [0, 0, 0];
    for (let r = 0; r < 3; r++) {
      z[r] = s[at + r]! * axis[0] + s[at + 3 + r]! * axis[1] + s[at + 6 + r]! * axis[2];
      p[r] =
        s[at + r]! * point[0] +
        s[at + 3 + r]! * point[1] +
        s[at + 6 + r]! * point[2] +
        s[at + 9 + r]!;
    }
    const o = at + SCREW;
    if (rotary) {
      s[o] = z[0]!;
      s[o + 1] = z[1]!;
      s[o + 2] = z[2]!;
      s[o + 3] = p[1]! * z[2]! - p[2]! * z[1]!;
      s[o + 4] = p[2]! * z[0]! - p[0]! * z[2]!;
      s[o + 5] = p[0]! * z[1]! - p[1]! * z[0]!;
    } else {
      s[o] = s[o + 1] = s[o + 2] = 0;
      s[o + 3] = z[0]!;
      s[o + 4] = z[1]!;
      s[o + 5] = z[2]!;
    }
  }

  /** Pose of link k from that of the link before, already copied there. */
  #move(k: number, q: number): void {
    const s = this.#s;
    const at = LINK_NUMBERS * k;
    const o = at + SCREW;
    if (!this.#links[k]!.rotary) {
      for (let r = 0; r < 3; r++) s[at + 9 + r]! += s[o + 3 + r]! * q;
      return;
    }
    const [x, y, z] = [s[o]!, s[o + 1]!, s[o + 2]!];
    const c = Math.cos(q);
    const n = Math.sin(q);
    const v = 1 - c;
    // Shift of a turn about a line through p: p - R p; p = axis x moment is its point nearest the origin.
    const px = y * s[o + 5]! - z * s[o + 4]!;
    const py = z * s[o + 3]! - x * s[o + 5]!;
    const pz = x * s[o + 4]! - y * s[o + 3]!;
    for (let i = 0; i < 12; i += 3) {
      const shift = i === 9;
      const a = s[at + i]! - (shift ? px : 0);
      const b = s[at + i + 1]! - (shift ? py : 0);
      const d = s[at + i + 2]! - (shift ? pz : 0);
      const e = (x * a + y * b + z * d) * v;
      s[at + i] = a * c + (y * d - z * b) * n + x * e + (shift ? px : 0);
      s[at + i + 1] = b * c + (z * a - x * d) * n + y * e + (shift ? py : 0);
      s[at + i + 2] = d * c + (x * b - y * a) * n + z * e + (shift ? pz : 0);
    }
  }

  /** Torques for speeds v and accelerations a at the pose that was set. */
  load(v: ArrayLike<number>, a: ArrayLike<number>): void {
    const n = this.#links.length;
    for (let k = 0; k < n; k++) this.#motion(k, v[k]!, a[k]!);
    for (let k = n - 1; k >= 0; k--) this.#force(k, k + 1 < n);
  }

  /** Spatial speed and acceleration of link k; the frame accelerates upwards instead of gravity. */
  #motion(k: number, v: number, a: number): void {
    const s = this.#s;
    const at = LINK_NUMBERS * k;
    const V = at + SPEED;
    const A = at + ACCEL;
    const S = at + SCREW;
    const before = k > 0;
    for (let r = 0; r < 6; r++) {
      s[V + r] = before ? s[V - LINK_NUMBERS + r]! : 0;
      s[A + r] = (before ? s[A - LINK_NUMBERS + r]! : r === 5 ? GRAVITY : 0) + s[S + r]! * a;
    }
    if (v === 0) return;
    const [x, y, z] = [s[V]!, s[V + 1]!, s[V + 2]!];
    const [p, q, r] = [s[V + 3]!, s[V + 4]!, s[V + 5]!];
    const [sx, sy, sz] = [s[S]! * v, s[S + 1]! * v, s[S + 2]! * v];
    const [sp, sq, sr] = [s[S + 3]! * v, s[S + 4]! * v, s[S + 5]! * v];
    s[A]! += y * sz - z * sy;
    s[A + 1]! += z * sx - x * sz;
    s[A + 2]! += x * sy - y * sx;
    s[A + 3]! += y * sr - z * sq + q * sz - r * sy;
    s[A + 4]! += z * sp - x * sr + r * sx - p * sz;
    s[A + 5]! += x * sq - y * sp + p * sy - q * sx;
    s[V]! += sx;
    s[V + 1]! += sy;
    s[V + 2]! += sz;
    s[V + 3]! += sp;
    s[V + 4]! += sq;
    s[V + 5]! += sr;
  }

  /** Force and moment that moves link k and all it carries, and the joint's share of it. */
  #force(k: number, carries: boolean): void {
    const s = this.#s;
    const at = LINK_NUMBERS * k;
    const F = at + FORCE;
    const { kg } = this.#mass[k]!;
    if (kg > 0) this.#inertial(k, kg);
    else s.fill(0, F, F + 6);
    if (carries) for (let r = 0; r < 6; r++) s[F + r]! += s[F + LINK_NUMBERS + r]!;
    let sum = 0;
    const S = at + SCREW;
    for (let r = 0; r < 6; r++) sum += s[S + r]! * s[F + r]!;
    const { balance } = this.#links[k]!;
    this.torque[k] = balance ? sum - pushOf(balance, this.#values[k]!) : sum;
  }

  /** Moment about the machine origin, then force, of link k alone. */
  #inertial(k: number, kg: number): void {
    const s = this.#s;
    const at = LINK_NUMBERS * k;
    const F = at + FORCE;
    const V = at + SPEED;
    const A = at + ACCEL;
    const [cx, cy, cz] = [s[at + CENTRE]!, s[at + CENTRE + 1]!, s[at + CENTRE + 2]!];
    const [wx, wy, wz] = [s[V]!, s[V + 1]!, s[V + 2]!];
    const [ax, ay, az] = [s[A]!, s[A + 1]!, s[A + 2]!];
    const ux = s[V + 3]! + wy * cz - wz * cy;
    const uy = s[V + 4]! + wz * cx - wx * cz;
    const uz = s[V + 5]! + wx * cy - wy * cx;
    const fx = kg * (s[A + 3]! + ay * cz - az * cy + wy * uz - wz * uy);
    const fy = kg * (s[A + 4]! + az * cx - ax * cz + wz * ux - wx * uz);
    const fz = kg * (s[A + 5]! + ax * cy - ay * cx + wx * uy - wy * ux);
    s[F] = cy * fz - cz * fy;
    s[F + 1] = cz * fx - cx * fz;
    s[F + 2] = cx * fy - cy * fx;
    s[F + 3] = fx;
    s[F + 4] = fy;
    s[F + 5] = fz;
    if (wx === 0 && wy === 0 && wz === 0 && ax === 0 && ay === 0 && az === 0) return;
    const w = this.#turned(k, wx, wy, wz);
    const t = this.#turned(k, ax, ay, az);
    s[F]! += t[0] + wy * w[2] - wz * w[1];
    s[F + 1]! += t[1] + wz * w[0] - wx * w[2];
    s[F + 2]! += t[2] + wx * w[1] - wy * w[0];
  }

  /** R I R' x: the link's own inertia on a vector of the machine frame. */
  #turned(k: number, x: number, y: number, z: number): [number, number, number] {
    const s = this.#s;
    const at = LINK_NUMBERS * k;
    const I = this.#mass[k]!.inertia;
    const bx = s[at]! * x + s[at + 1]! * y + s[at + 2]! * z;
    const by = s[at + 3]! * x + s[at + 4]! * y + s[at + 5]! * z;
    const bz = s[at + 6]! * x + s[at + 7]! * y + s[at + 8]! * z;
    const p = I[0] * bx + I[3] * by + I[4] * bz;
    const q = I[3] * bx + I[1] * by + I[5] * bz;
    const r = I[4] * bx + I[5] * by + I[2] * bz;
    return [
      s[at]! * p + s[at + 3]! * q + s[at + 6]! * r,
      s[at + 1]! * p + s[at + 4]! * q + s[at + 7]! * r,
      s[at + 2]! * p + s[at + 5]! * q + s[at + 8]! * r,
    ];
  }

  /** Energy of motion at the speeds of the last `load`, J. */
  kinetic(): number {
    const s = this.#s;
    let sum = 0;
    for (let k = 0; k < this.#links.length; k++) {
      const { kg } = this.#mass[k]!;
      if (!(kg > 0)) continue;
      const at = LINK_NUMBERS * k;
      const V = at + SPEED;
      const [wx, wy, wz] = [s[V]!, s[V + 1]!, s[V + 2]!];
      const [x, y, z] = [s[at + CENTRE]!, s[at + CENTRE + 1]!, s[at + CENTRE + 2]!];
      const ux = s[V + 3]! + wy * z - wz * y;
      const uy = s[V + 4]! + wz * x - wx * z;
      const uz = s[V + 5]! + wx * y - wy * x;
      const t = this.#turned(k, wx, wy, wz);
      sum += (kg * (ux * ux + uy * uy + uz * uz) + wx * t[0] + wy * t[1] + wz * t[2]) / 2;
    }
    return sum;
  }

  /** Energy of height at the pose that was set, and of balances, J. */
  potential(): number {
    let sum = 0;
    for (let k = 0; k < this.#links.length; k++) {
      sum += this.#mass[k]!.kg * GRAVITY * this.#s[LINK_NUMBERS * k + CENTRE + 2]!;
      const { balance } = this.#links[k]!;
      if (!balance) continue;
      const by = this.#values[k]! - balance.at;
      sum += by * ((balance.rate * by) / 2 - balance.torque);
    }
    return sum;
  }

  /**
   * At the pose that was set: the load of each joint at rest, and the inertia, kg m2, or mass, kg, that
   * it moves, which is the load of a unit acceleration. Speeds and torques stay as they are.
   */
  atRest(): { readonly loads: Float64Array; readonly inertias: Float64Array } {
    const [state, torque] = [this.#s.slice(), this.torque.slice()];
    const zero = new Float64Array(this.joints.length);
    this.load(zero, zero);
    const loads = this.torque.slice();
    const inertias = zero.map((_, k) => {
      const one = new Float64Array(zero.length);
      one[k] = 1;
      this.load(zero, one);
      return this.torque[k]! - loads[k]!;
    });
    this.#s.set(state);
    this.torque.set(torque);
    return { loads, inertias };
  }
}
