/**
 * Reader of 3MF files: the meshes of the build items, in millimetres and in their places. Items and
 * components are expanded with their transforms; support and surface objects are left out and named;
 * overlaps are left to the caller, who unites them.
 */
import { BOUNDS } from '../base/bounds.js';
import { Fault, type Finding } from '../base/fault.js';
import { type Reference, type Resource, type Transform, parseModel } from './threemf-model.js';
import { modelPartOf } from './threemf-package.js';
import type { Mesh } from '../mesh/mesh.js';
import { turnedOver } from '../mesh/repair/orient.js';

export interface ThreeMfFile {
  /** One closed mesh per instance of a mesh object. */
  readonly meshes: Mesh[];
  readonly findings: Finding[];
}

/** @throws Fault `3mf/...`, `zip/...`, `xml/...` */
export function readThreeMf(bytes: Uint8Array): ThreeMfFile {
  const part = modelPartOf(bytes);
  const model = parseModel(part.bytes, part.name);
  if (model.items.length === 0)
    throw new Fault('3mf/no-items', 'the build has 0 items; the least is 1');
  checkSize(model.items);
  const left = new Map<string, number>();
  const meshes: Mesh[] = [];
  const unit: Transform = [model.unit, 0, 0, 0, model.unit, 0, 0, 0, model.unit, 0, 0, 0];
  for (const item of model.items) expand(item, unit, meshes, left);
  if (meshes.length === 0) throw new Fault('3mf/no-items', 'the build has 0 objects of type model');
  const findings = [...left].map(([type, count]): Finding => ({
    code: '3mf/left-out',
    severity: 'warning',
    message: `${count} of the placed objects are of type "${type}" and were left out`,
  }));
  return { meshes, findings: [...model.findings, ...findings] };
}

/** Counts what expansion would make, object by object, before anything is made. */
function checkSize(items: readonly Reference[]): void {
  const known = new Map<Resource, [number, number]>();
  const sizeOf = (object: Resource): [number, number] => {
    const before = known.get(object);
    if (before) return before;
    const size: [number, number] = object.mesh ? [object.mesh.triangles.length / 3, 1] : [0, 0];
    for (const c of object.components) {
      const [triangles, instances] = sizeOf(c.object);
      size[0] += triangles;
      size[1] += instances;
    }
    known.set(object, size);
    return size;
  };
  let triangles = 0;
  let instances = 0;
  for (const { object } of items) {
    const size = sizeOf(object);
    triangles += size[0];
    instances += size[1];
  }
  if (triangles > BOUNDS.triangles || instances > BOUNDS.instances) {
    throw new Fault(
      '3mf/too-large',
      `the build expands to ${triangles} triangles in ${instances} objects; the limits are ${BOUNDS.triangles} and ${BOUNDS.instances}`,
    );
  }
}

function expand(
  { object, transform }: Reference,
  outer: Transform,
  meshes: Mesh[],
  left: Map<string, number>,
): void {
  const placed = transform ? times(transform, outer) : outer;
  for (const component of object.components) expand(component, placed, meshes, left);
  if (!object.mesh) return;
  if (object.type === 'model') meshes.push(transformed(object.mesh, placed, object.id));
  else if (object.type === 'other') {
    throw new Fault(
      '3mf/reference',
      `the build places object ${object.id}, which is of type "other"`,
    );
  } else left.set(object.type, (left.get(object.type) ?? 0) + 1);
}

/** First a, then b, for row vectors. */
function times(a: Transform, b: Transform): Transform {
  const out: number[] = [];
  for (let r = 0; r < 4; r++) {
    for (let c = 0; c < 3; c++) {
      const sum = a[3 * r]! * b[c]! + a[3 * r + 1]! * b[3 + c]! + a[3 * r + 2]! * b[6 + c]!;
      out.push(r === 3 ? sum + b[9 + c]! : sum);
    }
  }
  return out;
}

/** A mirroring transform must not change the sign of the volume (section 3.3): facets turn over. */
function transformed(mesh: Mesh, m: Transform, id: number): Mesh {
  const det =
    m[0]! * (m[4]! * m[8]! - m[5]! * m[7]!) -
    m[1]! * (m[3]! * m[8]! - m[5]! * m[6]!) +
    m[2]! * (m[3]! * m[7]! - m[4]! * m[6]!);
  const rows = [0, 3, 6].map((r) => Math.hypot(m[r]!, m[r + 1]!, m[r + 2]!));
  if (!(Math.abs(det) > 1e-9 * rows[0]! * rows[1]! * rows[2]!) || !Number.isFinite(det)) {
    throw new Fault(
      '3mf/value',
      `the transform of object ${id} is singular: its determinant is ${det}`,
    );
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
