/**
 * The joint chain of a machine file, once more: the plain content of the file comes in, 3 x 4 matrices
 * of what each joint carries go out, relative to all joints at zero. Rotation matrices by Rodrigues'
 * formula, the products from the frame outwards. Millimetres and degrees, as in the file and in the
 * program. Shares no code with the library.
 */
export type Vec = readonly [number, number, number];

/** Rows x y z of a rotation with the shift as fourth column, packed. */
export type Matrix = Float64Array;

export interface FileJoint {
  readonly kind: string;
  readonly letter: string;
  readonly axis: Vec;
  readonly point?: Vec;
  readonly travel: 'endless' | readonly [number, number];
  readonly turns?: number;
  readonly speed: number;
  readonly acceleration: number;
  readonly jerk?: number;
  /** mm or deg */
  readonly backlash?: number;
  /** N m/deg */
  readonly stiffness?: number;
}

export type FileSolid =
  | { readonly shape: 'box'; readonly from: Vec; readonly to: Vec }
  | { readonly shape: 'cylinder'; readonly from: Vec; readonly to: Vec; readonly radius: number }
  | FileMesh;

/** A closed mesh; one that is named must have been put in place of its name. */
export interface FileMesh {
  readonly shape: 'mesh';
  readonly vertices: readonly Vec[];
  readonly triangles: readonly Vec[];
}

/** What the recount reads of a machine file. */
export interface File {
  readonly name: string;
  readonly positive: 'body' | 'tool';
  readonly head: {
    readonly joints: readonly FileJoint[];
    readonly tip?: Vec;
    readonly stack?: readonly { readonly above: number; readonly radius: number }[];
    readonly boxes?: readonly { readonly from: Vec; readonly to: Vec }[];
    readonly meshes?: readonly FileMesh[];
  };
  readonly table: {
    readonly joints: readonly FileJoint[];
    readonly origin?: Vec;
    readonly face:
      | { readonly shape: 'disc'; readonly radius: number }
      | { readonly shape: 'rectangle'; readonly size: readonly [number, number] };
    /** Of a plate; the mesh is there in its place otherwise. */
    readonly thickness?: number;
    readonly mesh?: FileMesh;
  };
  readonly ready?: Readonly<Record<string, number>>;
  readonly obstacles?: readonly {
    readonly name: string;
    readonly carriedBy: string;
    readonly solid: FileSolid;
  }[];
  readonly drives?: FileDrives;
  readonly clearance: number;
  readonly filament: { readonly diameter: number };
  readonly dialect: {
    readonly play?: 'program' | 'controller' | 'nobody';
    readonly rotaryFeedMeaning?: 'tip' | 'xyz';
    readonly filament: { readonly letter: string; readonly mode: 'absolute' | 'relative' };
  };
}

/** What the machine's parts weigh, and what holds them. */
export interface FileDrives {
  readonly drives: readonly {
    readonly ratio?: Readonly<Record<string, number>>;
    readonly belt?: { readonly radius?: number; readonly stiffness: number; readonly span: number };
  }[];
  readonly joints?: Readonly<
    Record<
      string,
      {
        readonly friction?: number;
        readonly balance?: {
          readonly torque: number;
          readonly at?: number;
          readonly rate?: number;
        };
      }
    >
  >;
  readonly bodies: readonly {
    readonly carriedBy: string;
    readonly mass: number;
    readonly solid: { readonly from: Vec; readonly to: Vec };
  }[];
}

export interface Joint extends FileJoint {
  readonly onTable: boolean;
}

export const jointsOf = ({ head, table }: File): Joint[] => [
  ...head.joints.map((j) => ({ ...j, onTable: false })),
  ...table.joints.map((j) => ({ ...j, onTable: true })),
];

export const unit = (): Matrix => Float64Array.from([1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0]);

const START = unit();

export class Chain {
  readonly joints: readonly Joint[];
  /** What joint j carries; the last one, index `joints.length`, is the frame. */
  readonly carried: readonly Matrix[];
  readonly #own: readonly Matrix[];
  readonly #values: Float64Array;
  readonly #sense: number;

  constructor(file: File) {
    this.joints = jointsOf(file);
    this.carried = [...this.joints, undefined].map(unit);
    this.#own = this.joints.map(unit);
    this.#values = new Float64Array(this.joints.length).fill(NaN);
    this.#sense = file.positive === 'tool' ? -1 : 1;
  }

  /** Index of the joint next to the head, or to the table. */
  last(onTable: boolean): number {
    return this.joints.findLastIndex((j) => j.onTable === onTable);
  }

  /** Joints that move what carrier a carries against what b carries. */
  between(a: number, b: number): number[] {
    const [p, q] = [this.#under(a), this.#under(b)];
    return [...p.filter((j) => !q.includes(j)), ...q.filter((j) => !p.includes(j))];
  }

  /** Joints between the frame and what `carrier` carries. */
  #under(carrier: number): number[] {
    const own = this.joints[carrier];
    return own
      ? this.joints.flatMap((j, i) => (i <= carrier && j.onTable === own.onTable ? [i] : []))
      : [];
  }

  /** @param values in the order of `joints`, mm and deg */
  set(values: ArrayLike<number>): void {
    let [head, table] = [START, START];
    for (let i = 0; i < this.joints.length; i++) {
      const { onTable } = this.joints[i]!;
      // ISO 841: the tool against the workpiece, so what carries the workpiece runs the other way.
      if (values[i] !== this.#values[i]) {
        this.#own[i]!.set(motion(this.joints[i]!, values[i]! * (onTable ? this.#sense : 1)));
        this.#values[i] = values[i]!;
      }
      product(onTable ? table : head, this.#own[i]!, this.carried[i]!);
      if (onTable) table = this.carried[i]!;
      else head = this.carried[i]!;
    }
  }
}

function motion({ kind, axis, point }: FileJoint, value: number): Matrix {
  const size = Math.hypot(...axis);
  const [x, y, z] = axis.map((a) => a / size) as [number, number, number];
  if (kind === 'linear') {
    return Float64Array.from([1, 0, 0, x * value, 0, 1, 0, y * value, 0, 0, 1, z * value]);
  }
  const angle = (value * Math.PI) / 180;
  const [c, s] = [Math.cos(angle), Math.sin(angle)];
  const k = 1 - c;
  const r = [
    [c + x * x * k, x * y * k - z * s, x * z * k + y * s],
    [y * x * k + z * s, c + y * y * k, y * z * k - x * s],
    [z * x * k - y * s, z * y * k + x * s, c + z * z * k],
  ] as const;
  const p = point ?? [0, 0, 0];
  return Float64Array.from(
    r.flatMap((row, i) => [...row, p[i]! - row[0] * p[0] - row[1] * p[1] - row[2] * p[2]]),
  );
}

function product(a: Matrix, b: Matrix, out: Matrix): void {
  for (let r = 0; r < 12; r += 4) {
    const [x, y, z] = [a[r]!, a[r + 1]!, a[r + 2]!];
    for (let c = 0; c < 4; c++) out[r + c] = x * b[c]! + y * b[4 + c]! + z * b[8 + c]!;
    out[r + 3]! += a[r + 3]!;
  }
}

/** Seen from a, where b is: the transpose of a's rotation after the difference of the shifts. */
export function seenFrom(a: Matrix, b: Matrix, out: Matrix): void {
  const [x, y, z] = [b[3]! - a[3]!, b[7]! - a[7]!, b[11]! - a[11]!];
  for (let r = 0; r < 3; r++) {
    const [p, q, s] = [a[r]!, a[4 + r]!, a[8 + r]!];
    for (let c = 0; c < 3; c++) out[4 * r + c] = p * b[c]! + q * b[4 + c]! + s * b[8 + c]!;
    out[4 * r + 3] = p * x + q * y + s * z;
  }
}

export const place = (m: Matrix, [x, y, z]: Vec): [number, number, number] => [
  m[0]! * x + m[1]! * y + m[2]! * z + m[3]!,
  m[4]! * x + m[5]! * y + m[6]! * z + m[7]!,
  m[8]! * x + m[9]! * y + m[10]! * z + m[11]!,
];
