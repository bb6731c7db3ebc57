/**
 * The mesh of one 3MF object. Section 4.1 of the core specification 1.4 wants vertices shared by index
 * and triangles that close; files as they are found break it in harmless ways, so a mesh that does is
 * healed like that of any other format, and held to the letter only on demand.
 */
import { Fault, type Finding } from '../base/fault.js';
import { meshFrom } from '../mesh/build.js';
import { badEdges } from '../mesh/repair/edge-faults.js';
import { checkReach, heal } from '../mesh/repair/heal.js';
import { turnedOver } from '../mesh/repair/orient.js';
import type { Facets } from '../mesh/repair/weld.js';
import { massOf } from '../mesh/measure.js';
import type { Mesh } from '../mesh/mesh.js';

export interface SolidObject {
  /** Closed, mm. */
  readonly mesh: Mesh;
  /** Places are in the coordinates of the object, mm. */
  readonly findings: readonly Finding[];
}

/**
 * A mesh that is closed by its indices is taken as it is, with equal coordinates not joined; any other
 * is healed, and one that encloses less than nothing is turned.
 * @param facets mm
 * @param name of the object, for messages
 * @throws Fault of `heal`
 */
export function solidOf(facets: Facets, name: string): SolidObject {
  const findings: Finding[] = [];
  let mesh = closedAsGiven(facets);
  if (!mesh) {
    const healed = healing(facets, name);
    mesh = healed.mesh;
    findings.push(...healed.findings.map((f) => ({ ...f, message: `${name}: ${f.message}` })));
  }
  if (massOf(mesh).volume >= 0) return { mesh, findings };
  const message = `${name}: the mesh faced inwards and was turned`;
  findings.push({ code: 'mesh/inside-out', severity: 'warning', message });
  return { mesh: turnedOver(mesh), findings };
}

function closedAsGiven({ vertices, triangles: t }: Facets): Mesh | undefined {
  if (t.length < 12) return undefined;
  for (let i = 0; i < t.length; i += 3) {
    if (t[i] === t[i + 1] || t[i + 1] === t[i + 2] || t[i + 2] === t[i]) return undefined;
  }
  const mesh = meshFrom(vertices, t);
  if (mesh.twins.includes(-1)) return undefined;
  checkReach(vertices);
  return mesh;
}

function healing(facets: Facets, name: string): ReturnType<typeof heal> {
  try {
    return heal(facets, true);
  } catch (error) {
    if (!(error instanceof Fault)) throw error;
    throw new Fault(error.code, `${name}: ${error.message}`, error.at);
  }
}

/**
 * Holds a mesh to the letter of section 4.1: vertices are shared by index alone.
 * @throws Fault `3mf/value`, `3mf/edges`, `3mf/no-volume`
 */
export function checkSolid(
  { vertices, triangles }: Facets,
  fault: (code: string, what: string) => Fault,
): void {
  const mesh = meshFrom(vertices, triangles);
  if (triangles.length < 12) {
    throw fault(
      '3mf/value',
      `a mesh of ${triangles.length / 3} triangles; the least for a solid is 4`,
    );
  }
  if (mesh.twins.includes(-1)) {
    const bad = badEdges(mesh);
    const counts = [
      [bad.open.length, 'open'],
      [bad.flipped.length, 'between triangles that face opposite sides'],
      [bad.crowdedStart.length - 1, 'shared by more than 2 triangles'],
    ].filter(([n]) => n !== 0);
    throw fault(
      '3mf/edges',
      `every edge must be shared by exactly 2 triangles; edges that are not: ${counts.map((c) => c.join(' ')).join(', ')}`,
    );
  }
  const { volume } = massOf(mesh);
  if (!(volume > 0)) {
    throw fault(
      '3mf/no-volume',
      `the mesh encloses ${volume.toPrecision(3)} cubic units; it must enclose more than 0, with its triangles facing outwards`,
    );
  }
}
