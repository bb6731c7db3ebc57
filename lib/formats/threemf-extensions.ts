/**
 * What a 3MF model says in the namespaces of extensions. Other parts (production) are followed by the
 * reader of the model. Colours and materials, and slices beside a full mesh, change no shape: they are
 * passed over and told. Slices or beams that are the shape, or a part of it, make their object one that
 * cannot be printed: it is refused if the build places it. All else is passed over, as the core
 * specification asks (2.3.3.1), unless the file requires it.
 */
import type { Finding } from '../base/fault.js';
import { printable } from '../base/phrases.js';
import {
  BEAM_LATTICE,
  CORE,
  LATTICE_BALLS,
  MATERIALS,
  PRODUCTION,
  SLICES,
  TRIANGLE_SETS,
} from './threemf-names.js';
import type { XmlElement } from './xml.js';

/** Extensions that a file may require: read, without effect on the shape, or refused where they have one. */
export const KNOWN: ReadonlySet<string> = new Set([
  CORE,
  TRIANGLE_SETS,
  PRODUCTION,
  MATERIALS,
  SLICES,
  BEAM_LATTICE,
  LATTICE_BALLS,
]);

/** Why an object cannot be printed: code and message of a Fault. */
export interface Lack {
  readonly code: string;
  readonly message: string;
}

export class ExtensionContent {
  /** Colours, materials and textures of the whole model. */
  #looks = 0;
  #sliced = 0;
  /** Of the object that is being read. */
  #beams = 0;
  #slicesAlone = false;
  #shapes: string[] = [];

  /** An object begins. */
  object(element: XmlElement): void {
    this.#beams = 0;
    this.#shapes = [];
    this.#slicesAlone = element.attributeIn(SLICES, 'meshresolution') === 'lowres';
    const hasSlices = element.attributeIn(SLICES, 'slicestackid') !== undefined;
    if (hasSlices && !this.#slicesAlone) this.#sliced++;
  }

  /** A base material of the core. */
  material(): void {
    this.#looks++;
  }

  /** An element of another namespace. @param parent name of the core's element that it stands in */
  element({ uri, name }: XmlElement, parent: string): void {
    if (uri === MATERIALS && (name === 'color' || name === 'texture2d')) this.#looks++;
    if (uri === BEAM_LATTICE && name === 'beam') this.#beams++;
    if (parent === 'object') this.#shapes.push(`<${printable(name, 40)}>`);
  }

  /** What the object that ends here lacks. */
  lack(): Lack | undefined {
    if (this.#beams > 0) {
      const message = `its mesh has a lattice of ${this.#beams} beams, which are not read; 0 are allowed: export the lattice as triangles`;
      return { code: '3mf/beam-lattice', message };
    }
    if (!this.#slicesAlone) return undefined;
    const message =
      'its shape is in slices, and the mesh only stands for them (meshresolution="lowres"); slices are not read: export it with its full mesh';
    return { code: '3mf/slices', message };
  }

  /** Shapes of other namespaces in the object, for the message when it has no other. */
  shapes(): string {
    if (this.#shapes.length === 0) return '';
    return `; ${this.#shapes[0]!} in it belongs to an extension that is not read`;
  }

  findings(): Finding[] {
    const out: Finding[] = [];
    if (this.#looks > 1) {
      out.push({
        code: '3mf/colours',
        severity: 'note',
        message: `${this.#looks} colours, materials or textures were passed over; all of the part is laid in the one material of the job`,
      });
    }
    if (this.#sliced > 0) {
      out.push({
        code: '3mf/slices-passed-over',
        severity: 'note',
        message: `${this.#sliced} objects have slices beside their full mesh; the slices were passed over`,
      });
    }
    return out;
  }
}
