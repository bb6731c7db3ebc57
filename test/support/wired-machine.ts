/**
 * A five-axis machine as it really stands, run by the text of a program and watched by somebody beside it: simulated
 * on its own, with no code of lib. It reads the words of the program itself, moves each body by 4 x 4 matrices of
 * its own, and looks at markers: four edges of the table, tip, top and front of the head. The operator stands on
 * the side of Y- and looks towards Y+.
 */
export type Spot = [number, number, number];
type Matrix = number[][];

interface TrueJoint {
  readonly kind: 'linear' | 'rotary';
  readonly letter: string;
  readonly axis: Spot;
  readonly point?: Spot;
}

/** What of a machine file says how the machine is built. */
export interface TrueMachine {
  readonly positive: 'body' | 'tool';
  readonly head: { readonly joints: readonly TrueJoint[]; readonly tip?: Spot };
  readonly table: { readonly joints: readonly TrueJoint[]; readonly origin?: Spot };
}

type Values = Readonly<Record<string, number>>;

const times = (a: Matrix, b: Matrix): Matrix =>
  a.map((row) => b[0]!.map((_, c) => row.reduce((sum, v, k) => sum + v * b[k]![c]!, 0)));
const at = (m: Matrix, [x, y, z]: Spot): Spot =>
  [0, 1, 2].map((r) => m[r]![0]! * x + m[r]![1]! * y + m[r]![2]! * z + m[r]![3]!) as Spot;
const minus = (a: Spot, b: Spot): Spot => [a[0] - b[0], a[1] - b[1], a[2] - b[2]];
const size = (a: Spot): number => Math.sqrt(a[0] ** 2 + a[1] ** 2 + a[2] ** 2);

/** One joint as a matrix; the rotation from a unit quaternion. */
function motionOf({ kind, axis, point = [0, 0, 0] }: TrueJoint, value: number): Matrix {
  const n = axis.map((c) => c / size(axis)) as Spot;
  if (kind === 'linear') {
    return [
      [1, 0, 0, value * n[0]],
      [0, 1, 0, value * n[1]],
      [0, 0, 1, value * n[2]],
      [0, 0, 0, 1],
    ];
  }
  const half = (value * Math.PI) / 360;
  const [w, x, y, z] = [Math.cos(half), ...n.map((c) => c * Math.sin(half))] as [
    number,
    number,
    number,
    number,
  ];
  const turn: Matrix = [
    [1 - 2 * (y * y + z * z), 2 * (x * y - w * z), 2 * (x * z + w * y), 0],
    [2 * (x * y + w * z), 1 - 2 * (x * x + z * z), 2 * (y * z - w * x), 0],
    [2 * (x * z - w * y), 2 * (y * z + w * x), 1 - 2 * (x * x + y * y), 0],
    [0, 0, 0, 1],
  ];
  const moved = at(turn, point);
  for (let r = 0; r < 3; r++) turn[r]![3] = point[r]! - moved[r]!;
  return turn;
}

const still: Matrix = [
  [1, 0, 0, 0],
  [0, 1, 0, 0],
  [0, 0, 1, 0],
  [0, 0, 0, 1],
];

const chain = (joints: readonly TrueJoint[], values: Values, sense: number): Matrix =>
  joints.reduce((m, j) => times(m, motionOf(j, sense * (values[j.letter] ?? 0))), still);

/** Where the bodies stand. */
const headOf = ({ head }: TrueMachine, values: Values): Matrix => chain(head.joints, values, 1);
const tableOf = ({ table, positive }: TrueMachine, values: Values): Matrix =>
  chain(table.joints, values, positive === 'tool' ? -1 : 1);

/** Joint values at every M0 of a program, mm and deg, by letter. */
export function stopsOf(program: string): Values[] {
  const values: Record<string, number> = {};
  const stops: Values[] = [];
  for (const line of program.split('\n')) {
    const words = line.replace(/\([^)]*\)/g, '');
    if (/^M/.test(words) && !/^M0$/.test(words.trim())) continue;
    if (/^M0$/.test(words.trim())) stops.push({ ...values });
    for (const [, letter, number] of words.matchAll(/([XYZABCUVW])(-?[\d.]+)/g))
      values[letter!] = Number(number);
  }
  return stops;
}

/** Where the tip stands over the cross on the table: along its arms and square to the face, mm. */
export function tipOverCross(machine: TrueMachine, values: Values): Spot {
  const tip = at(headOf(machine, values), machine.head.tip ?? [0, 0, 0]);
  const table = tableOf(machine, values);
  const origin = machine.table.origin ?? [0, 0, 0];
  const arm = (d: Spot): Spot =>
    minus(at(table, [origin[0] + d[0], origin[1] + d[1], origin[2] + d[2]]), at(table, origin));
  const from = minus(tip, at(table, origin));
  const along = (d: Spot): number => from[0] * d[0] + from[1] * d[1] + from[2] * d[2];
  return [along(arm([1, 0, 0])), along(arm([0, 1, 0])), along(arm([0, 0, 1]))];
}

/** Markers that an eye follows; all with all joints at zero, relative to the tip or the middle of the table. */
const EDGES: Record<string, Spot> = {
  right: [80, 0, 0],
  left: [-80, 0, 0],
  near: [0, -80, 0],
  far: [0, 80, 0],
};
const HEAD: Record<string, Spot> = { tip: [0, 0, 0], top: [0, 0, 100], front: [0, -30, 50] };

const WAYS = [
  ['goes left', 'goes right'],
  ['comes towards you', 'goes away from you'],
  ['goes down', 'goes up'],
] as const;
const shiftWords = (d: Spot): string => {
  const c = [0, 1, 2].reduce((best, i) => (Math.abs(d[i]!) > Math.abs(d[best]!) ? i : best), 0);
  return WAYS[c]![d[c]! > 0 ? 1 : 0];
};

/** What somebody says who watched the machine go from one stop to the next. */
export function whatIsSeen(machine: TrueMachine, before: Values, after: Values): string {
  const moves = (
    markers: Record<string, Spot>,
    zero: Spot,
    frame: (v: Values) => Matrix,
  ): Record<string, Spot> =>
    Object.fromEntries(
      Object.entries(markers).map(([name, m]) => {
        const p: Spot = [zero[0] + m[0], zero[1] + m[1], zero[2] + m[2]];
        return [name, minus(at(frame(after), p), at(frame(before), p))];
      }),
    );
  const table = moves(EDGES, machine.table.origin ?? [0, 0, 0], (v) => tableOf(machine, v));
  const head = moves(HEAD, machine.head.tip ?? [0, 0, 0], (v) => headOf(machine, v));
  const moved = (all: Record<string, Spot>): boolean =>
    Object.values(all).some((d) => size(d) > 0.05);
  const straight = (all: Record<string, Spot>): boolean =>
    Object.values(all).every((d) => size(minus(d, Object.values(all)[0]!)) < 0.01);
  if (moved(table)) {
    if (straight(table)) return `the table ${shiftWords(table['near']!)}`;
    const edge = Object.keys(table).reduce((low, e) => (table[e]![2] < table[low]![2] ? e : low));
    if (table[edge]![2] < -1) return `the table's ${edge} edge goes down`;
    return `the table turns ${table['near']![0] > 0 ? 'counter-clockwise' : 'clockwise'}`;
  }
  if (!moved(head)) return 'nothing moves';
  if (straight(head)) return `the head ${shiftWords(head['tip']!)}`;
  const lean = minus(head['top']!, head['tip']!);
  if (Math.max(Math.abs(lean[0]), Math.abs(lean[1])) > 1) {
    const sideways = Math.abs(lean[0]) > Math.abs(lean[1]);
    const where = sideways
      ? lean[0] > 0
        ? 'right'
        : 'left'
      : lean[1] > 0
        ? 'away from you'
        : 'towards you';
    return `the top of the head leans ${where}`;
  }
  const turned = minus(head['front']!, head['tip']!);
  return `the head turns ${turned[0] > 0 ? 'counter-clockwise' : 'clockwise'}`;
}
