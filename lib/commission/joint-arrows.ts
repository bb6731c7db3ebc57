/**
 * Where the arrow of a joint runs on a picture, towards where what it carries moves when its value rises: a straight
 * one beside the head or the table for a linear joint, an arc about its axis for a turning one. Colours of the
 * palette that stand out on a light and on a dark ground; its yellow does not.
 */
import { type Frame, applyDirection, applyPoint } from '../base/frame.js';
import { type Vec3, add, along, cross, dot, scale, square, sub, unit } from '../base/vector.js';
import { css, regionColour } from '../draw/palette.js';
import type { Colour } from '../draw/raster.js';
import { carriedBy, machineFromHead, machineFromPart } from '../machine/joint-chain.js';
import type { Machine } from '../machine/machine.js';

export interface JointArrow {
  readonly points: readonly Vec3[];
  /** Ends of a line that shows the axis of a turning joint. */
  readonly axis?: readonly [Vec3, Vec3];
  readonly label: string;
  readonly colour: string;
  readonly rgb: Colour;
}

const SEEN_ON_BOTH = [5, 6, 2, 3, 1];
/** Sweep of an arc, rad. */
const SWEEP = (Math.PI * 3) / 5;
const ARC_STEPS = 40;

/** Half the width of the table, by which arrows are drawn, mm. */
export const sizeOfTable = ({ face }: Machine): number =>
  face.shape === 'disc' ? face.radius : Math.max(...face.size) / 2;

/**
 * What an arrow hangs on. That of a turning joint stands on what carries the joint; that of a linear one goes along
 * with the head or the table, wherever they are, and turns with the joint's own axis.
 */
export function arrowFrame(machine: Machine, joints: ArrayLike<number>, j: number): Frame {
  const { kind, carriesTable } = machine.joints[j]!;
  if (kind === 'rotary') {
    const outer = machine.joints.findLastIndex((o, i) => i < j && o.carriesTable === carriesTable);
    return carriedBy(machine, joints, outer);
  }
  const frame = carriedBy(machine, joints, j);
  const [zero, now] = carriesTable
    ? [machine.origin, machineFromPart(machine, joints)]
    : [machine.tip, machineFromHead(machine, joints)];
  const from = applyDirection(frame, zero);
  frame.set(sub([now[12]!, now[13]!, now[14]!], from), 12);
  return frame;
}

/** The arrow of joint `j` with all joints at zero, machine coordinates, mm. */
export function arrowAtZero(machine: Machine, j: number): JointArrow {
  const joint = machine.joints[j]!;
  const size = sizeOfTable(machine);
  const rgb = regionColour(SEEN_ON_BOTH[j % SEEN_ON_BOTH.length]!);
  const way = joint.kind === 'linear' ? straight(machine, j, size) : arc(machine, j, size);
  return { ...way, label: `${joint.letter}+`, colour: css(rgb), rgb };
}

/** The same where the joints stand. */
export function jointArrow(machine: Machine, joints: ArrayLike<number>, j: number): JointArrow {
  const frame = arrowFrame(machine, joints, j);
  const arrow = arrowAtZero(machine, j);
  return { ...arrow, points: arrow.points.map((p) => applyPoint(frame, p)) };
}

type Way = Pick<JointArrow, 'points' | 'axis'>;

function straight({ joints, tip, origin }: Machine, j: number, size: number): Way {
  const { axis, carriesTable } = joints[j]!;
  const corner: Vec3 = carriesTable
    ? add(origin, [0.9 * size, -1.5 * size, 0])
    : add(tip, [0.62 * size, -0.62 * size, 0.9 * size]);
  return { points: [corner, along(corner, unit(axis), 0.55 * size)] };
}

function arc({ joints, tip, origin }: Machine, j: number, size: number): Way {
  const { axis, point, carriesTable } = joints[j]!;
  const beside = dot(sub(carriesTable ? origin : tip, point), axis);
  const end = (by: number): Vec3 => along(point, axis, beside + by);
  // An axis across the machine is drawn at its end, one that stands upright around the table.
  const upright = Math.abs(axis[2]) > 0.8;
  const centre = end(upright ? 0 : carriesTable ? 1.5 * size : 0.7 * size);
  const radius = (upright ? 1.2 : 0.38) * size;
  const u = upright ? unit(cross(axis, [1, 0, 0])) : square(axis);
  const v = cross(axis, u);
  const points = Array.from({ length: ARC_STEPS + 1 }, (_, i) => {
    const a = (SWEEP * i) / ARC_STEPS;
    return add(centre, add(scale(u, radius * Math.cos(a)), scale(v, radius * Math.sin(a))));
  });
  return { points, axis: [end(-1.7 * size), end(1.7 * size)] };
}
