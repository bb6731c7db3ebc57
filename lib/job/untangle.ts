/**
 * Regions that block one another in every order and in turns. The job is laid out again with one of the
 * two kept from its direction, breadth first, until nothing is stuck or MOST_LAYOUTS are spent, and the
 * best outcome is taken. What cannot be printed in any order ends the job later, so fewer stuck pairs
 * come before less that hangs.
 */
import type { Finding } from '../base/fault.js';
import { applyDirection, applyPoint, inverse } from '../base/frame.js';
import { type Vec3, add, length, pointAt, scale, sub } from '../base/vector.js';
import type { Layers } from '../layers/layers.js';
import { areaNormals } from '../mesh/measure.js';
import type { Sequence } from '../order/order.js';
import type { Hindrance } from '../order/head-in-the-way.js';
import type { PlannedPaths } from '../paths/plan-paths.js';
import type { RegionPlan } from '../regions/plan-regions.js';
import type { Region } from '../regions/region.js';
import type { Cone } from '../regions/requests/steer.js';

/** A job laid out up to the order of its regions. */
export interface LaidOut {
  readonly plan: RegionPlan;
  readonly layers: readonly Layers[];
  readonly paths: readonly PlannedPaths[];
  readonly sequence: Sequence;
}

/** Lays the job out with some directions forbidden to some pieces, in the frame of the part as placed. */
export type LayOut<T extends LaidOut> = (forbidden: readonly Cone[]) => Promise<T>;

/** How often the job is laid out again at most. */
const MOST_LAYOUTS = 4;
/** Half-angle of the cone of directions that is forbidden with one in the way, deg. */
const WITHIN = 15;

export async function untangled<T extends LaidOut>(
  layOut: LayOut<T>,
): Promise<{ readonly laidOut: T; readonly findings: readonly Finding[] }> {
  const first = await layOut([]);
  let best = first;
  let kept: readonly Cone[] = [];
  let open = otherCones(first, []);
  let tries = 0;
  while (best.sequence.stuck.length > 0 && tries < MOST_LAYOUTS && open.length > 0) {
    const forbidden = open.shift()!;
    tries++;
    const found = await layOut(forbidden);
    const next = otherCones(found, forbidden);
    if (found.sequence.stuck.length < best.sequence.stuck.length) {
      [best, kept, open] = [found, forbidden, next];
    } else open.push(...next);
  }
  return {
    laidOut: best,
    findings: [
      ...kept.map((cone) => turned(cone, best)),
      ...best.sequence.stuck.map((h) => inTheWay(h, tries)),
    ],
  };
}

/** What else may be forbidden: for each stuck pair the direction of the one, then of the other. */
function otherCones({ plan, sequence }: LaidOut, forbidden: readonly Cone[]): (readonly Cone[])[] {
  const givenFromPart = inverse(plan.partFromGiven);
  return sequence.stuck.flatMap(({ hindered, by }) =>
    [hindered, by]
      .map((i) => plan.regions[i]!)
      // What stands on the table is built along its normal.
      .filter((region) => region.baseCut >= 0)
      .map((region) => [
        ...forbidden,
        {
          direction: applyDirection(givenFromPart, region.direction),
          within: WITHIN,
          at: applyPoint(givenFromPart, middleOfSkin(region)),
        },
      ]),
  );
}

/** The middle of the facet of its skin that is nearest to the middle of all of it. */
function middleOfSkin({ mesh, cut }: Region): Vec3 {
  const normals = areaNormals(mesh);
  const facets: { middle: Vec3; area: number }[] = [];
  cut.forEach((id, t) => {
    if (id >= 0) return;
    const corner = (k: number): Vec3 => pointAt(mesh.vertices, mesh.triangles[3 * t + k]!);
    const area = Math.hypot(normals[3 * t]!, normals[3 * t + 1]!, normals[3 * t + 2]!);
    facets.push({ middle: scale(add(add(corner(0), corner(1)), corner(2)), 1 / 3), area });
  });
  const total = facets.reduce((sum, f) => sum + f.area, 0);
  const middle = facets.reduce<Vec3>(
    (sum, f) => add(sum, scale(f.middle, f.area / total)),
    [0, 0, 0],
  );
  const far = (f: { middle: Vec3 }): number => length(sub(f.middle, middle));
  return facets.reduce((near, f) => (far(f) < far(near) ? f : near)).middle;
}

const words = (p: Vec3): string => p.map((x) => x.toFixed(1)).join(', ');

const turned = ({ direction, at }: Cone, { plan }: LaidOut): Finding => ({
  code: 'order/turned',
  severity: 'note',
  message: `the piece near ${words(applyPoint(plan.partFromGiven, at!))} mm is not built along ${words(applyDirection(plan.partFromGiven, direction))}: there it and another one would have been in one another's way in every order`,
});

const inTheWay = ({ hindered, by, layer, point }: Hindrance, tries: number): Finding => ({
  code: 'order/in-the-way',
  severity: 'warning',
  message: `while region ${hindered + 1} is printed (layer ${layer + 1}) the head passes where region ${by + 1}, which must come first, already is, near ${words(point)} mm; ${tries === 0 ? 'neither can be built along another direction' : `other directions for the two were searched ${tries} times, and none is free of this`}`,
  at: { region: hindered, layer, point, frame: 'part' },
});
