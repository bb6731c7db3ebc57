/**
 * The poses in which a part may be built, each on its pedestal if there is one, with the meshes that
 * the searches work on and the user's requests, in that pose.
 */
import { type Frame, applyPoints, compose, shift } from '../../base/frame.js';
import type { Mesh } from '../../base/mesh.js';
import { DEG } from '../../base/vector.js';
import type { SolidKernel } from '../../kernel/solid.js';
import { moved } from '../../mesh/build.js';
import { type Ceilings, uncutUnder } from './ceilings.js';
import { gripOf } from './pedestal-grip.js';
import { holdOf } from './base-strength.js';
import { onPedestal } from './pedestal.js';
import { poses } from './resting-poses.js';
import { forSearch, simplified } from './search-mesh.js';
import type { RegionRules } from '../rules.js';
import type { TaggedMesh } from '../../mesh/cut/section.js';
import { type Steer, faceNear, steerIn } from '../requests/steer.js';

/** A pose with the small mesh that the searches work on in it, and the full one when it is wanted. */
export interface PartPose {
  readonly frame: Frame;
  readonly small: (triangles: number) => TaggedMesh;
  readonly full: () => TaggedMesh;
  /** What the user asks, in this pose. */
  readonly steer: Steer;
  /** Corners of the faces that are to stay whole. */
  readonly faces: readonly Float64Array[];
  /** How far the columns of a pedestal reach into the part, mm. */
  readonly grip: number;
}

/** A pedestal holds on to the part by at least this, mm. */
const LEAST_FOOT = 0.05;

/** How far the columns of a pedestal reach into a part that stands without it, mm. */
export const plainGrip = ({ foot }: RegionRules): number => Math.max(foot, LEAST_FOOT);

/** The same for a part in its pose: as far as it takes to carry it, where it would not stand without. */
function gripFor(part: () => Mesh, rules: RegionRules): number {
  const { pedestal, contact, hold } = rules;
  if (pedestal === 0) return plainGrip(rules);
  return gripOf(part(), pedestal, plainGrip(rules), contact, holdOf(hold));
}

/**
 * The poses to choose from, on their pedestals if there are any.
 * @param little the part, simplified
 */
export function partPoses(
  { part, little }: { readonly part: Mesh; readonly little: Mesh },
  rules: RegionRules,
  kernel: SolidKernel,
  bridged: Ceilings | undefined,
): PartPose[] {
  const { pedestal, detail } = rules;
  const steady = pedestal > 0 ? 0 : rules.steady * DEG;
  const all = poses(part, kernel, rules.pose === 'free' ? rules.poses : 0, steady);
  const less = simplified({ mesh: little, triangles: detail / 2 });
  const faces = rules.steer.whole.map((p) => faceNear(part, p));
  return all.map((frame) => {
    const grip = gripFor(() => moved(part, frame), rules);
    const lift = (mesh: Mesh): Mesh => (pedestal > 0 ? onPedestal(mesh, pedestal, grip) : mesh);
    return stanceOf(compose(shift([0, 0, pedestal]), frame), {
      small: (triangles) =>
        forSearch(lift(moved(triangles < detail ? less : little, frame)), triangles),
      full: () => lift(moved(part, frame)),
      grip,
    });
  });

  function stanceOf(
    frame: Frame,
    { small, full, grip }: { small: (triangles: number) => Mesh; full: () => Mesh; grip: number },
  ): PartPose {
    const same = bridged?.partFromGiven.every((x, i) => x === frame[i]) ?? false;
    const ceilings = same ? bridged!.layers : [];
    return {
      small: (triangles) => uncutUnder(small(triangles), ceilings),
      full: () => uncutUnder(full(), ceilings),
      frame,
      steer: steerIn(frame, rules.steer),
      faces: faces.map((face) => applyPoints(frame, face)),
      grip,
    };
  }
}
