/**
 * Writer of GLB (glTF 2.0, ISO/IEC 12113:2022): a tree of named surfaces and polylines, each in one
 * colour, for any viewer. Millimetres with +Z up become metres with +Y up (section 3.4), float32. The
 * same tree gives the same bytes.
 */
import { type List, uint32List } from '../base/ragged.js';
import type { Mesh } from '../mesh/mesh.js';

/** Polyline i is the points `start[i] .. start[i + 1]`. */
export interface Polylines {
  /** Packed xyz, mm. */
  readonly points: Float64Array;
  readonly start: Uint32Array;
}

/** A node of the tree: a surface, polylines, or a group of others. */
export interface SceneNode {
  readonly name: string;
  /** Of the node's own surface or polylines: red, green, blue, 0 to 255 (sRGB). */
  readonly colour?: readonly number[];
  readonly mesh?: Pick<Mesh, 'vertices' | 'triangles'>;
  readonly lines?: Polylines;
  readonly children?: readonly SceneNode[];
}

const [LINES, TRIANGLES] = [1, 4];
const [FLOAT, UINT] = [5126, 5125];
const [VERTEX_DATA, INDEX_DATA] = [34962, 34963];

export function writeGlb(roots: readonly SceneNode[]): Uint8Array {
  const writer = new GlbWriter();
  const nodes = roots.flatMap((root) => writer.node(root));
  return writer.bytes(nodes);
}

class GlbWriter {
  readonly #nodes: object[] = [];
  readonly #meshes: object[] = [];
  readonly #accessors: object[] = [];
  readonly #views: object[] = [];
  readonly #materials: object[] = [];
  /** Number of the material by its JSON. */
  readonly #known = new Map<string, number>();
  readonly #data: Uint8Array[] = [];
  #size = 0;
  #drawsLines = false;

  /** @returns its number; none for a node that would draw nothing */
  node({ name, colour = [128, 128, 128], mesh, lines, children = [] }: SceneNode): number[] {
    const inner = children.flatMap((child) => this.node(child));
    const own =
      mesh && mesh.triangles.length > 0
        ? this.#mesh(name, mesh.vertices, mesh.triangles, TRIANGLES!, colour)
        : lines && this.#polylines(name, lines, colour);
    if (own === undefined && inner.length === 0) return [];
    this.#nodes.push({
      name,
      ...(own === undefined ? {} : { mesh: own }),
      ...(inner.length > 0 ? { children: inner } : {}),
    });
    return [this.#nodes.length - 1];
  }

  bytes(roots: readonly number[]): Uint8Array {
    const tree = {
      asset: { version: '2.0', generator: 'tiltwright' },
      ...(this.#drawsLines ? { extensionsUsed: ['KHR_materials_unlit'] } : {}),
      scene: 0,
      scenes: [{ nodes: roots }],
      nodes: this.#nodes,
      meshes: this.#meshes,
      materials: this.#materials,
      accessors: this.#accessors,
      bufferViews: this.#views,
      buffers: [{ byteLength: this.#size }],
    };
    const text = new TextEncoder().encode(JSON.stringify(tree));
    const padded = text.length + (-text.length & 3);
    const out = new Uint8Array(12 + 8 + padded + 8 + this.#size);
    const view = new DataView(out.buffer);
    const words = [0x46546c67, 2, out.length, padded, 0x4e4f534a];
    words.forEach((word, i) => view.setUint32(4 * i, word, true));
    out.fill(32, 20, 20 + padded);
    out.set(text, 20);
    view.setUint32(20 + padded, this.#size, true);
    view.setUint32(24 + padded, 0x004e4942, true);
    let at = 28 + padded;
    for (const piece of this.#data) {
      out.set(piece, at);
      at += piece.length;
    }
    return out;
  }

  /** Each stretch of a polyline is a line of its own; @returns the mesh's number, if there is any */
  #polylines(name: string, lines: Polylines, colour: readonly number[]): number | undefined {
    const { points, start } = lines;
    const pairs: List<Uint32Array> = uint32List(2 * (points.length / 3));
    for (let i = 0; i + 1 < start.length; i++) {
      for (let p = start[i]!; p + 1 < start[i + 1]!; p++) pairs.push2(p, p + 1);
    }
    if (pairs.length === 0) return undefined;
    this.#drawsLines = true;
    return this.#mesh(name, points, pairs.take(), LINES!, colour);
  }

  #mesh(
    name: string,
    vertices: Float64Array,
    indices: Uint32Array,
    mode: number,
    colour: readonly number[],
  ): number {
    const { values, min, max } = inMetres(vertices);
    const position = this.#accessor(values, FLOAT!, 'VEC3', VERTEX_DATA!, { min, max });
    const corners = this.#accessor(indices, UINT!, 'SCALAR', INDEX_DATA!, {});
    const material = this.#material(colour, mode === LINES);
    const primitive = { attributes: { POSITION: position }, indices: corners, mode, material };
    this.#meshes.push({ name, primitives: [primitive] });
    return this.#meshes.length - 1;
  }

  #accessor(
    values: Float32Array | Uint32Array,
    componentType: number,
    type: 'SCALAR' | 'VEC3',
    target: number,
    range: object,
  ): number {
    // All values take four bytes, so that each view begins where the last one ended.
    const bytes = littleEndian(values);
    this.#views.push({ buffer: 0, byteOffset: this.#size, byteLength: bytes.length, target });
    this.#data.push(bytes);
    this.#size += bytes.length;
    const count = type === 'VEC3' ? values.length / 3 : values.length;
    const bufferView = this.#views.length - 1;
    this.#accessors.push({ bufferView, componentType, count, type, ...range });
    return this.#accessors.length - 1;
  }

  #material(colour: readonly number[], unlit: boolean): number {
    const material = {
      pbrMetallicRoughness: {
        baseColorFactor: [...colour.map(linear), 1],
        metallicFactor: 0,
        roughnessFactor: 0.8,
      },
      ...(unlit ? { extensions: { KHR_materials_unlit: {} } } : {}),
    };
    const key = JSON.stringify(material);
    let number = this.#known.get(key);
    if (number === undefined) {
      number = this.#materials.push(material) - 1;
      this.#known.set(key, number);
    }
    return number;
  }
}

/** sRGB, 0 to 255, as a linear share (IEC 61966-2-1), rounded to four places. */
function linear(value: number): number {
  const s = value / 255;
  const share = s <= 0.04045 ? s / 12.92 : ((s + 0.055) / 1.055) ** 2.4;
  return Math.round(share * 1e4) / 1e4;
}

/** Millimetres, Z up, as metres, Y up: (x, y, z) becomes (x, z, -y); with the bounds of what is stored. */
function inMetres(vertices: Float64Array): { values: Float32Array; min: number[]; max: number[] } {
  const values = new Float32Array(vertices.length);
  const min = [Infinity, Infinity, Infinity];
  const max = [-Infinity, -Infinity, -Infinity];
  for (let i = 0; i < vertices.length; i += 3) {
    values[i] = vertices[i]! / 1000;
    values[i + 1] = vertices[i + 2]! / 1000;
    values[i + 2] = 0 - vertices[i + 1]! / 1000;
    for (let c = 0; c < 3; c++) {
      min[c] = Math.min(min[c]!, values[i + c]!);
      max[c] = Math.max(max[c]!, values[i + c]!);
    }
  }
  return { values, min, max };
}

function littleEndian(values: Float32Array | Uint32Array): Uint8Array {
  const bytes = new Uint8Array(4 * values.length);
  const view = new DataView(bytes.buffer);
  if (values instanceof Float32Array) {
    for (let i = 0; i < values.length; i++) view.setFloat32(4 * i, values[i]!, true);
  } else for (let i = 0; i < values.length; i++) view.setUint32(4 * i, values[i]!, true);
  return bytes;
}
