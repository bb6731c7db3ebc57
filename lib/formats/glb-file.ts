/**
 * The container of a GLB file and what of its JSON says where a mesh is (glTF 2.0, ISO/IEC 12113:2022,
 * sections 3 and 4.4). All data must lie in the file itself.
 */
import { Fault } from '../base/fault.js';
import { printable } from '../base/phrases.js';
import { shapes } from './json-shape.js';

const { any, byName, flag, list, number, object, optional, standard, text, whole } =
  shapes('glb/value');

const extensions = optional(byName(any));

const sparse = object({
  count: whole,
  indices: object({ bufferView: whole, byteOffset: standard(whole, 0), componentType: whole }),
  values: object({ bufferView: whole, byteOffset: standard(whole, 0) }),
});

const accessor = object({
  bufferView: optional(whole),
  byteOffset: standard(whole, 0),
  componentType: whole,
  normalized: standard(flag, false),
  count: whole,
  type: text,
  sparse: optional(sparse),
});

const primitive = object({
  attributes: byName(whole),
  indices: optional(whole),
  mode: standard(whole, 4),
  targets: optional(list(any)),
  extensions,
});

const node = object({
  name: optional(text),
  children: standard(list(whole), []),
  mesh: optional(whole),
  skin: optional(whole),
  matrix: optional(list(number, 16)),
  translation: optional(list(number, 3)),
  rotation: optional(list(number, 4)),
  scale: optional(list(number, 3)),
  extensions,
});

const view = object({
  buffer: whole,
  byteOffset: standard(whole, 0),
  byteLength: whole,
  byteStride: optional(whole),
  extensions,
});

const gltf = object({
  asset: object({ version: text }),
  extensionsRequired: standard(list(text), []),
  scene: optional(whole),
  scenes: standard(list(object({ nodes: standard(list(whole), []) })), []),
  nodes: standard(list(node), []),
  meshes: standard(list(object({ name: optional(text), primitives: list(primitive) })), []),
  accessors: standard(list(accessor), []),
  bufferViews: standard(list(view), []),
  buffers: standard(list(object({ uri: optional(text), byteLength: whole })), []),
});

export type GltfTree = ReturnType<typeof gltf>;
export type GltfNode = GltfTree['nodes'][number];
export type GltfPrimitive = GltfTree['meshes'][number]['primitives'][number];
export type GltfAccessor = GltfTree['accessors'][number];

export interface GlbFile {
  readonly tree: GltfTree;
  /** The data; undefined if the file has none. */
  readonly data: Uint8Array | undefined;
}

/** Extensions that a file may require: they change no shape, or only how positions are stored. */
const HARMLESS =
  /^(KHR_mesh_quantization|KHR_(materials|texture|lights|animation|xmp)_\w+|EXT_texture_\w+|MSFT_texture_\w+)$/;

const GLTF = 0x46546c67;
const JSON_CHUNK = 0x4e4f534a;
const BINARY_CHUNK = 0x004e4942;

const viewOf = (b: Uint8Array): DataView => new DataView(b.buffer, b.byteOffset, b.byteLength);

export const looksLikeGlb = (bytes: Uint8Array): boolean =>
  bytes.length >= 4 && viewOf(bytes).getUint32(0, true) === GLTF;

/** @throws Fault `glb/damaged`, `glb/version`, `glb/json`, `glb/value`, `glb/extension`, `glb/external` */
export function openGlb(bytes: Uint8Array): GlbFile {
  const [json, data] = chunksOf(bytes);
  const tree = gltf(jsonOf(json), '');
  if (!/^2\.\d+$/.test(tree.asset.version)) {
    throw new Fault(
      'glb/version',
      `glTF of version "${printable(tree.asset.version, 20)}"; 2.x is read`,
    );
  }
  for (const name of tree.extensionsRequired) {
    if (HARMLESS.test(name)) continue;
    const message = `the file requires the extension "${printable(name, 60)}", which is not read`;
    throw new Fault('glb/extension', message);
  }
  tree.buffers.forEach(({ uri, byteLength }, i) => {
    if (uri !== undefined || i > 0) {
      const where = uri?.startsWith('data:') ? 'text' : `"${printable(uri ?? '', 60)}"`;
      const message = `buffer ${i} lies in ${where}; only the data in the file itself are read: export all into one GLB`;
      throw new Fault('glb/external', message);
    }
    if (byteLength > (data?.length ?? 0)) {
      throw damaged(`its buffer has ${byteLength} bytes, its data ${data?.length ?? 0}`);
    }
  });
  return { tree, data };
}

export const damaged = (what: string): Fault =>
  new Fault('glb/damaged', `damaged GLB file: ${what}`);

function chunksOf(bytes: Uint8Array): [Uint8Array, Uint8Array | undefined] {
  if (bytes.length < 20) throw damaged(`${bytes.length} bytes; the least is 20`);
  const view = viewOf(bytes);
  const version = view.getUint32(4, true);
  if (version !== 2) throw new Fault('glb/version', `GLB of version ${version}; 2 is read`);
  const length = view.getUint32(8, true);
  if (length > bytes.length) {
    throw damaged(`it says ${length} bytes and has ${bytes.length}; it was cut short`);
  }
  const chunks: [number, Uint8Array][] = [];
  for (let at = 12; at + 8 <= length && chunks.length < 2;) {
    const size = view.getUint32(at, true);
    if (at + 8 + size > length) throw damaged(`chunk ${chunks.length + 1} ends beyond the file`);
    chunks.push([view.getUint32(at + 4, true), bytes.subarray(at + 8, at + 8 + size)]);
    at += 8 + size + (-size & 3);
  }
  const [json, binary] = chunks;
  if (json?.[0] !== JSON_CHUNK) throw damaged('its first chunk is no JSON');
  return [json[1], binary?.[0] === BINARY_CHUNK ? binary[1] : undefined];
}

function jsonOf(bytes: Uint8Array): unknown {
  try {
    return JSON.parse(new TextDecoder('utf-8', { fatal: true }).decode(bytes)) as unknown;
  } catch (error) {
    throw new Fault('glb/json', `its JSON cannot be read: ${printable(String(error), 100)}`);
  }
}
