/**
 * Traces of sheets that are cylinders about an axis under the table: sheet k has the radius R + k H, its beads are arcs
 * side by side, and the head stands radially, or leans from that.
 */
import { DEG, type Vec3 } from '../../lib/base/vector.js';
import { TraceKind } from '../../lib/verify/trace.js';
import { type Block, traceOfBlocks as traceOf } from './traces.js';

export const R = 20;
export const H = 0.2;
export const W = 0.4;
export const STEP = 1 * DEG;

export const radial = (angle: number): Vec3 => [Math.sin(angle), 0, Math.cos(angle)];
export const on = (r: number, angle: number, y: number): Vec3 => [
  r * Math.sin(angle),
  y,
  r * Math.cos(angle),
];

/** A trace with its runs numbered from zero in the order in which they lay. */
export function traceOfBlocks(
  from: Vec3,
  blocks: readonly Block[],
  up?: Vec3,
): ReturnType<typeof traceOf> {
  const numbers = new Map<number, number>();
  for (const { run, volume } of blocks) {
    if (volume !== undefined && !numbers.has(run!)) numbers.set(run!, numbers.size);
  }
  const last = numbers.size - 1;
  const told = blocks.map((b) => ({ ...b, run: numbers.get(b.run!) ?? last }));
  return traceOf(from, told, up);
}

/** How far the head is turned from the radius, rad: along the arcs, and towards y. */
export interface Lean {
  readonly along?: number;
  readonly across?: number;
}

const leaning = (angle: number, { along = 0, across = 0 }: Lean): Vec3 => {
  const [x, , z] = radial(angle + along);
  return [Math.cos(across) * x, Math.sin(across), Math.cos(across) * z];
};

/** An arc of 30 deg at radius r and place y, with the section of a bead of height h; the way to it first. */
export function arc(r: number, y: number, run: number, section = W * H, lean: Lean = {}): Block[] {
  const begin = -15 * DEG;
  const chord = 2 * r * Math.sin(STEP / 2);
  return [
    { to: on(r, begin, y), direction: leaning(begin, lean), kind: TraceKind.transfer, run },
    ...Array.from({ length: 30 }, (_, i): Block => {
      const angle = begin + (i + 1) * STEP;
      return {
        to: on(r, angle, y),
        direction: leaning(angle, lean),
        volume: section * chord,
        run: run + i,
      };
    }),
  ];
}

/** Sheets of five arcs side by side, the lowest so far over the table that it is none of its own. */
export const sheet = (k: number, section?: number, lean?: Lean): Block[] =>
  [0, 1, 2, 3, 4].flatMap((n) => arc(R + k * H, n * W, 1000 * k + 100 * n, section, lean));

/** Open fill: every other sheet of arcs, the others of lines along the axis, a tenth of a radius apart all. */
export const openSheet = (k: number, section?: number): Block[] =>
  [-2, -1, 0, 1, 2].flatMap((n) => {
    const run = 1000 * k + 100 * n + 500;
    const r = R + k * H;
    return k % 2 ? line(r, n / 10, run, section) : arc(r, (n * R) / 10, run, section);
  });

/** A line along the axis, 10 mm long, at an angle, with the head square to it. */
function line(r: number, angle: number, run: number, section = W * H): Block[] {
  const direction = radial(angle);
  return [
    { to: on(r, angle, -5), direction, kind: TraceKind.transfer, run },
    ...Array.from({ length: 25 }, (_, i): Block => {
      const y = -5 + (i + 1) * 0.4;
      return { to: on(r, angle, y), direction, volume: section * 0.4, run: run + i };
    }),
  ];
}
