/**
 * What a shape of corner-trajectory.ts does in a corner for which it was not made: every joint's jerk,
 * acceleration and speed, and how far the path strays, instant by instant. Jerk is constant in an interval,
 * acceleration greatest at an end of one; speeds and places are taken at PARTS instants of each.
 */
import { type CornerShape, type CornerTask, INTERVALS } from './corner-trajectory.js';

/** How one corner is passed. */
export interface PassedCorner {
  readonly shape: CornerShape;
  /** Its lengths and its times, in those of the shape. */
  readonly scale: number;
  readonly stretch: number;
  /** Path speed at both ends, and the greatest within, mm/s. */
  readonly speed: number;
  /** Lengths of both legs, mm, and time, s. */
  readonly before: number;
  readonly behind: number;
  readonly seconds: number;
  /** The joint that has most to do. */
  readonly joint: number;
}

/** A corner of a route. */
export interface RoutedCorner extends CornerTask {
  /** Which joints of the machine `joints` are. */
  readonly which: readonly number[];
}

/**
 * The corner by that shape, stretched in time until each joint keeps its limits; undefined if the path
 * strays too far then.
 */
export function judged(
  task: RoutedCorner,
  shape: CornerShape,
  size: number,
): PassedCorner | undefined {
  const worst = worstOf(task, shape);
  const stretch = Math.max(1, Math.sqrt(worst.jerk * size), worst.acceleration * size);
  const over = Math.max(1, worst.speed * size, (worst.path * size) / task.speed);
  const scale = (size * stretch) / over;
  for (const leg of [0, 1] as const) {
    if (worst.inside[leg] * scale > task.inside[leg]) return undefined;
    if (worst.outside[leg] * scale > task.outside[leg]) return undefined;
  }
  return {
    shape,
    scale,
    stretch,
    speed: task.speed / over,
    before: shape.before * scale,
    behind: shape.behind * scale,
    seconds: INTERVALS * shape.step * stretch,
    joint: task.which[worst.joint]!,
  };
}

const PARTS = 4;

interface WorstUse {
  /** Of jerk, acceleration and speed the greatest share of a joint's limit. */
  jerk: number;
  acceleration: number;
  speed: number;
  /** The joint whose jerk or acceleration is used most. */
  joint: number;
  /** Greatest path speed, mm/s, cut and overrun of a leg, mm. */
  path: number;
  inside: [number, number];
  outside: [number, number];
}

function worstOf({ joints, along }: RoutedCorner, shape: CornerShape): WorstUse {
  const worst: WorstUse = {
    jerk: 0,
    acceleration: 0,
    speed: 0,
    joint: 0,
    path: 0,
    inside: [0, 0],
    outside: [0, 0],
  };
  walkCorner(shape, (i, { left, done, speeds, ramps }) => {
    const [f, g] = speeds;
    for (let p = 0; p <= PARTS; p++) {
      const t = (p / PARTS) * shape.step;
      const [a, b] = [shape.first[i]!, shape.second[i]!];
      const [f1, g1] = [f + t * (ramps[0] + (t * a) / 2), g + t * (ramps[1] + (t * b) / 2)];
      worst.path = Math.max(worst.path, Math.sqrt(f1 * f1 + g1 * g1 + 2 * along * f1 * g1));
      for (const { before, behind, speed } of joints) {
        worst.speed = Math.max(worst.speed, Math.abs(before * f1 + behind * g1) / speed);
      }
      const rest = left - t * (f + t * (ramps[0] / 2 + (t * a) / 6));
      const gone = done + t * (g + t * (ramps[1] / 2 + (t * b) / 6));
      const leg = 2 * i < INTERVALS ? 1 : 0;
      const off = leg ? gone : rest;
      worst.inside[leg] = Math.max(worst.inside[leg], off);
      worst.outside[leg] = Math.max(worst.outside[leg], -off);
    }
    joints.forEach((joint, j) => {
      const jerk = joint.before * shape.first[i]! + joint.behind * shape.second[i]!;
      const ramp = joint.before * ramps[0] + joint.behind * ramps[1];
      const [x, y] = [Math.abs(jerk) / joint.jerk, Math.abs(ramp) / joint.acceleration];
      if (Math.max(x, y) > Math.max(worst.jerk, worst.acceleration)) worst.joint = j;
      worst.jerk = Math.max(worst.jerk, x);
      worst.acceleration = Math.max(worst.acceleration, y);
    });
  });
  return worst;
}

/** Where a corner stands at the start of an interval: mm, mm/s and mm/s2 along both legs. */
export interface CornerState {
  left: number;
  done: number;
  readonly speeds: [number, number];
  readonly ramps: [number, number];
}

/** Visits the intervals of a shape in order; the state is valid until `visit` returns. */
export function walkCorner(
  { step: h, first, second, before }: CornerShape,
  visit: (interval: number, state: CornerState) => void,
): void {
  // The first leg ends without speed or acceleration, so its start is the sum of all that follows.
  let [speed, ramp] = [0, 0];
  for (let i = first.length - 1; i >= 0; i--) {
    speed += -h * ramp + (h * h * first[i]!) / 2;
    ramp -= h * first[i]!;
  }
  const state: CornerState = { left: before, done: 0, speeds: [speed, 0], ramps: [ramp, 0] };
  for (let i = 0; i < first.length; i++) {
    visit(i, state);
    const [a, b] = [first[i]!, second[i]!];
    const { speeds, ramps } = state;
    state.left -= h * (speeds[0] + h * (ramps[0] / 2 + (h * a) / 6));
    state.done += h * (speeds[1] + h * (ramps[1] / 2 + (h * b) / 6));
    speeds[0] += h * (ramps[0] + (h * a) / 2);
    speeds[1] += h * (ramps[1] + (h * b) / 2);
    ramps[0] += h * a;
    ramps[1] += h * b;
  }
}
