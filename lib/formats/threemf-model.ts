/**
 * Reader of the XML of a 3MF model part, its objects and build items, checked against the core
 * specification 1.4: element order, forms of numbers and indices, ids, required extensions, and on
 * demand for solid objects a closed mesh of consistent orientation. Section numbers below are of that
 * specification. By the production extension 1.2, items and components of the model that the package
 * begins with may name objects of other parts, which name none in turn, so nothing goes in circles.
 */
import { BOUNDS } from '../base/bounds.js';
import { Fault, type Finding } from '../base/fault.js';
import { float64List, uint32List } from '../base/ragged.js';
import type { Facets } from '../mesh/repair/weld.js';
import { ExtensionContent, KNOWN, type Lack } from './threemf-extensions.js';
import type { Transform } from './placed-solids.js';
import { checkSolid } from './threemf-solid.js';
import { CORE, PRODUCTION } from './threemf-names.js';
import { AttributeValues } from './threemf-values.js';
import { printable } from '../base/phrases.js';
import { type XmlAttributes, type XmlElement, type Visitor, walkXml } from './xml.js';

export interface Reference {
  readonly object: Resource;
  readonly transform: Transform | undefined;
  /** Millimetres per unit of the model that says the transform. */
  readonly unit: number;
}

export type ObjectType = 'model' | 'solidsupport' | 'support' | 'surface' | 'other';

/** An object: either a mesh or components. */
export interface Resource {
  readonly id: number;
  /** Name of the model part that defines it. */
  readonly part: string;
  readonly type: ObjectType;
  /** As in the file. */
  readonly facets: Facets | undefined;
  /** Millimetres per unit of its coordinates. */
  readonly unit: number;
  readonly components: readonly Reference[];
  /** Why it cannot be printed. */
  readonly lack: Lack | undefined;
  /** 1 for a mesh, one more than the deepest component otherwise. */
  readonly depth: number;
}

export interface ThreemfModel {
  readonly objects: ReadonlyMap<number, Resource>;
  readonly items: readonly Reference[];
  readonly findings: readonly Finding[];
}

export interface ModelOptions {
  /** Refuses meshes that the specification forbids; otherwise they are for the caller to heal. */
  readonly strict: boolean;
  /** Objects of another part by its path; absent in such parts, which must not refer to others. */
  readonly objectsAt?: (path: string) => ReadonlyMap<number, Resource>;
}

const UNIT_MM: Record<string, number> = {
  micron: 0.001,
  millimeter: 1,
  centimeter: 10,
  inch: 25.4,
  foot: 304.8,
  meter: 1000,
};
const TYPES: readonly string[] = ['model', 'solidsupport', 'support', 'surface', 'other'];
/** Which elements of the core namespace stand in which. */
const CHILDREN: Record<string, readonly string[]> = {
  '': ['model'],
  model: ['metadata', 'resources', 'build'],
  resources: ['basematerials', 'object'],
  basematerials: ['base'],
  object: ['metadatagroup', 'mesh', 'components'],
  metadatagroup: ['metadata'],
  mesh: ['vertices', 'triangles'],
  vertices: ['vertex'],
  triangles: ['triangle'],
  components: ['component'],
  build: ['item'],
  item: ['metadatagroup'],
};

/**
 * @throws Fault `3mf/schema`, `3mf/value`, `3mf/extension`, `3mf/reference`, `xml/...`; if strict also
 *   `3mf/edges`, `3mf/no-volume`
 */
export function parseModel(bytes: Uint8Array, part: string, options: ModelOptions): ThreemfModel {
  const reader = new ModelReader(part, options);
  walkXml(bytes, part, reader);
  return reader.model();
}

class ModelReader implements Visitor {
  readonly #part: string;
  readonly #options: ModelOptions;
  readonly #extensions = new ExtensionContent();
  readonly #values = new AttributeValues((code, what) => this.#fault(code, what));
  readonly #path: string[] = [];
  /** Depth inside an element of a foreign namespace, which is passed over with all it holds. */
  #foreign = 0;
  #line = 1;
  #unit = 1;
  readonly #seen = new Set<string>();
  readonly #ids = new Set<number>();
  readonly #objects = new Map<number, Resource>();
  readonly #items: Reference[] = [];
  readonly #findings: Finding[] = [];
  #vertices = float64List();
  #triangles = uint32List();
  #components: Reference[] = [];
  #object: { id: number; type: ObjectType } | undefined;
  #facets: Facets | undefined;

  constructor(part: string, options: ModelOptions) {
    this.#part = part;
    this.#options = options;
  }

  model(): ThreemfModel {
    for (const name of ['resources', 'build']) {
      if (!this.#seen.has(name)) throw this.#fault('3mf/schema', `the model has no <${name}>`);
    }
    const findings = [...this.#findings, ...this.#extensions.findings()];
    return { objects: this.#objects, items: this.#items, findings };
  }

  open(element: XmlElement, line: number): void {
    this.#line = line;
    if (this.#foreign > 0 || element.uri !== CORE) {
      if (this.#path.length === 0) {
        throw this.#fault(
          '3mf/schema',
          `the root is <${printable(element.name, 40)}> of another namespace than the core's`,
        );
      }
      this.#foreign++;
      const within = this.#foreign === 1 ? this.#path.at(-1)! : '';
      this.#extensions.element(element, within);
      return;
    }
    const parent = this.#path.at(-1) ?? '';
    if (!CHILDREN[parent]?.includes(element.name)) {
      throw this.#fault(
        '3mf/schema',
        `<${printable(element.name, 40)}> has no place in <${parent || 'the part'}>`,
      );
    }
    this.#path.push(element.name);
    this.#enter(element);
  }

  close(): void {
    if (this.#foreign > 0) {
      this.#foreign--;
      return;
    }
    const name = this.#path.pop();
    if (name === 'mesh') this.#facets = this.#closeMesh();
    else if (name === 'object') this.#closeObject();
  }

  #enter(element: XmlElement): void {
    const { name, attributes } = element;
    switch (name) {
      case 'vertex':
        return this.#vertices.push3(
          this.#values.number(attributes, 'x'),
          this.#values.number(attributes, 'y'),
          this.#values.number(attributes, 'z'),
        );
      case 'triangle':
        return this.#triangle(attributes);
      case 'model':
        return this.#model(element);
      case 'resources':
      case 'build':
        return this.#once(name);
      case 'basematerials':
        return void this.#newId(attributes);
      case 'base':
        return this.#extensions.material();
      case 'object':
        return this.#openObject(element);
      case 'vertices':
      case 'triangles':
      case 'mesh':
      case 'components':
        return this.#partOfObject(name);
      case 'component':
        return void this.#components.push(this.#reference(element));
      case 'item':
        // Only the build of the model that the package begins with counts (production, chapter 2).
        if (this.#options.objectsAt) this.#items.push(this.#reference(element));
    }
  }

  #model({ attributes, resolve }: XmlElement): void {
    const unit = attributes.unit ?? 'millimeter';
    const factor = Object.hasOwn(UNIT_MM, unit) ? UNIT_MM[unit] : undefined;
    if (factor === undefined)
      throw this.#fault(
        '3mf/value',
        `unit="${printable(unit)}" is none of ${Object.keys(UNIT_MM).join(', ')}`,
      );
    this.#unit = factor;
    const prefixes = (text: string | undefined): string[] =>
      (text ?? '').split(/\s+/).filter(Boolean);
    for (const prefix of prefixes(attributes.requiredextensions)) {
      const uri = resolve(prefix);
      if (uri === undefined || !KNOWN.has(uri)) {
        throw this.#fault(
          '3mf/extension',
          `the file requires the extension "${printable(uri ?? prefix)}", which is not read`,
        );
      }
    }
    for (const prefix of prefixes(attributes.recommendedextensions)) {
      const uri = resolve(prefix);
      if (uri !== undefined && KNOWN.has(uri)) continue;
      this.#findings.push({
        code: '3mf/extension',
        severity: 'warning',
        message: `the file recommends the extension "${printable(uri ?? prefix)}", which was passed over`,
      });
    }
  }

  #openObject(element: XmlElement): void {
    const { attributes } = element;
    const type = attributes.type ?? 'model';
    if (!TYPES.includes(type))
      throw this.#fault('3mf/value', `type="${printable(type)}" is none of ${TYPES.join(', ')}`);
    this.#object = { id: this.#newId(attributes), type: type as ObjectType };
    this.#facets = undefined;
    this.#extensions.object(element);
    this.#components = [];
    for (const name of ['mesh', 'components', 'vertices', 'triangles']) this.#seen.delete(name);
  }

  #closeObject(): void {
    const { id, type } = this.#object!;
    if (!this.#seen.has('mesh') && this.#components.length === 0) {
      const shapes = this.#extensions.shapes();
      throw this.#fault('3mf/schema', `object ${id} has neither a mesh nor components${shapes}`);
    }
    const components = this.#components;
    const depth = 1 + components.reduce((most, c) => Math.max(most, c.object.depth), 0);
    if (depth > BOUNDS.componentDepth) {
      const message = `components nest ${depth} deep; the limit is ${BOUNDS.componentDepth}`;
      throw this.#fault('3mf/too-large', message);
    }
    this.#objects.set(id, {
      ...{ id, type, components, depth },
      part: this.#part,
      facets: this.#facets,
      unit: this.#unit,
      lack: this.#extensions.lack(),
    });
  }

  /** The parts of an object stand once each, either mesh or components, vertices before triangles. */
  #partOfObject(name: string): void {
    this.#once(name);
    if (name === 'mesh') {
      this.#vertices = float64List();
      this.#triangles = uint32List();
    }
    if (this.#seen.has('mesh') && this.#seen.has('components')) {
      throw this.#fault('3mf/schema', `object ${this.#object!.id} has both a mesh and components`);
    }
    if (name === 'triangles' && !this.#seen.has('vertices')) {
      throw this.#fault('3mf/schema', '<triangles> stands before <vertices>');
    }
  }

  #closeMesh(): Facets {
    const { id, type } = this.#object!;
    const lacks = this.#extensions.lack() !== undefined;
    if (!this.#seen.has('triangles') && !lacks) {
      throw this.#fault('3mf/schema', `the mesh of object ${id} has no <triangles>`);
    }
    const facets = { vertices: this.#vertices.take(), triangles: this.#triangles.take() };
    const solid = type === 'model' || type === 'solidsupport';
    if (this.#options.strict && solid && !lacks) {
      checkSolid(facets, (code, what) => this.#fault(code, `object ${id}: ${what}`));
    }
    return facets;
  }

  #triangle(attributes: XmlAttributes): void {
    const count = this.#vertices.length / 3;
    const v1 = this.#values.index(attributes, 'v1', count);
    const v2 = this.#values.index(attributes, 'v2', count);
    const v3 = this.#values.index(attributes, 'v3', count);
    if (this.#options.strict && (v1 === v2 || v2 === v3 || v3 === v1)) {
      throw this.#fault(
        '3mf/value',
        `a triangle has corners ${v1}, ${v2}, ${v3}; they must be distinct`,
      );
    }
    this.#triangles.push3(v1, v2, v3);
  }

  #reference(element: XmlElement): Reference {
    const { attributes } = element;
    const unit = this.#unit;
    const object = this.#target(element);
    const text = attributes.transform;
    if (text === undefined) return { object, transform: undefined, unit };
    const transform = text
      .trim()
      .split(/\s+/)
      .map((word) => this.#values.decimal(word, 'transform'));
    if (transform.length !== 12) {
      throw this.#fault(
        '3mf/value',
        `a transform has ${transform.length} numbers; it must have 12`,
      );
    }
    return { object, transform, unit };
  }

  /** The object that an item or component names, in this part or, by its path, in another. */
  #target({ attributes, attributeIn }: XmlElement): Resource {
    const id = this.#values.id(attributes, 'objectid');
    const path = attributeIn(PRODUCTION, 'path');
    if (path === undefined) {
      const object = this.#objects.get(id);
      if (object) return object;
      throw this.#fault('3mf/reference', `object ${id} is not defined before it is used`);
    }
    const { objectsAt } = this.#options;
    if (!objectsAt) {
      const message = `a component names the part "${printable(path, 60)}"; only the model that the package begins with may name other parts`;
      throw this.#fault('3mf/reference', message);
    }
    const object = objectsAt(path).get(id);
    if (object) return object;
    throw this.#fault('3mf/reference', `"${printable(path, 60)}" has no object ${id}`);
  }

  #newId(attributes: XmlAttributes): number {
    const id = this.#values.id(attributes, 'id');
    if (this.#ids.has(id)) throw this.#fault('3mf/value', `id ${id} is used twice`);
    this.#ids.add(id);
    return id;
  }

  #once(name: string): void {
    if (this.#seen.has(name)) throw this.#fault('3mf/schema', `<${name}> appears twice`);
    this.#seen.add(name);
  }

  #fault(code: string, what: string): Fault {
    return new Fault(code, `${printable(this.#part)}, line ${this.#line}: ${what}`, {
      line: this.#line,
    });
  }
}
