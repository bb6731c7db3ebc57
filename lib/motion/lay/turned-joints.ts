/** Joint values for a place of the tip over the part with given rotary joints. */
import type { Vec3 } from '../../base/vector.js';
import { rotaryPair } from '../../machine/inverse.js';
import { linearMap, mapInto } from '../../machine/linear.js';
import type { Machine } from '../../machine/machine.js';
import type { HeadTurn } from './head-turn.js';

/** @param near values of all other joints */
export function turnedJoints(
  machine: Machine,
  tip: Vec3,
  turn: HeadTurn,
  near: Float64Array,
): Float64Array {
  const { first, second } = rotaryPair(machine);
  const joints = near.slice();
  joints[first] = turn[0];
  joints[second] = turn[1];
  const map = linearMap(machine, joints);
  if (!map) throw new Error(`the linear joints cannot bring the tip to ${tip.join(' ')}`);
  // The map holds zeros for the linear joints.
  mapInto({ ...map, rotaries: joints }, ...tip, joints, 0);
  return joints;
}
