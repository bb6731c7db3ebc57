/**
 * Which bodies there are while a part grows: every region is divided into its connected shells; those
 * of regions on the table stand there separately, and a later one joins the bodies whose cut faces it
 * stands on (union-find; both sides of a cut have the same corners).
 */
import type { Mesh } from '../base/mesh.js';
import { type Vec3, add, scale } from '../base/vector.js';
import { massOf } from '../mesh/measure.js';
import { shellsOf, splitShells } from '../mesh/shells.js';
import type { Region } from '../regions/region.js';

export interface PrintedBody {
  /** In printing order. */
  readonly region: number;
  readonly mesh: Mesh;
  /** mm3 */
  readonly volume: number;
  readonly centre: Vec3;
}

/** Bodies that hold together, by their numbers. */
export interface BodyGroups {
  readonly bodies: readonly PrintedBody[];
  /** For each region, once it is printed: the group that each body so far belongs to. */
  readonly groups: readonly Int32Array[];
}

/** Less than a bead of 1 mm: crumbs that cuts leave, mm3. */
const CRUMB = 0.1;

export function growthOf(regions: readonly Region[]): BodyGroups {
  const bodies: PrintedBody[] = [];
  const groups: Int32Array[] = [];
  const parent: number[] = [];
  const find = (a: number): number => {
    while (parent[a] !== a) a = parent[a] = parent[parent[a]!]!;
    return a;
  };
  const corners = new Map<string, number>();
  regions.forEach((region, index) => {
    for (const { body, keys } of shells(region, index)) {
      const id = bodies.push(body) - 1;
      parent.push(id);
      let under = [...new Set(keys.map((key) => corners.get(key)))].filter((b) => b !== undefined);
      if (under.length === 0) {
        under = bodies.flatMap((b, i) => (region.standsOn.includes(b.region) ? [i] : []));
      }
      for (const b of under) parent[find(b)] = find(id);
      for (const key of keys) corners.set(key, id);
    }
    groups.push(Int32Array.from(bodies, (_, i) => find(i)));
  });
  return { bodies, groups };
}

/** The shells of a region that hold material, with the corners of their cut faces. */
function shells({ mesh, cut }: Region, region: number): { body: PrintedBody; keys: string[] }[] {
  const { count, of } = shellsOf(mesh);
  const keys = Array.from({ length: count }, () => new Set<string>());
  const v = mesh.vertices;
  cut.forEach((id, t) => {
    if (id < 0) return;
    for (let h = 3 * t; h < 3 * t + 3; h++) {
      const i = 3 * mesh.triangles[h]!;
      keys[of[t]!]!.add(`${v[i]} ${v[i + 1]} ${v[i + 2]}`);
    }
  });
  return splitShells(mesh).flatMap((shell, s) => {
    const { volume, centre } = massOf(shell);
    if (volume < CRUMB) return [];
    return [{ body: { region, mesh: shell, volume, centre }, keys: [...keys[s]!] }];
  });
}

/** Volume and centre of mass of bodies together. */
export function massTogether(bodies: readonly PrintedBody[]): { volume: number; centre: Vec3 } {
  const volume = bodies.reduce((sum, b) => sum + b.volume, 0);
  const centre = bodies.reduce<Vec3>(
    (c, b) => add(c, scale(b.centre, b.volume / volume)),
    [0, 0, 0],
  );
  return { volume, centre };
}
