/**
 * Accessors of a GLB file (glTF 2.0, section 3.6.2): numbers in a view of the data, interleaved or not,
 * whole or as fractions, with values that replace some of them. Each is held against its view before it
 * is read.
 */
import { BOUNDS } from '../base/bounds.js';
import { Fault } from '../base/fault.js';
import { type GlbFile, type GltfAccessor, damaged } from './glb-file.js';

/** Component type: bytes, reader, greatest value as a fraction of 1. */
interface Component {
  readonly size: number;
  readonly read: (view: DataView, at: number) => number;
  readonly most: number;
}

const COMPONENTS: Readonly<Record<number, Component>> = {
  5120: { size: 1, read: (v, at) => v.getInt8(at), most: 127 },
  5121: { size: 1, read: (v, at) => v.getUint8(at), most: 255 },
  5122: { size: 2, read: (v, at) => v.getInt16(at, true), most: 32767 },
  5123: { size: 2, read: (v, at) => v.getUint16(at, true), most: 65535 },
  5125: { size: 4, read: (v, at) => v.getUint32(at, true), most: 4294967295 },
  5126: { size: 4, read: (v, at) => v.getFloat32(at, true), most: 1 },
};
const FLOAT = 5126;
const UNSIGNED = [5121, 5123, 5125];

/** Positions, packed xyz. @throws Fault `glb/reference`, `glb/damaged`, `glb/value`, `glb/not-finite` */
export function positionsOf(file: GlbFile, index: number): Float64Array {
  const accessor = accessorAt(file, index);
  if (accessor.type !== 'VEC3') throw wrong(index, `positions of type ${accessor.type}; VEC3`);
  const out = valuesOf(file, accessor, index, 3);
  const bad = out.findIndex((x) => !Number.isFinite(x));
  if (bad < 0) return out;
  const message = `accessor ${index}: vertex ${Math.floor(bad / 3) + 1} of ${accessor.count} has the coordinate ${out[bad]}, not a finite number`;
  throw new Fault('glb/not-finite', message);
}

/** Vertex numbers. @throws Fault as `positionsOf` */
export function indicesOf(file: GlbFile, index: number): Float64Array {
  const accessor = accessorAt(file, index);
  if (accessor.type !== 'SCALAR' || !UNSIGNED.includes(accessor.componentType)) {
    throw wrong(
      index,
      `indices of type ${accessor.type} ${accessor.componentType}; SCALAR 5121, 5123 or 5125`,
    );
  }
  return valuesOf(file, accessor, index, 1);
}

const wrong = (index: number, what: string): Fault =>
  new Fault('glb/value', `accessor ${index}: ${what} is asked for`);

/** @throws Fault `glb/reference` */
export function accessorAt({ tree }: GlbFile, index: number): GltfAccessor {
  const accessor = tree.accessors[index];
  if (accessor) return accessor;
  throw new Fault(
    'glb/reference',
    `accessor ${index} is not there; the file has ${tree.accessors.length}`,
  );
}

function valuesOf(
  file: GlbFile,
  accessor: GltfAccessor,
  index: number,
  width: number,
): Float64Array {
  const component = COMPONENTS[accessor.componentType];
  if (!component) throw wrong(index, `component type ${accessor.componentType}; 5120 to 5126`);
  const { count, bufferView, byteOffset, normalized, sparse } = accessor;
  // Without a view all values are zero, however many there are.
  if (count > 3 * BOUNDS.triangles) {
    const message = `accessor ${index} has ${count} values; the limit is ${3 * BOUNDS.triangles}`;
    throw new Fault('glb/too-large', message);
  }
  const item = width * component.size;
  const whole = !normalized || accessor.componentType === FLOAT;
  const value = (view: DataView, at: number): number => {
    const x = component.read(view, at);
    return whole ? x : Math.max(x / component.most, -1);
  };
  const out = new Float64Array(count * width);
  const fill = (bytes: DataView, stride: number, n: number, to: (i: number) => number): void => {
    for (let i = 0; i < n; i++) {
      const o = width * to(i);
      for (let c = 0; c < width; c++) out[o + c] = value(bytes, i * stride + c * component.size);
    }
  };
  if (bufferView !== undefined) {
    const stride = file.tree.bufferViews[bufferView]?.byteStride ?? item;
    fill(
      bytesAt(file, bufferView, byteOffset, stride * (count - 1) + item, index),
      stride,
      count,
      (i) => i,
    );
  }
  if (sparse) {
    const at = sparse.indices;
    if (!UNSIGNED.includes(at.componentType)) {
      throw wrong(index, `places of component type ${at.componentType}; 5121, 5123 or 5125`);
    }
    const { size, read } = COMPONENTS[at.componentType]!;
    const places = bytesAt(file, at.bufferView, at.byteOffset, size * sparse.count, index);
    const from = sparse.values;
    const bytes = bytesAt(file, from.bufferView, from.byteOffset, item * sparse.count, index);
    fill(bytes, item, sparse.count, (i) => {
      const place = read(places, i * size);
      if (place < count) return place;
      throw new Fault('glb/reference', `accessor ${index}: value ${place} of ${count} is replaced`);
    });
  }
  return out;
}

/** So many bytes of a view. */
function bytesAt(
  { tree, data }: GlbFile,
  bufferView: number,
  offset: number,
  length: number,
  index: number,
): DataView {
  const view = tree.bufferViews[bufferView];
  if (!view || view.buffer !== 0 || tree.buffers.length === 0 || !data) {
    throw new Fault('glb/reference', `accessor ${index}: view ${bufferView} has no data`);
  }
  if (view.extensions && 'EXT_meshopt_compression' in view.extensions) {
    const message = `view ${bufferView} is compressed by EXT_meshopt_compression, which is not read`;
    throw new Fault('glb/extension', message);
  }
  if (offset + length > view.byteLength || view.byteOffset + view.byteLength > data.length) {
    const message = `accessor ${index} reaches to byte ${view.byteOffset + offset + length}; its view ends at ${view.byteOffset + view.byteLength} and the data at ${data.length}`;
    throw damaged(message);
  }
  return new DataView(data.buffer, data.byteOffset + view.byteOffset + offset, length);
}
