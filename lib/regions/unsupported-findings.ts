/**
 * What stays unsupported: how much, where, and what prevents support. A hanging facet is out of reach
 * if no reachable direction would support it; it is at the foot if every direction that would support
 * it brings the head into the table there; otherwise no cut was found that frees it with enough contact
 * and room for the head.
 */
import type { Finding } from '../base/fault.js';
import { type Vec3, dot, pointAt } from '../base/vector.js';
import { type PreparedMesh, leans, prepare } from '../overhang/overhang.js';
import { evenDirections } from '../base/even-directions.js';
import type { SearchLimits } from './search/machine-limits.js';
import type { Region } from './region.js';

type Reason = 'reach' | 'foot' | 'cut';

const REASON_WORDS: Record<Reason, string> = {
  reach: 'no direction that the machine reaches would support it',
  foot: 'every direction that would support it brings the head into the table there',
  cut: 'no cut was found that frees it with enough contact and room for the head',
};

/** Less than this is not reported, mm2. */
const LEAST_REPORTED = 0.01;

/** @param areas what hangs of each triangle of each region, mm2 */
export function unsupportedFindings(
  {
    regions,
    areas,
  }: { readonly regions: readonly Region[]; readonly areas: readonly Float64Array[] },
  limits: SearchLimits,
  theta: number,
): Finding[] {
  const sine = Math.sin(theta);
  const directions = evenDirections(200)
    .filter((d) => limits.canReach(d))
    .map((d) => ({ d, floor: limits.leastTipHeight(Math.acos(d[2])) }));
  return regions.flatMap((region, i) => {
    const p = prepare(region.mesh);
    const sums = new Map<Reason, { area: number; worst: number }>();
    const own = areas[i]!;
    own.forEach((hangs, t) => {
      if (hangs === 0) return;
      const reason = reasonOf(p, t, directions, sine);
      const sum = sums.get(reason) ?? { area: 0, worst: t };
      sum.area += hangs;
      if (hangs > own[sum.worst]!) sum.worst = t;
      sums.set(reason, sum);
    });
    return [...sums]
      .filter(([, { area }]) => area > LEAST_REPORTED)
      .map(([reason, { area, worst }]): Finding => {
        // A triangle that hangs in part hangs at its lowest corner.
        const part = own[worst]! < p.areas[worst]!;
        const point = part ? lowest(p, worst, region.direction) : middle(p, worst);
        return {
          code: `regions/unsupported-${reason}`,
          severity: 'warning',
          message: `${area.toFixed(2)} mm2 of region ${i + 1} hangs unsupported, the largest piece near ${point
            .map((x) => x.toFixed(1))
            .join(', ')} mm: ${REASON_WORDS[reason]}`,
          at: { region: i, point, frame: 'part' },
        };
      });
  });
}

function reasonOf(
  p: PreparedMesh,
  t: number,
  directions: readonly { d: Vec3; floor: number }[],
  sine: number,
): Reason {
  const holding = directions.filter(({ d }) => !leans(p, t, d, sine));
  if (holding.length === 0) return 'reach';
  const top = Math.max(
    ...[0, 1, 2].map((c) => p.mesh.vertices[3 * p.mesh.triangles[3 * t + c]! + 2]!),
  );
  return holding.every(({ floor }) => top <= floor) ? 'foot' : 'cut';
}

const corners = ({ mesh: { vertices, triangles } }: PreparedMesh, t: number): [Vec3, Vec3, Vec3] =>
  [0, 1, 2].map((i) => pointAt(vertices, triangles[3 * t + i]!)) as [Vec3, Vec3, Vec3];

const lowest = (p: PreparedMesh, t: number, d: Vec3): Vec3 =>
  corners(p, t).reduce((a, b) => (dot(b, d) < dot(a, d) ? b : a));

function middle(p: PreparedMesh, t: number): Vec3 {
  const [a, b, c] = corners(p, t);
  return [(a[0] + b[0] + c[0]) / 3, (a[1] + b[1] + c[1]) / 3, (a[2] + b[2] + c[2]) / 3];
}
