/**
 * Reader of 3MF files: the meshes of the build items, in millimetres and in their places. Items and
 * components are expanded with their transforms; support and surface objects are left out and named;
 * overlaps are left to the caller, who unites them. Each object is healed once, however often it is
 * placed.
 */
import { Fault, type Finding } from '../base/fault.js';
import { printable } from '../base/phrases.js';
import type { Mesh } from '../mesh/mesh.js';
import type { Facets } from '../mesh/repair/weld.js';
import {
  PlacedSolids,
  type Transform,
  UNMOVED,
  checkExpansion,
  facetsInMillimetres,
  inMillimetres,
  times,
} from './placed-solids.js';
import { type Reference, type Resource, type ThreemfModel, parseModel } from './threemf-model.js';
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
  const solids = new PlacedSolids<Resource>(allow);
  const left = new Map<string, number>();
  for (const item of model.items) expand(item, UNMOVED, solids, left);
  const { meshes, findings } = solids;
  if (meshes.length === 0) throw new Fault('3mf/no-items', 'the build has 0 objects of type model');
  const leftOut = [...left].map(([type, count]): Finding => ({
    code: '3mf/left-out',
    severity: 'warning',
    message: `${count} of the placed objects are of type "${type}" and were left out`,
  }));
  return { meshes, findings: [...model.findings, ...findings, ...leftOut] };
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
  checkExpansion('3mf/too-large', triangles, instances);
}

/** Expands the items of a build; numbers of placed objects that are no models are kept by type. */
function expand(
  { object, transform, unit }: Reference,
  outer: Transform,
  solids: PlacedSolids<Resource>,
  left: Map<string, number>,
): void {
  const { type, id, facets } = object;
  if (object.lack && type === 'model') {
    throw new Fault(object.lack.code, `${nameOf(object)}: ${object.lack.message}`);
  }
  const placed = transform ? times(inMillimetres(transform, unit), outer) : outer;
  for (const component of object.components) expand(component, placed, solids, left);
  if (!facets) return;
  if (type === 'model') {
    const scaled = (): Facets => facetsInMillimetres(facets, object.unit);
    solids.place(object, scaled, nameOf(object), placed);
  } else if (type === 'other') {
    throw new Fault('3mf/reference', `the build places object ${id}, which is of type "other"`);
  } else left.set(type, (left.get(type) ?? 0) + 1);
}

const nameOf = ({ id, part }: Resource): string => `object ${id} of "${printable(part, 60)}"`;
