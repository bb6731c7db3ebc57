/**
 * The bytes of a part file become a closed, oriented mesh in millimetres. The format is told by the
 * content, never by the name. What was put right on the way is listed; what could not be is a Fault.
 */
import { Fault, type Finding } from '../base/fault.js';
import type { SolidKernel } from '../kernel/solid.js';
import { heal } from './heal.js';
import type { Mesh } from './mesh.js';
import { isBinaryStl, readAsciiStl, readBinaryStl } from './stl.js';
import type { Facets } from './weld.js';

/** Names and sizes of 3MF core 1.4, section 3.4; millimetres a unit. */
export const UNITS = {
  micron: 0.001,
  millimeter: 1,
  centimeter: 10,
  inch: 25.4,
  foot: 304.8,
  meter: 1000,
} as const;
export type Unit = keyof typeof UNITS;

export type PartFormat = 'stl-binary' | 'stl-ascii' | 'obj' | '3mf';

export interface ReadOptions {
  /** Unit of an STL or OBJ file, which states none; millimetres when absent. */
  readonly unit?: Unit;
  /** False refuses every file that would need healing. True when absent. */
  readonly heal?: boolean;
}

export interface ReadPart {
  readonly mesh: Mesh;
  /** What was put right, and what is odd in the file. */
  readonly healed: Finding[];
  readonly format: PartFormat;
}

/**
 * @param name of the file, for messages alone
 * @throws Fault with `at.file` set to the name
 */
export function readPart(
  bytes: Uint8Array,
  name: string,
  kernel: SolidKernel,
  options: ReadOptions = {},
): ReadPart {
  try {
    return read(bytes, kernel, options);
  } catch (error) {
    if (!(error instanceof Fault)) throw error;
    throw new Fault(error.code, error.message, { ...error.at, file: name });
  }
}

function read(bytes: Uint8Array, _kernel: SolidKernel, options: ReadOptions): ReadPart {
  const format = formatOf(bytes);
  const file = format === 'stl-binary' ? readBinaryStl(bytes) : readAsciiStl(bytes);
  const healed = heal(inMillimetres(file, options.unit ?? 'millimeter'), options.heal ?? true);
  return { mesh: healed.mesh, healed: [...file.findings, ...healed.findings], format };
}

function inMillimetres(facets: Facets, unit: Unit): Facets {
  const factor = UNITS[unit];
  if (factor === 1) return facets;
  return { vertices: facets.vertices.map((x) => x * factor), triangles: facets.triangles };
}

/** @throws Fault `mesh/empty-file`, `mesh/unknown-format` */
function formatOf(bytes: Uint8Array): PartFormat {
  if (bytes.length === 0) throw new Fault('mesh/empty-file', 'the file has 0 bytes');
  if (isBinaryStl(bytes)) return 'stl-binary';
  const start = new TextDecoder('latin1').decode(bytes.subarray(0, 1024)).trimStart();
  if (/^solid\b/i.test(start) && !start.includes('\0')) return 'stl-ascii';
  return 'stl-binary';
}
