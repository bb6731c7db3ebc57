/**
 * The objects of a file that places them by itself (3MF, GLB, STEP). Each object is healed once, however
 * often it is placed. A mesh that is closed by its indices is taken as it is, with equal coordinates not
 * joined; any other is healed like that of every format, and one that encloses less than nothing turned.
 */
import { BOUNDS } from '../base/bounds.js';
import { Fault, type Finding, type Place } from '../base/fault.js';
import type { Vec3 } from '../base/vector.js';
import { meshFrom } from '../mesh/build.js';
import { checkReach, heal } from '../mesh/repair/heal.js';
import { massOf } from '../mesh/measure.js';
import type { Mesh } from '../mesh/mesh.js';
import { turnedOver } from '../mesh/repair/orient.js';
import type { Facets } from '../mesh/repair/weld.js';

/** Twelve numbers m00 m01 m02 m10 ... m32 for row vectors: p' = p M, mm (3MF core 1.4, section 3.3). */
export type Transform = readonly number[];

export const UNMOVED: Transform = [1, 0, 0, 0, 1, 0, 0, 0, 1, 0, 0, 0];

/** First a, then b, for row vectors. */
export function times(a: Transform, b: Transform): Transform {
  const out: number[] = [];
  for (let r = 0; r < 4; r++) {
    for (let c = 0; c < 3; c++) {
      const sum = a[3 * r]! * b[c]! + a[3 * r + 1]! * b[3 + c]! + a[3 * r + 2]! * b[6 + c]!;
      out.push(r === 3 ? sum + b[9 + c]! : sum);
    }
  }
  return out;
}

/** A transform of coordinates in another unit as one of millimetres: only its shift has a unit. */
export const inMillimetres = (m: Transform, mmPerUnit: number): Transform =>
  m.map((x, i) => (i < 9 ? x : x * mmPerUnit));

/** Facets in another unit, in millimetres. */
export const facetsInMillimetres = (
  { vertices, triangles }: Facets,
  mmPerUnit: number,
): Facets => ({
  vertices: vertices.map((x) => x * mmPerUnit),
  triangles,
});

export class PlacedSolids<Key> {
  /** One closed mesh per placing, mm. */
  readonly meshes: Mesh[] = [];
  readonly findings: Finding[] = [];
  readonly #allow: boolean;
  readonly #known = new Map<Key, Mesh>();

  /** @param allow false refuses what would need healing */
  constructor(allow: boolean) {
    this.#allow = allow;
  }

  /**
   * Findings stand where the first placing puts them.
   * @param facets of the object, mm; asked for at its first placing
   * @param name of the object, for messages
   * @throws Fault `mesh/transform`, `mesh/inside-out`, and of `heal`
   */
  place(key: Key, facets: () => Facets, name: string, m: Transform): void {
    let mesh = this.#known.get(key);
    if (!mesh) {
      mesh = this.#solid(facets(), name, m);
      this.#known.set(key, mesh);
    }
    this.meshes.push(transformed(mesh, m, name));
  }

  #solid(facets: Facets, name: string, m: Transform): Mesh {
    let mesh = closedAsGiven(facets);
    if (!mesh) {
      const healed = healing(facets, this.#allow, name);
      mesh = healed.mesh;
      for (const { at, message, ...finding } of healed.findings) {
        const place = at && { at: placeThrough(at, m) };
        this.findings.push({ ...finding, message: `${name}: ${message}`, ...place });
      }
    }
    if (massOf(mesh).volume >= 0) return mesh;
    const message = `${name}: the mesh faced inwards and was turned`;
    if (!this.#allow) throw new Fault('mesh/inside-out', `${name}: the mesh faces inwards`);
    this.findings.push({ code: 'mesh/inside-out', severity: 'warning', message });
    return turnedOver(mesh);
  }
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

function healing(facets: Facets, allow: boolean, name: string): ReturnType<typeof heal> {
  try {
    return heal(facets, allow);
  } catch (error) {
    if (!(error instanceof Fault)) throw error;
    throw new Fault(error.code, `${name}: ${error.message}`, error.at);
  }
}

/** A mirroring transform must not change the sign of the volume (3MF core 1.4, 3.3; glTF 2.0, 3.7.4). */
function transformed(mesh: Mesh, m: Transform, name: string): Mesh {
  const det =
    m[0]! * (m[4]! * m[8]! - m[5]! * m[7]!) -
    m[1]! * (m[3]! * m[8]! - m[5]! * m[6]!) +
    m[2]! * (m[3]! * m[7]! - m[4]! * m[6]!);
  const rows = [0, 3, 6].map((r) => Math.hypot(m[r]!, m[r + 1]!, m[r + 2]!));
  if (!(Math.abs(det) > 1e-9 * rows[0]! * rows[1]! * rows[2]!) || !Number.isFinite(det)) {
    const message = `the transform of ${name} is singular: its determinant is ${det}`;
    throw new Fault('mesh/transform', message);
  }
  const v = mesh.vertices;
  const vertices = new Float64Array(v.length);
  for (let i = 0; i < v.length; i += 3) {
    for (let c = 0; c < 3; c++) {
      vertices[i + c] = v[i]! * m[c]! + v[i + 1]! * m[3 + c]! + v[i + 2]! * m[6 + c]! + m[9 + c]!;
    }
  }
  const moved = { ...mesh, vertices };
  return det < 0 ? turnedOver(moved) : moved;
}

const placeThrough = (at: Place, m: Transform): Place =>
  at.point ? { ...at, point: pointThrough(at.point, m) } : at;

const pointThrough = ([x, y, z]: Vec3, m: Transform): Vec3 => [
  x * m[0]! + y * m[3]! + z * m[6]! + m[9]!,
  x * m[1]! + y * m[4]! + z * m[7]! + m[10]!,
  x * m[2]! + y * m[5]! + z * m[8]! + m[11]!,
];

/**
 * Holds what a file's placings expand to against the bounds, before anything is made.
 * @param code of the Fault
 */
export function checkExpansion(code: string, triangles: number, instances: number): void {
  if (triangles <= BOUNDS.triangles && instances <= BOUNDS.instances) return;
  throw new Fault(
    code,
    `the build expands to ${triangles} triangles in ${instances} objects; the limits are ${BOUNDS.triangles} and ${BOUNDS.instances}`,
  );
}
