/**
 * How a machine turns, as the test pieces need to know it: one joint that tilts about a horizontal axis and
 * one that turns the table about its vertical axis, with the direction towards which the part leans at a
 * rising tilt and the senses of both joints. Other machines are refused.
 */
import { Fault } from '../base/fault.js';
import { DEG, type Vec3, cross, scale, unit } from '../base/vector.js';
import type { FileJoint, Joint, Machine, MachineFile } from '../machine/machine.js';

export interface AxisLayout {
  readonly tilt: Joint;
  readonly turn: Joint;
  /**
   * Azimuth, rad, towards which build directions lean in the part as the tilt rises from 0 to a: (v sin a,
   * cos a).
   */
  readonly lean: number;
  /** +1 if the turning joint moves the table about +Z at rising values, else -1. */
  readonly sense: 1 | -1;
  /** Keys of the two joints in the machine file. */
  readonly tiltKey: string;
  readonly turnKey: string;
  /** Radius that a piece may have on the table face, mm. */
  readonly room: number;
}

/** Tilt at which parts of the pieces are built, deg: what is square to it supports itself upright, too. */
export const PIECE_TILT = 40;
/** How far the turning joint may turn where the tilting one must tilt either way, deg. */
export const HELD_WITHIN = 80;
/** How far from level or upright an axis may be, as a sine. */
const ASKEW = 0.1;
/** Radius of the largest piece, mm. */
const LEAST_ROOM = 60;

/** @throws Fault `pieces/machine` */
export function layoutOf(machine: Machine): AxisLayout {
  const rotary = machine.joints.filter((j) => j.kind === 'rotary');
  const turn = rotary.find((j) => j.carriesTable && Math.abs(j.axis[2]) > 1 - ASKEW);
  const tilt = rotary.find((j) => j !== turn && Math.abs(j.axis[2]) < ASKEW);
  if (!turn || !tilt) {
    const said = rotary.map(
      (j) => `${j.letter} about ${j.axis.map((c) => c.toFixed(2)).join(' ')}`,
    );
    throw new Fault(
      'pieces/machine',
      `the test pieces are for a table that turns about its upright axis and a joint that tilts about a level one; this machine has ${said.join(', ')}`,
    );
  }
  if (tilt.least > -PIECE_TILT * DEG || tilt.most < PIECE_TILT * DEG) {
    throw new Fault(
      'pieces/machine',
      `joint ${tilt.letter} tilts from ${(tilt.least / DEG).toFixed(1)} to ${(tilt.most / DEG).toFixed(1)} deg, the test pieces need -${PIECE_TILT} to ${PIECE_TILT} deg`,
    );
  }
  const { face } = machine;
  const room = face.shape === 'disc' ? face.radius : Math.min(...face.size) / 2;
  if (room < LEAST_ROOM) {
    throw new Fault(
      'pieces/machine',
      `the table face leaves a radius of ${room} mm, the test pieces need ${LEAST_ROOM} mm`,
    );
  }
  const up: Vec3 = [0, 0, 1];
  // A tilting table turns the build direction back: R(-a) z = z + sin a (z x u); a head turns it on.
  const v = unit(scale(cross(up, tilt.axis), tilt.carriesTable ? 1 : -1));
  return {
    tilt,
    turn,
    lean: Math.atan2(v[1], v[0]),
    sense: turn.axis[2] > 0 ? 1 : -1,
    tiltKey: keyOf(machine, tilt),
    turnKey: keyOf(machine, turn),
    room,
  };
}

function keyOf({ joints }: Machine, joint: Joint): string {
  const side = joints.filter((j) => j.carriesTable === joint.carriesTable);
  return `${joint.carriesTable ? 'table' : 'head'}.joints[${side.indexOf(joint)}]`;
}

/**
 * A machine file in which the turning joint stands near 0 and the tilting one has no play that moves
 * would take up.
 * @param file content of a machine file that reads
 */
export function heldMachine(file: MachineFile, { tilt, turn }: AxisLayout): MachineFile {
  const held = (j: FileJoint): FileJoint => {
    if (j.kind === 'rotary' && j.letter === turn.letter) {
      const { turns: _, ...rest } = j;
      return { ...rest, travel: [-HELD_WITHIN, HELD_WITHIN] };
    }
    return j.letter === tilt.letter ? { ...j, backlash: 0 } : j;
  };
  return {
    ...file,
    head: { ...file.head, joints: file.head.joints.map(held) },
    table: { ...file.table, joints: file.table.joints.map(held) },
  };
}
