/**
 * The boundary-representation kernel: the bodies of a STEP file (ISO 10303-21) as triangles that stray
 * from its surfaces by no more than a stated deviation. The package (occt-import-js) takes 12 MB and few
 * need it, so it is for those to install who read such files (a peer that may be absent), and it is
 * loaded when a file comes: 10 to 60 ms. Each file gets an instance of its own, so that a file on which
 * the kernel breaks leaves nothing behind; an instance has no way to files or to the network.
 *
 * Triangulation costs more than its output on large curved faces (a torus of 2.5 m at 0.01 mm: 146 s and
 * 2 GB before it gave up), so a file is first read coarsely, by shares of its size, to learn how large
 * its bodies are.
 */
import { BOUNDS } from '../base/bounds.js';
import { Fault } from '../base/fault.js';
import { bytesOf, moduleOf } from './wasm.js';

/** A solid, or a shell or faces that belong to none, where the file's assemblies place it. */
export interface StepBody {
  /** As the file gives it, perhaps empty. */
  readonly name: string;
  /** Packed xyz, mm; faces share no vertices. */
  readonly vertices: Float64Array;
  /** Three indices each, counterclockwise seen from outside. */
  readonly triangles: Uint32Array;
}

interface KernelMesh {
  readonly name: string;
  readonly attributes: { readonly position: { readonly array: number[] } };
  readonly index: { readonly array: number[] };
}

/** Meshes are there where `success` is true. */
interface KernelResult {
  readonly success: boolean;
  readonly meshes?: KernelMesh[];
}

interface KernelModule {
  ReadStepFile(bytes: Uint8Array, options: object): KernelResult;
}

type StepLoader = (options: object) => Promise<unknown>;

interface WasmMemory {
  readonly buffer: ArrayBuffer;
  grow(pages: number): number;
}

interface WasmInstance {
  readonly exports: Readonly<Record<string, unknown>>;
}

/** What is used here of the WebAssembly JavaScript interface; the types of Node 20 do not have it. */
interface Wasm {
  readonly Module: new (bytes: Uint8Array) => object;
  readonly Instance: new (module: object, imports: object) => WasmInstance;
  readonly Memory: new (limits: object) => WasmMemory;
}

/** rad; between neighbouring chords, which keeps small fillets round where the deviation is large. */
const CHORD_ANGLE = 0.5;
/** Of the size of the file's bodies, for the first, coarse reading. */
const FIRST_SHARE = 0.02;

/**
 * @param deviation greatest distance of the triangles from the surfaces, mm
 * @throws Fault `step/no-kernel` where the package is not installed, `step/too-large`,
 *   `step/unreadable`
 */
export function tessellateStep(bytes: Uint8Array, deviation: number): StepBody[] {
  const kernel = instantiated();
  const coarse = bodiesOf(kernel, bytes, {
    linearDeflectionType: 'bounding_box_ratio',
    linearDeflection: FIRST_SHARE,
  });
  for (const body of coarse) checkSize(body, deviation);
  return bodiesOf(kernel, bytes, {
    linearDeflectionType: 'absolute_value',
    linearDeflection: deviation,
  });
}

function bodiesOf(kernel: KernelModule, bytes: Uint8Array, fineness: object): StepBody[] {
  let result: KernelResult;
  try {
    const options = { linearUnit: 'millimeter', angularDeflection: CHORD_ANGLE, ...fineness };
    result = kernel.ReadStepFile(bytes, options);
  } catch {
    // What is thrown is a number, a trap of WASM or an exhausted stack, and says nothing of the file.
    throw new Fault(
      'step/unreadable',
      'the STEP kernel broke on the file, or it ran out of memory',
    );
  }
  if (!result.success || !result.meshes) {
    const message = 'the STEP kernel finds no shape in the file, or cannot follow what it says';
    throw new Fault('step/unreadable', message);
  }
  return result.meshes.map(({ name, attributes, index }) => ({
    name,
    vertices: Float64Array.from(attributes.position.array),
    triangles: Uint32Array.from(index.array),
  }));
}

function checkSize({ name, vertices, triangles }: StepBody, deviation: number): void {
  const least = [Infinity, Infinity, Infinity];
  const most = [-Infinity, -Infinity, -Infinity];
  // Faces that could not be triangulated leave a vertex far away that no triangle has.
  for (const v of triangles) {
    for (let c = 0; c < 3; c++) {
      const x = vertices[3 * v + c]!;
      if (x < least[c]!) least[c] = x;
      if (x > most[c]!) most[c] = x;
    }
  }
  const across = Math.hypot(...most.map((x, c) => Math.max(0, x - least[c]!)));
  const limit = BOUNDS.stepDeviations * deviation;
  if (across <= limit) return;
  throw new Fault(
    'step/too-large',
    `a body${name === '' ? '' : ` "${name}"`} is ${across.toPrecision(4)} mm across; at a deviation of ${deviation} mm the limit is ${limit} mm`,
  );
}

/** Made without waiting, as readers do not wait. @throws Fault `step/no-kernel` */
function instantiated(): KernelModule {
  const load = loader();
  const { Module, Instance, Memory } = (globalThis as unknown as { WebAssembly: Wasm }).WebAssembly;
  const wasm = new Module(bytesOf('occt-import-js/dist/occt-import-js.wasm'));
  const kernel = {
    // It prints what it thinks of a file.
    print: () => {},
    printErr: () => {},
    instantiateWasm(imports: object, done: (instance: WasmInstance) => unknown) {
      const instance = new Instance(wasm, imports);
      for (const item of Object.values(instance.exports))
        if (item instanceof Memory) holdTo(item, BOUNDS.stepMemoryBytes);
      return done(instance);
    },
  };
  // The loader fills the object that it is given, at once, as nothing has to be fetched.
  void load(kernel);
  return kernel as unknown as KernelModule;
}

function loader(): StepLoader {
  try {
    return moduleOf('occt-import-js') as StepLoader;
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code !== 'MODULE_NOT_FOUND') throw error;
    throw new Fault(
      'step/no-kernel',
      'STEP files are read by the package occt-import-js, which is not installed: npm install occt-import-js',
    );
  }
}

const PAGE_BYTES = 65_536;

/** The kernel's own limit is 2 GB. */
function holdTo(memory: WasmMemory, limit: number): void {
  const grow = memory.grow.bind(memory);
  memory.grow = (pages) => {
    if (memory.buffer.byteLength + pages * PAGE_BYTES > limit)
      throw new RangeError(`more than ${limit} bytes`);
    return grow(pages);
  };
}
