/**
 * Union of several shells into one boundary by the Positive rule (3MF core 1.4, section 4.1.1):
 * material is where the winding number is at least one. Shells that neither cross nor lie on each other
 * are sorted by which lies in which; those that do are united by the solid kernel, which costs more.
 * Crossings within one shell stay: layers are united where their loops cross.
 */
import { BOUNDS } from '../../base/bounds.js';
import { Fault, type Finding, type Place } from '../../base/fault.js';
import { pointAt } from '../../base/vector.js';
import type { SolidKernel } from '../../kernel/solid.js';
import { treeOf } from '../bvh.js';
import { eachContact } from './crossing-facets.js';
import { massOf } from '../measure.js';
import type { Mesh } from '../mesh.js';
import { enclosing, turnedOver } from './orient.js';
import { type Shells, boxPairs, joined, shellsOf, splitShells } from '../shells.js';

export interface UnitedShells {
  readonly mesh: Mesh;
  readonly findings: Finding[];
}

interface UnionState {
  readonly parts: Mesh[];
  /** Magnitude of each shell's volume, mm3, and its sign as it stands. */
  readonly volumes: number[];
  readonly signs: number[];
  /** Shells that each shell crosses or lies on. */
  readonly touching: Set<number>[];
  /** Shells that each shell lies in, none of them touching it. */
  readonly around: number[][];
  readonly findings: Finding[];
}

/**
 * @param mesh closed, each shell oriented in itself
 * @param inward what a shell that faces inwards and lies in no material means: a mistake, to be turned
 *   (formats that promise nothing), or a void, which takes away what it covers (3MF)
 */
export function uniteShells(
  mesh: Mesh,
  kernel: SolidKernel,
  inward: 'turn' | 'void',
): UnitedShells {
  const state = stateOf(mesh);
  if (inward === 'turn') turnInward(state);
  const { solids, cavities, cutters } = sort(state);
  const groups = grouped(state, solids, cavities);
  reportUnion(state, groups);
  const solidOf = (s: number): Mesh =>
    joined([state.parts[s]!, ...cavities.get(s)!.map((c) => state.parts[c]!)]);
  let result = groups.map((g) =>
    g.length === 1 ? solidOf(g[0]!) : kernel.unite(g.map((s) => solidOf(s))),
  );
  if (cutters.length > 0) {
    const voids = kernel.unite(cutters.map((s) => turnedOver(state.parts[s]!)));
    result = [kernel.difference(joined(result), voids)];
  }
  if (result.length === 1 && groups[0]!.length === 1 && state.parts.length === 1) {
    return { mesh: state.parts[0]!, findings: state.findings };
  }
  return { mesh: joined(result), findings: state.findings };
}

function stateOf(mesh: Mesh): UnionState {
  const shells = shellsOf(mesh);
  const parts = splitShells(mesh, shells);
  const signed = parts.map((p) => massOf(p).volume);
  const touching = contacts(mesh, shells, parts);
  const lone = shells.count === 1;
  return {
    parts,
    volumes: signed.map(Math.abs),
    signs: signed.map((v) => (v < 0 ? -1 : 1)),
    touching,
    around: lone
      ? [[]]
      : enclosing(mesh, shells).map((list, s) => list.filter((o) => !touching[s]!.has(o))),
    findings: [],
  };
}

function contacts(mesh: Mesh, shells: Shells, parts: readonly Mesh[]): Set<number>[] {
  const { of } = shells;
  const out = Array.from({ length: shells.count }, () => new Set<number>());
  if (shells.count === 1) return out;
  checkPairs(parts);
  eachContact(
    treeOf(mesh),
    (a, b) => {
      out[of[a]!]!.add(of[b]!);
      out[of[b]!]!.add(of[a]!);
      return true;
    },
    (a, b) => of[a] !== of[b] && !out[of[a]!]!.has(of[b]!),
  );
  return out;
}

/**
 * Shells are compared pair by pair, so a thousand in one place cost half a million comparisons.
 * @throws Fault `mesh/many-overlaps`
 */
function checkPairs(parts: readonly Mesh[]): void {
  const pairs = boxPairs(parts, BOUNDS.shellPairs);
  if (pairs <= BOUNDS.shellPairs) return;
  throw new Fault(
    'mesh/many-overlaps',
    `more than ${BOUNDS.shellPairs} pairs of the ${parts.length} shells lie in each other's boxes, which is the limit`,
  );
}

const placeOf = ({ parts }: UnionState, s: number): Place => ({
  point: pointAt(parts[s]!.vertices, parts[s]!.triangles[0]!),
  frame: 'part',
});

/** How often the shells around one wind round it. */
const depthOf = ({ around, signs }: UnionState, s: number): number =>
  around[s]!.reduce((sum, o) => sum + signs[o]!, 0);

/** Turns each inward shell that lies in no material, with all that lies in it, from the outside in. */
function turnInward(state: UnionState): void {
  const { parts, signs, around, findings } = state;
  const turned = new Set<number>();
  const within: number[][] = signs.map(() => []);
  around.forEach((list, o) => list.forEach((s) => within[s]!.push(o)));
  const outsideIn = signs.map((_, s) => s).sort((a, b) => around[a]!.length - around[b]!.length);
  for (const s of outsideIn) {
    if (signs[s]! > 0 || depthOf(state, s) > 0) continue;
    for (const o of [s, ...within[s]!]) {
      signs[o] = -signs[o]!;
      if (!turned.delete(o)) turned.add(o);
    }
  }
  if (turned.size === 0) return;
  for (const s of turned) parts[s] = turnedOver(parts[s]!);
  findings.push({
    code: 'mesh/inside-out',
    severity: 'warning',
    message: `${turned.size} of ${parts.length} shells faced inwards and were turned`,
    at: placeOf(
      state,
      [...turned].reduce((a, b) => Math.min(a, b)),
    ),
  });
}

interface Sorted {
  /** Shells that face outwards. */
  readonly solids: number[];
  /** For each solid the inward shells that belong to it. */
  readonly cavities: ReadonlyMap<number, number[]>;
  /** Inward shells that cross other shells. */
  readonly cutters: number[];
}

/** An inward shell belongs to the smallest solid that it lies in. */
function sort(state: UnionState): Sorted {
  const { signs, volumes, around, touching } = state;
  // A shell that faces outwards within a void still winds round nothing once.
  const solids = signs.flatMap((sign, s) => (sign > 0 && depthOf(state, s) >= 0 ? [s] : []));
  const cavities = new Map(solids.map((s) => [s, [] as number[]]));
  const cutters: number[] = [];
  const voids: number[] = [];
  signs.forEach((sign, s) => {
    if (sign > 0) return;
    const owner = around[s]!.filter((o) => signs[o]! > 0).sort(
      (a, b) => volumes[a]! - volumes[b]!,
    )[0];
    if (owner !== undefined && depthOf(state, s) > 0) cavities.get(owner)!.push(s);
    else if (sign < 0 && touching[s]!.size > 0) cutters.push(s);
    else voids.push(s);
  });
  const report = (list: number[], code: string, what: string): void => {
    if (list.length === 0) return;
    const message = `${list.length} of ${signs.length} shells ${what}`;
    state.findings.push({ code, severity: 'warning', message, at: placeOf(state, list[0]!) });
  };
  report(voids, 'mesh/void-dropped', 'enclose a void in no material; they were dropped');
  report(cutters, 'mesh/void-cut', 'face inwards and cross others; what they cover was cut away');
  return { solids, cavities, cutters };
}

/** Solids that cross, lie on each other, or lie in the material of others. */
function grouped(state: UnionState, solids: number[], cavities: Sorted['cavities']): number[][] {
  const owner = new Map<number, number>(solids.map((s) => [s, s]));
  for (const [s, list] of cavities) for (const c of list) owner.set(c, s);
  const leader = new Map(solids.map((s) => [s, s]));
  const find = (s: number): number => {
    let top = s;
    while (leader.get(top)! !== top) top = leader.get(top)!;
    leader.set(s, top);
    return top;
  };
  const link = (a: number, b: number): void => {
    const [x, y] = [owner.get(a), owner.get(b)];
    if (x === undefined || y === undefined || x === y) return;
    leader.set(Math.max(find(x), find(y)), Math.min(find(x), find(y)));
  };
  state.touching.forEach((others, s) => others.forEach((o) => link(s, o)));
  for (const s of solids) if (depthOf(state, s) > 0) state.around[s]!.forEach((o) => link(s, o));
  const groups = new Map<number, number[]>();
  for (const s of solids) {
    const top = find(s);
    const group = groups.get(top);
    if (group) group.push(s);
    else groups.set(top, [s]);
  }
  return [...groups.values()];
}

function reportUnion(state: UnionState, groups: readonly number[][]): void {
  const united = groups.filter((g) => g.length > 1);
  if (united.length === 0) return;
  const count = united.reduce((n, g) => n + g.length, 0);
  state.findings.push({
    code: 'mesh/shells-united',
    severity: 'note',
    message: `${count} of ${state.parts.length} shells overlap or touch and were united into ${united.length}`,
    at: placeOf(state, united[0]![0]!),
  });
}
