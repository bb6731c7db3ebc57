/**
 * Reader of 3MF files: the meshes of the build items, in millimetres and in their places. Items and
 * components are expanded with their transforms; support and surface objects are left out and named;
 * overlaps are left to the caller, who unites them. Each object is healed once, however often it is
 * placed.
 */
import { BOUNDS } from '../base/bounds.js';
import { Fault, type Finding, type Place } from '../base/fault.js';
import { printable } from '../base/phrases.js';
import type { Vec3 } from '../base/vector.js';
import type { Mesh } from '../mesh/mesh.js';
import { turnedOver } from '../mesh/repair/orient.js';
import { type SolidObject, solidOf } from './threemf-mesh.js';
import {
  type Reference,
  type Resource,
  type ThreemfModel,
  type Transform,
  parseModel,
} from './threemf-model.js';
import { type ModelPackage, openPackage, partName } from './threemf-package.js';

export interface ThreeMfFile {
  /** One closed mesh per instance of a mesh object. */
  readonly meshes: Mesh[];
  readonly findings: Finding[];
}

/**
 * @param allow false refuses meshes that the specification forbids
 * @throws Fault `3mf/...`, `zip/...`, `xml/...`, and of `heal`
 */
export function readThreeMf(bytes: Uint8Array, allow: boolean): ThreeMfFile {
  const model = modelOf(openPackage(bytes), !allow);
  if (model.items.length === 0)
    throw new Fault('3mf/no-items', 'the build has 0 items; the least is 1');
  checkSize(model.items);
  const build = new Build();
  for (const item of model.items) build.expand(item, IDENTITY);
  if (build.meshes.length === 0)
    throw new Fault('3mf/no-items', 'the build has 0 objects of type model');
  return { meshes: build.meshes, findings: [...model.findings, ...build.findings()] };
}

/** The model that a package begins with; other parts are read when it names them, each once. */
function modelOf(file: ModelPackage, strict: boolean): ThreemfModel {
  const others = new Map<string, ThreemfModel>();
  const objectsAt = (path: string): ReadonlyMap<number, Resource> => {
    const name = partName(path);
    if (name === undefined) {
      const message = `the path "${printable(path, 60)}" leads out of the package; an absolute path in it is asked for, such as "/3D/clip.model"`;
      throw new Fault('3mf/reference', message);
    }
    const key = name.toLowerCase();
    if (key === file.start.toLowerCase()) {
      throw new Fault(
        '3mf/reference',
        `the model "${printable(name, 60)}" names itself by its path`,
      );
    }
    let other = others.get(key);
    if (!other) others.set(key, (other = parseModel(file.read(name), name, { strict })));
    return other.objects;
  };
  const model = parseModel(file.read(file.start), file.start, { strict, objectsAt });
  const findings = [...model.findings, ...[...others.values()].flatMap((o) => o.findings)];
  return { ...model, findings };
}

/** Counts what expansion would make, object by object, before anything is made. */
function checkSize(items: readonly Reference[]): void {
  const known = new Map<Resource, [number, number]>();
  const sizeOf = (object: Resource): [number, number] => {
    const before = known.get(object);
    if (before) return before;
    const size: [number, number] = object.facets ? [object.facets.triangles.length / 3, 1] : [0, 0];
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

/** The objects of a build, placed. */
class Build {
  readonly meshes: Mesh[] = [];
  readonly #solids = new Map<Resource, SolidObject>();
  readonly #healed: Finding[] = [];
  /** Numbers of placed objects that are no models, by type. */
  readonly #left = new Map<string, number>();

  /** @param outer places the reference's frame, mm */
  expand({ object, transform, unit }: Reference, outer: Transform): void {
    if (object.lack && object.type === 'model') {
      throw new Fault(object.lack.code, `${nameOf(object)}: ${object.lack.message}`);
    }
    const placed = transform ? times(inMillimetres(transform, unit), outer) : outer;
    for (const component of object.components) this.expand(component, placed);
    if (!object.facets) return;
    const { type, id } = object;
    if (type === 'model') this.meshes.push(transformed(this.#solid(object, placed), placed, id));
    else if (type === 'other') {
      throw new Fault('3mf/reference', `the build places object ${id}, which is of type "other"`);
    } else this.#left.set(type, (this.#left.get(type) ?? 0) + 1);
  }

  findings(): Finding[] {
    const left = [...this.#left].map(([type, count]): Finding => ({
      code: '3mf/left-out',
      severity: 'warning',
      message: `${count} of the placed objects are of type "${type}" and were left out`,
    }));
    return [...this.#healed, ...left];
  }

  /** Healed when it is placed for the first time; findings stand where that places them. */
  #solid(object: Resource, placed: Transform): Mesh {
    const known = this.#solids.get(object);
    if (known) return known.mesh;
    const { vertices, triangles } = object.facets!;
    const solid = solidOf(
      { vertices: vertices.map((x) => x * object.unit), triangles },
      nameOf(object),
    );
    this.#solids.set(object, solid);
    for (const { at, ...finding } of solid.findings) {
      this.#healed.push(at ? { ...finding, at: placeThrough(at, placed) } : finding);
    }
    return solid.mesh;
  }
}

const nameOf = ({ id, part }: Resource): string => `object ${id} of "${printable(part, 60)}"`;

const IDENTITY: Transform = [1, 0, 0, 0, 1, 0, 0, 0, 1, 0, 0, 0];

/** The same transform of coordinates in mm: only its shift has a unit. */
const inMillimetres = (m: Transform, unit: number): Transform =>
  m.map((x, i) => (i < 9 ? x : x * unit));

const pointThrough = (x: number, y: number, z: number, m: Transform): Vec3 => [
  x * m[0]! + y * m[3]! + z * m[6]! + m[9]!,
  x * m[1]! + y * m[4]! + z * m[7]! + m[10]!,
  x * m[2]! + y * m[5]! + z * m[8]! + m[11]!,
];

const placeThrough = (at: Place, m: Transform): Place =>
  at.point ? { ...at, point: pointThrough(...at.point, m) } : at;

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
