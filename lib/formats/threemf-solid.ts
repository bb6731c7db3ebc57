/** The mesh of one 3MF object, held to the letter of section 4.1 of the core specification 1.4. */
import type { Fault } from '../base/fault.js';
import { meshFrom } from '../mesh/build.js';
import { badEdges } from '../mesh/repair/edge-faults.js';
import type { Facets } from '../mesh/repair/weld.js';
import { massOf } from '../mesh/measure.js';

/**
 * Vertices are shared by index alone, as the specification says: equal coordinates are not joined.
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
