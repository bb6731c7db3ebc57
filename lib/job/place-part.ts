/**
 * Places the part on the table: turned, scaled, its lowest point on the table face, the middle of its
 * extent at the wanted place. Refuses what the table or the joints cannot take before long work begins.
 */
import { Fault } from '../base/fault.js';
import { type Frame, compose, identity, shift, turn } from '../base/frame.js';
import { DEG, type Vec3 } from '../base/vector.js';
import type { PlaceRules } from './job-file.js';
import type { Machine } from '../machine/machine.js';
import { inverse } from '../machine/inverse.js';
import { moved, scaled } from '../mesh/build.js';
import { bounds } from '../mesh/measure.js';
import type { Mesh } from '../mesh/mesh.js';

/** Given mesh in, mesh in the part frame out. @throws Fault `place/too-small` for a flat mesh */
export function place(given: Mesh, rules: PlaceRules): Mesh {
  let mesh = moved(given, compose(turn([0, 0, 1], rules.turn * DEG), upright(rules.up)));
  mesh = scaled(mesh, rules.scale);
  if (rules.height !== undefined) {
    const { least, most } = bounds(mesh);
    const height = most[2] - least[2];
    if (!(height > 0)) {
      throw new Fault(
        'place/too-small',
        `the part is ${height} mm high and cannot be scaled to ${rules.height} mm`,
      );
    }
    mesh = scaled(mesh, rules.height / height);
  }
  const { least, most } = bounds(mesh);
  const middle: Vec3 = [(least[0] + most[0]) / 2, (least[1] + most[1]) / 2, least[2]];
  return moved(mesh, shift([rules.at[0] - middle[0], rules.at[1] - middle[1], -middle[2]]));
}

/** The turn that takes an axis of the file to +Z; -Z by half a turn about X. */
function upright(up: PlaceRules['up']): Frame {
  const sign = up.startsWith('-') ? -1 : 1;
  switch (up) {
    case 'x':
    case '-x':
      return turn([0, 1, 0], (-sign * Math.PI) / 2);
    case 'y':
    case '-y':
      return turn([1, 0, 0], (sign * Math.PI) / 2);
    case 'z':
      return identity();
    case '-z':
      return turn([1, 0, 0], Math.PI);
  }
}

/**
 * Checks the posed part against table and joints, in the upright pose.
 * @param onTable how high above the face a vertex still counts as resting on it, mm
 * @throws Fault `place/off-table`, `place/out-of-reach` with value, limit and unit
 */
export function checkPlace(part: Mesh, machine: Machine, onTable: number): void {
  checkFootprint(part, machine, onTable);
  checkTravel(part, machine);
}

function checkFootprint(part: Mesh, machine: Machine, onTable: number): void {
  const v = part.vertices;
  const face = machine.face;
  for (let i = 0; i < v.length; i += 3) {
    if (v[i + 2]! > onTable) continue;
    const [x, y] = [v[i]!, v[i + 1]!];
    const [reach, limit] =
      face.shape === 'disc'
        ? [Math.hypot(x, y), face.radius]
        : Math.abs(x) / face.size[0] > Math.abs(y) / face.size[1]
          ? [Math.abs(x), face.size[0] / 2]
          : [Math.abs(y), face.size[1] / 2];
    if (reach > limit) {
      throw new Fault(
        'place/off-table',
        `the part stands ${reach.toFixed(2)} mm from the middle of the table, the table ends at ${limit} mm`,
        { point: [x, y, v[i + 2]!], frame: 'part' },
      );
    }
  }
}

function checkTravel(part: Mesh, machine: Machine): void {
  const { least, most } = bounds(part);
  const rest = new Float64Array(machine.joints.length);
  for (let corner = 0; corner < 8; corner++) {
    const p: Vec3 = [
      corner & 1 ? most[0] : least[0],
      corner & 2 ? most[1] : least[1],
      corner & 4 ? most[2] : least[2],
    ];
    const solutions = inverse(machine, p, [0, 0, 1], rest);
    if (solutions.some((s) => s.violations.length === 0)) continue;
    const violation = solutions[0]?.violations[0];
    if (!violation)
      throw new Fault('place/out-of-reach', 'the machine cannot build along the table normal');
    const joint = machine.joints[violation.joint]!;
    const [unit, k] = joint.kind === 'linear' ? ['mm', 1] : ['deg', 1 / DEG];
    throw new Fault(
      'place/out-of-reach',
      `the part's extent needs joint ${joint.letter} at ${(violation.value * k).toFixed(2)} ${unit}, its travel ends at ${(violation.limit * k).toFixed(2)} ${unit}`,
      { point: p, frame: 'part' },
    );
  }
}
