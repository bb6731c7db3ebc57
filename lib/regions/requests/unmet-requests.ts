/** Findings for what was asked of a plan and could not be done. */
import type { Finding } from '../../base/fault.js';
import type { Mesh } from '../../base/mesh.js';
import { DEG, type Vec3, dot } from '../../base/vector.js';
import { treeOf } from '../../mesh/bvh.js';
import { nearestPoint } from '../../mesh/query.js';
import { requestedCuts } from './requested-cuts.js';
import { uncut } from '../../mesh/cut/cut.js';
import type { SearchLimits } from '../search/machine-limits.js';
import type { Region } from '../region.js';
import { headTable } from '../search/head-clearance.js';
import type { RegionRules } from '../rules.js';
import { type Steer, allows, faceNear, inCone, steered } from './steer.js';

export interface PlanAndRequests {
  /** In its pose. */
  readonly part: Mesh;
  readonly regions: readonly Region[];
  /** In the frame of that pose. */
  readonly steer: Steer;
  readonly limits: SearchLimits;
  readonly rules: RegionRules;
}

export function unmetRequests(input: PlanAndRequests): Finding[] {
  return [...directions(input), ...preferred(input), ...faces(input), ...cuts(input)];
}

const vec = (v: Vec3): string => v.map((x) => Number(x.toFixed(3))).join(', ');

const warning = (code: string, message: string): Finding => ({
  code: `regions/asked-${code}`,
  severity: 'warning',
  message,
});

function directions({ regions, steer, limits }: PlanAndRequests): Finding[] {
  const out = steer.only
    .filter((d) => !limits.canReach(d))
    .map((d) => warning('direction', `the direction ${vec(d)} was asked for and is out of reach`));
  regions.forEach((r, i) => {
    const own = steer.forbid.some((c) => c.at && inCone(c, r.direction) && i === at(regions, c.at));
    if (allows(steer, r.direction) && !own) return;
    const why =
      i === 0
        ? 'the first region stands on the table and is built along its normal'
        : 'a cut that was asked for is built along it';
    out.push({
      ...warning(
        'direction',
        `region ${i + 1} is built along ${vec(r.direction)}, which was forbidden: ${why}`,
      ),
      at: { region: i },
    });
  });
  return out;
}

/** The region whose skin lies nearest to a point. */
function at(regions: readonly Region[], p: Vec3): number {
  const far = regions.map(({ mesh }) => nearestPoint(treeOf(mesh), p)!.distance);
  return far.indexOf(Math.min(...far));
}

function preferred({ regions, steer: { prefer } }: PlanAndRequests): Finding[] {
  if (!prefer) return [];
  const along = (r: Region): boolean => dot(r.direction, prefer) > Math.cos(1 * DEG);
  const total = regions.reduce((sum, r) => sum + r.volume, 0);
  const share = regions.reduce((sum, r) => sum + (along(r) ? r.volume : 0), 0) / total;
  return [
    {
      code: 'regions/asked-prefer',
      severity: 'note',
      message: `${(100 * share).toFixed(0)}% of the volume is built along the preferred direction ${vec(prefer)}`,
    },
  ];
}

/** A face is whole if one region has all its corners: what a plane takes, it takes with its triangles. */
function faces({ part, regions, steer }: PlanAndRequests): Finding[] {
  const key = (v: Float64Array, i: number): string => `${v[i]} ${v[i + 1]} ${v[i + 2]}`;
  const held = regions.map(({ mesh }) => {
    const own = new Set<string>();
    for (let i = 0; i < mesh.vertices.length; i += 3) own.add(key(mesh.vertices, i));
    return own;
  });
  return steer.whole.flatMap((p) => {
    const face = faceNear(part, p);
    const holds = (own: Set<string>): boolean => {
      for (let i = 0; i < face.length; i += 3) if (!own.has(key(face, i))) return false;
      return true;
    };
    if (held.some(holds)) return [];
    const count = held.filter((own) => {
      for (let i = 0; i < face.length; i += 3) if (own.has(key(face, i))) return true;
      return false;
    }).length;
    return [
      warning(
        'face',
        `the face near ${vec(p)} mm was to stay whole and lies in ${count} regions: a cut that was asked for goes through it`,
      ),
    ];
  });
}

function cuts({ part, steer, limits, rules }: PlanAndRequests): Finding[] {
  if (steer.cuts.length === 0) return [];
  const setting = {
    theta: rules.overhang * DEG,
    foot: rules.foot,
    limits: steered(limits, steer),
    most: rules.most,
    prefer: steer.prefer ?? ([0, 0, 1] as const),
  };
  const { refused } = requestedCuts(uncut(part), steer.cuts, setting, headTable(limits));
  return refused.map(({ index, why }) =>
    warning('cut', `cut ${index + 1} of those that were asked for was not made: ${why}`),
  );
}
