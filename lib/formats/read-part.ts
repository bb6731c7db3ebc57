/**
 * Reading a part file of any supported format into a closed, oriented mesh in millimetres. The content
 * decides which format it is, never the name. Repairs are listed; what cannot be repaired is a Fault.
 */
import { Fault, type Finding, shownFinding } from '../base/fault.js';
import type { SolidKernel } from '../kernel/solid.js';
import { checkReach, heal } from '../mesh/repair/heal.js';
import { massOf } from '../mesh/measure.js';
import type { Mesh } from '../mesh/mesh.js';
import { looksLikeGlb } from './glb-file.js';
import { readGlb } from './glb.js';
import { looksLikeObj, readObj } from './obj.js';
import { looksLikePly } from './ply-header.js';
import { readPly } from './ply.js';
import { uniteShells } from '../mesh/repair/unite-shells.js';
import { diagonal, joined } from '../mesh/shells.js';
import { isBinaryStl, readAsciiStl, readBinaryStl } from './stl.js';
import { readStep } from './step.js';
import { looksLikeStep } from './step-text.js';
import { readThreeMf } from './threemf.js';
import { UNITS, type Unit } from '../mesh/units.js';
import type { Facets } from '../mesh/repair/weld.js';
import { isZip } from './zip.js';

export type PartFormat = 'stl-binary' | 'stl-ascii' | 'obj' | 'ply' | '3mf' | 'glb' | 'step';

/** Formats that state their unit and place objects by themselves. */
const PLACING = { '3mf': readThreeMf, glb: readGlb, step: readStep } as const;
type PlacingFormat = keyof typeof PLACING;

const isPlacing = (format: PartFormat): format is PlacingFormat => Object.hasOwn(PLACING, format);

export interface PartOptions {
  /** Unit of an STL, OBJ or PLY file, which states none; millimetres when absent. */
  readonly unit?: Unit;
  /** False refuses every file that would need healing, and holds 3MF to the letter. True when absent. */
  readonly heal?: boolean;
  /** Greatest distance of the triangles from the surfaces of a STEP file, mm; 0.01 when absent. */
  readonly deviation?: number;
}

/** mm; a tenth of what a printer of filament can show. */
const DEVIATION = 0.01;

/** A part as it was read and healed. */
export interface ReadPart {
  readonly mesh: Mesh;
  /** What was repaired, and what is odd in the file. */
  readonly healed: Finding[];
  readonly format: PartFormat;
}

/**
 * The bytes of a mesh file as they are: closed and consistently oriented, nothing repaired.
 * @param unit of an STL, OBJ or PLY file, which must be given; a 3MF, GLB or STEP file states its own
 * @param name of the file, for messages alone
 * @throws Fault as `readPart` with `heal` false, and `mesh/unit`, with `at.file` set to the name
 */
export function readSurface(bytes: Uint8Array, name: string, unit?: Unit): Mesh {
  return named(name, () => {
    const format = formatOf(bytes);
    if (isPlacing(format)) return readSolids(bytes, format, { unit, heal: false }).mesh;
    if (unit === undefined) {
      throw new Fault(
        'mesh/unit',
        'an STL, OBJ or PLY file states no unit; it must be given separately',
      );
    }
    return readFacets(bytes, format, unit, false).mesh;
  });
}

/**
 * @param name of the file, for messages alone
 * @throws Fault with `at.file` set to the name
 */
export function readPart(
  bytes: Uint8Array,
  name: string,
  kernel: SolidKernel,
  options: PartOptions = {},
): ReadPart {
  return named(name, () => read(bytes, kernel, options));
}

/** Faults of the work get the file's name. */
function named<T>(file: string, work: () => T): T {
  try {
    return work();
  } catch (error) {
    if (!(error instanceof Fault)) throw error;
    throw new Fault(error.code, error.message, { ...error.at, file });
  }
}

function read(bytes: Uint8Array, kernel: SolidKernel, options: PartOptions): ReadPart {
  const format = formatOf(bytes);
  const allow = options.heal ?? true;
  const { mesh, findings } = isPlacing(format)
    ? readSolids(bytes, format, options)
    : readFacets(bytes, format, options.unit ?? 'millimetre', allow);
  const united = uniteShells(mesh, kernel, format === '3mf' ? 'void' : 'turn');
  const odd = united.findings.find((f) => f.code === 'mesh/inside-out');
  if (odd && !allow) throw new Fault(odd.code, odd.message, odd.at);
  checkVolume(united.mesh);
  const healed = [...findings, ...united.findings].map(shownFinding);
  return { mesh: united.mesh, healed, format };
}

type SolidOptions = Omit<PartOptions, 'unit'> & { readonly unit?: Unit | undefined };

function readSolids(
  bytes: Uint8Array,
  format: PlacingFormat,
  { unit, heal: allow = true, deviation = DEVIATION }: SolidOptions,
): Read {
  if (unit !== undefined) {
    const message = `a ${format.toUpperCase()} file states its unit; leave out the unit "${unit}"`;
    throw new Fault('mesh/unit', message);
  }
  const { meshes, findings } = PLACING[format](bytes, allow, deviation);
  const mesh = joined(meshes);
  checkReach(mesh.vertices);
  return { mesh, findings };
}

interface Read {
  readonly mesh: Mesh;
  readonly findings: Finding[];
}

function readFacets(
  bytes: Uint8Array,
  format: Exclude<PartFormat, PlacingFormat>,
  unit: Unit,
  allow: boolean,
): Read {
  const file = readers[format](bytes);
  const { mesh, findings } = heal(inMillimetres(file, unit), allow);
  return { mesh, findings: [...file.findings, ...findings] };
}

type FacetsFile = Facets & { readonly findings: Finding[] };

const readers = {
  'stl-binary': readBinaryStl,
  'stl-ascii': readAsciiStl,
  obj: (bytes: Uint8Array): FacetsFile => ({ ...readObj(bytes), findings: [] }),
  ply: (bytes: Uint8Array): FacetsFile => ({ ...readPly(bytes), findings: [] }),
};

function checkVolume(mesh: Mesh): void {
  const { volume } = massOf(mesh);
  const least = 1e-12 * diagonal(mesh) ** 3;
  if (volume > least) return;
  throw new Fault(
    'mesh/no-volume',
    `the part encloses ${volume.toPrecision(3)} mm3; it must enclose more than ${least.toPrecision(3)} mm3`,
  );
}

function inMillimetres(facets: Facets, unit: Unit): Facets {
  const factor = UNITS[unit];
  if (factor === 1) return facets;
  return { vertices: facets.vertices.map((x) => x * factor), triangles: facets.triangles };
}

/**
 * By content alone. A binary STL file is known by its size, whatever its header says; a file that is
 * nothing else and not text is taken for a binary STL file that is cut short.
 * @throws Fault `mesh/empty-file`, `mesh/unknown-format`
 */
function formatOf(bytes: Uint8Array): PartFormat {
  if (bytes.length === 0) throw new Fault('mesh/empty-file', 'the file has 0 bytes');
  if (isZip(bytes)) return '3mf';
  if (isBinaryStl(bytes)) return 'stl-binary';
  if (looksLikeGlb(bytes)) return 'glb';
  if (looksLikePly(bytes)) return 'ply';
  const start = bytes.subarray(0, 1024);
  if (start.includes(0)) {
    if (bytes.length >= 84) return 'stl-binary';
  } else {
    const text = new TextDecoder('latin1').decode(start);
    if (looksLikeStep(text)) return 'step';
    if (/^(\u00ef\u00bb\u00bf)?\s*solid\b/i.test(text)) return 'stl-ascii';
    if (looksLikeObj(bytes)) return 'obj';
  }
  throw new Fault(
    'mesh/unknown-format',
    `the ${bytes.length} bytes are none of binary STL, ASCII STL, OBJ, PLY, 3MF, GLB, STEP`,
  );
}
