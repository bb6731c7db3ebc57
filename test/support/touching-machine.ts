/**
 * A five-axis machine with errors that feels its way to a target, simulated on its own: it reads the machine file
 * itself, multiplies its own rotations, finds contact by distance (a disc over a plane, a disc over a ball) and by
 * halving the way down, and shares no code with lib. Joint values are as a controller shows them, mm and deg; what
 * the joints really do follows from the errors.
 *
 * The part frame has its origin where the true turning axis meets the true face. How the part lies in the plane of
 * the face (two shifts and a turn) is nobody's error, so comparisons leave these three out.
 */
export type Point = [number, number, number];
type Rows = [Point, Point, Point];

export interface RotaryErrors {
  /** Small turn of the axis about machine X, Y, Z, deg. */
  readonly turned: Point;
  /** mm */
  readonly shifted: Point;
}

export interface TrueErrors {
  /** By letter. */
  readonly rotary: Record<string, RotaryErrors>;
  /** Lean of the second and third of X, Y, Z: mm at 100 mm of Y along X, Z along X, Z along Y. */
  readonly square: Point;
  /** Tilt of the face about machine X and Y, deg, and its height along the turning axis, mm. */
  readonly face: Point;
  /** First harmonic, cosine and sine, mm. */
  readonly runOut: [number, number];
  /** Of the radius of the flat, mm. */
  readonly flat: number;
  /** What balls and blocks stand off their stated place, mm. */
  readonly target: Point;
}

/** What no list of position-independent errors holds; everything may be left out. */
export interface TrueEffects {
  /** deg times the sine of the tilt. */
  readonly windUp?: number;
  /** Play of the tilt, deg; gravity chooses the flank. */
  readonly play?: number;
  /** The tilted body, or the head that tilts, sinks by this times |sin tilt|, mm. */
  readonly sag?: number;
  /** Rise of the tip over the whole run, mm. */
  readonly drift?: number;
  /** Second harmonic of the run-out, cosine and sine, mm. */
  readonly second?: [number, number];
  /** Of the diameter of the ball, mm. */
  readonly ball?: number;
  /** Of linear joints by letter: what is travelled beyond what is shown, as a share. */
  readonly scale?: Record<string, number>;
}

interface JointOfFile {
  readonly kind: 'linear' | 'rotary';
  readonly letter: string;
  readonly axis: Point;
  readonly point?: Point;
}

interface FileOfMachine {
  readonly positive: 'body' | 'tool';
  readonly head: { readonly joints: JointOfFile[]; readonly tip?: Point };
  readonly table: { readonly joints: JointOfFile[]; readonly origin?: Point };
  readonly nozzle: { readonly flat: number };
}

/** A touch as a program makes it: joint values, mm and rad, at the planned contact, and for 1 mm down. */
export interface Planned {
  readonly number: number;
  readonly aim: string;
  readonly joints: Float64Array;
  readonly down: Float64Array;
}

/** A block on the face: its middle, length and width, mm, its length along part X. */
export interface SimulatedBlock {
  readonly at: readonly [number, number];
  readonly size: readonly [number, number];
}

export interface SimulatedBall {
  readonly at: Point;
  readonly diameter: number;
}

const RAD = Math.PI / 180;
const plus = (a: Point, b: Point, s = 1): Point => [
  a[0] + s * b[0],
  a[1] + s * b[1],
  a[2] + s * b[2],
];
const inner = (a: Point, b: Point): number => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
const size = (a: Point): number => Math.sqrt(inner(a, a));
const norm = (a: Point): Point => plus([0, 0, 0], a, 1 / size(a));
const outer = (a: Point, b: Point): Point => [
  a[1] * b[2] - a[2] * b[1],
  a[2] * b[0] - a[0] * b[2],
  a[0] * b[1] - a[1] * b[0],
];

/** Rotation by the unit quaternion of an axis and an angle, rad. */
function rotation(axis: Point, angle: number): Rows {
  const [x, y, z] = norm(axis);
  const [w, s] = [Math.cos(angle / 2), Math.sin(angle / 2)];
  const [i, j, k] = [s * x, s * y, s * z];
  return [
    [1 - 2 * (j * j + k * k), 2 * (i * j - k * w), 2 * (i * k + j * w)],
    [2 * (i * j + k * w), 1 - 2 * (i * i + k * k), 2 * (j * k - i * w)],
    [2 * (i * k - j * w), 2 * (j * k + i * w), 1 - 2 * (i * i + j * j)],
  ];
}
const turnedBy = (m: Rows, v: Point): Point => [inner(m[0], v), inner(m[1], v), inner(m[2], v)];
/** By three small angles, deg. */
const nudged = (v: Point, angles: Point): Point => {
  const by = size(angles);
  return by === 0 ? v : turnedBy(rotation(angles, by * RAD), v);
};

export class TouchingMachine {
  readonly #order: { joint: JointOfFile; table: boolean; sense: number }[];
  readonly #tilting: string;
  readonly #turning: string;
  readonly #flat: number;
  readonly #tip: Point;
  readonly #origin: Point;
  readonly #normal: Point;

  /** @param file the machine file as JSON */
  constructor(
    file: Record<string, unknown>,
    readonly errors: TrueErrors,
    readonly effects: TrueEffects,
    readonly balls: readonly SimulatedBall[],
    readonly block?: SimulatedBlock,
  ) {
    const { head, table, positive, nozzle } = file as unknown as FileOfMachine;
    const all = [
      ...head.joints.map((joint) => ({ joint, table: false, sense: 1 })),
      ...table.joints.map((joint) => ({
        joint,
        table: true,
        sense: positive === 'tool' ? -1 : 1,
      })),
    ];
    const rotary = all.filter(({ joint }) => joint.kind === 'rotary');
    this.#turning = rotary.findLast(({ table: t }) => t)!.joint.letter;
    this.#tilting = rotary.find(({ joint }) => joint.letter !== this.#turning)!.joint.letter;
    this.#order = all.map((o) => ({ ...o, joint: this.#erring(o.joint) }));
    this.#flat = nozzle.flat / 2 + errors.flat;
    this.#tip = head.tip ?? [0, 0, 0];
    const turning = this.#order.find(({ joint }) => joint.letter === this.#turning)!.joint;
    const drawn = rotary.find(({ joint }) => joint.letter === this.#turning)!.joint;
    // The face goes with the axis that turns it, then by errors of its own.
    this.#normal = nudged(nudged(norm(drawn.axis), errors.rotary[this.#turning]!.turned), [
      errors.face[0],
      errors.face[1],
      0,
    ]);
    const along = norm(turning.axis);
    const level = (table.origin ?? [0, 0, 0])[2] + errors.face[2];
    this.#origin = plus(turning.point!, along, (level - turning.point![2]) / along[2]);
  }

  #erring(joint: JointOfFile): JointOfFile {
    const axis = norm(joint.axis);
    if (joint.kind === 'rotary') {
      const { turned, shifted } = this.errors.rotary[joint.letter]!;
      return { ...joint, axis: nudged(axis, turned), point: plus(joint.point!, shifted) };
    }
    const [yx, zx, zy] = this.errors.square.map((e) => e / 100) as Point;
    const lean: Record<string, Point> = { X: [0, 0, 0], Y: [yx, 0, 0], Z: [zx, zy, 0] };
    return { ...joint, axis: norm(plus(axis, lean[joint.letter]!)) };
  }

  get letters(): string[] {
    return this.#order.map(({ joint }) => joint.letter);
  }

  /** What a joint really does when it shows `shown`. */
  #real({ letter, kind }: JointOfFile, shown: number): number {
    const { scale, windUp = 0, play = 0 } = this.effects;
    if (kind === 'linear') return shown * (1 + (scale?.[letter] ?? 0));
    if (letter !== this.#tilting) return shown;
    const sine = Math.sin(shown * RAD);
    // Level, gravity does not push: the joint lies where it came from, on the lower flank.
    return shown + windUp * sine + (play / 2) * (sine > 1e-6 ? 1 : -1);
  }

  /** Turns and moves that the joints make of a point, inwards from the frame; `share` of the run is over. */
  #carried(table: boolean, values: readonly number[], from: Point, share: number): [Rows, Point] {
    let p = from;
    let m: Rows = [
      [1, 0, 0],
      [0, 1, 0],
      [0, 0, 1],
    ];
    const { sag = 0, drift = 0, second = [0, 0] } = this.effects;
    for (let i = this.#order.length - 1; i >= 0; i--) {
      const { joint, table: t, sense } = this.#order[i]!;
      if (t !== table) continue;
      const value = sense * this.#real(joint, values[i]!);
      const axis = norm(joint.axis);
      if (joint.kind === 'linear') {
        p = plus(p, axis, value);
        continue;
      }
      const r = rotation(axis, value * RAD);
      p = plus(turnedBy(r, plus(p, joint.point!, -1)), joint.point!);
      const columns = [0, 1, 2].map((c) => turnedBy(r, [m[0][c]!, m[1][c]!, m[2][c]!]));
      m = [0, 1, 2].map((k) => columns.map((c) => c[k]!) as Point) as Rows;
      if (joint.letter === this.#turning) {
        const [a, q] = [value * RAD, this.errors.runOut];
        p = plus(p, axis, q[0] * (Math.cos(a) - 1) + q[1] * Math.sin(a));
        p = plus(p, axis, second[0] * (Math.cos(2 * a) - 1) + second[1] * Math.sin(2 * a));
      }
      if (joint.letter === this.#tilting)
        p = plus(p, [0, 0, -sag * Math.abs(Math.sin(value * RAD))]);
    }
    return table ? [m, p] : [m, plus(p, [0, 0, drift * share])];
  }

  /** Part axes as machine vectors with all joints at zero: +Z the face's normal, by the least turn. */
  #mount(v: Point): Point {
    const axis = outer([0, 0, 1], this.#normal);
    const sine = size(axis);
    return sine < 1e-12 ? v : turnedBy(rotation(axis, Math.atan2(sine, this.#normal[2])), v);
  }

  /** Tip and the head's upward direction, part frame, mm. @param values as shown, mm and deg */
  tip(values: readonly number[], share = 0): { at: Point; up: Point } {
    const [h, tip] = this.#carried(false, values, this.#tip, share);
    const [m, origin] = this.#carried(true, values, this.#origin, share);
    const axes = (
      [
        [1, 0, 0],
        [0, 1, 0],
        [0, 0, 1],
      ] as Point[]
    ).map((e) => turnedBy(m, this.#mount(e)));
    const up: Point = [h[0][2], h[1][2], h[2][2]];
    const off = plus(tip, origin, -1);
    const seen = (v: Point): Point => axes.map((a) => inner(a, v)) as Point;
    return { at: seen(off), up: seen(up) };
  }

  /** Distance of the tip's disc from what is aimed at, mm; negative inside. */
  gap(aim: string, values: readonly number[], share: number): number {
    const { at, up } = this.tip(values, share);
    if (aim === 'face') return at[2] - this.#flat * Math.sqrt(Math.max(0, 1 - up[2] * up[2]));
    if (aim.startsWith('block')) return this.#overSide(aim, at, up);
    const ball = this.balls[0]!;
    const centre = plus(ball.at, this.errors.target);
    const radius = (ball.diameter + (this.effects.ball ?? 0)) / 2;
    const off = plus(centre, at, -1);
    const rise = inner(off, up);
    const aside = size(plus(off, up, -rise));
    // From the disc to the centre of the ball; the head comes from above.
    return (rise > 0 ? -1 : 1) * Math.hypot(rise, Math.max(0, aside - this.#flat)) - radius;
  }

  /** A side of the block as an endless plane: its touches are planned well inside. */
  #overSide(aim: string, at: Point, up: Point): number {
    const [sign, axis] = [aim[6] === '-' ? -1 : 1, aim[7] === 'y' ? 1 : 0] as const;
    const { at: middle, size: sides } = this.block!;
    const off = sign * (at[axis] - middle[axis] - this.errors.target[axis]) - sides[axis] / 2;
    // The disc leans towards the side by the sine of the angle between them.
    return off - this.#flat * Math.sqrt(Math.max(0, 1 - up[axis] ** 2));
  }

  /**
   * Comes down from `from` by up to `reach` mm. @returns the way until contact, mm; undefined for a miss
   * @param down joint values for 1 mm, mm and deg
   */
  feel(
    aim: string,
    from: readonly number[],
    down: readonly number[],
    reach: number,
    share: number,
  ): number | undefined {
    const at = (s: number): number =>
      this.gap(
        aim,
        from.map((v, i) => v + s * down[i]!),
        share,
      );
    let free = 0;
    if (at(0) <= 0) return undefined;
    for (let s = 0.2; s <= reach + 1e-9; s += 0.2) {
      if (at(s) > 0) {
        free = s;
        continue;
      }
      let met = s;
      for (let k = 0; k < 50; k++) {
        const middle = (free + met) / 2;
        if (at(middle) > 0) free = middle;
        else met = middle;
      }
      return met;
    }
    return undefined;
  }

  /**
   * What the controller shows at each touch of a program that starts `over` its place and searches `reach` mm,
   * with noise along the way, mm; undefined for a miss.
   */
  run<T extends Planned>(
    touches: readonly T[],
    noise: () => number,
    [over, reach]: readonly [number, number] = [8, 20],
  ): ((T & { readonly joints: Float64Array }) | undefined)[] {
    const shown = (v: Float64Array): number[] =>
      [...v].map((x, i) => (this.#order[i]!.joint.kind === 'rotary' ? x / RAD : x));
    const last = Math.max(...touches.map((t) => t.number));
    return touches.map((touch) => {
      const down = shown(touch.down);
      const from = shown(touch.joints).map((v, i) => v - over * down[i]!);
      const met = this.feel(touch.aim, from, down, reach, touch.number / last);
      if (met === undefined) return undefined;
      const way = met - over + noise();
      return { ...touch, joints: touch.joints.map((v, i) => v + way * touch.down[i]!) };
    });
  }
}
