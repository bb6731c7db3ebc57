/**
 * GLB files accepted and refused, by glTF 2.0 (ISO/IEC 12113:2022; section numbers are of the Khronos
 * text). Files are written by glTF-Transform, which shares no code with the reader, or by hand. Volumes
 * are closed forms.
 */
import { Document, type Node as GltfNode, type Primitive } from '@gltf-transform/core';
import { describe, expect, it } from 'vitest';
import { bounds, massOf } from '../../lib/mesh/measure.js';
import { quietIo } from '../support/quiet-io.js';
import { boxFacets, bytesOf } from './files.js';
import { codes, read, refused } from './reading.js';

type Three = [number, number, number];

interface Made {
  readonly document: Document;
  readonly primitive: Primitive;
  readonly node: GltfNode;
}

/** A box with a corner in the origin, m; vertices shared by nothing, as files with normals have them. */
function box(size: Three, indexed: 'no' | Uint8Array | Uint16Array | Uint32Array = 'no'): Made {
  const document = new Document();
  const buffer = document.createBuffer();
  const corners = boxFacets([0, 0, 0], size).flat(2);
  const position = document
    .createAccessor()
    .setType('VEC3')
    .setArray(Float32Array.from(corners))
    .setBuffer(buffer);
  const primitive = document.createPrimitive().setAttribute('POSITION', position);
  if (indexed !== 'no') {
    indexed.forEach((_, i) => (indexed[i] = i));
    primitive.setIndices(
      document.createAccessor().setType('SCALAR').setArray(indexed).setBuffer(buffer),
    );
  }
  const node = document
    .createNode('tray')
    .setMesh(document.createMesh('tray').addPrimitive(primitive));
  document.createScene().addChild(node);
  return { document, primitive, node };
}

const written = ({ document }: Made): Promise<Uint8Array> => quietIo().writeBinary(document);

/** The JSON of a GLB file changed. */
function edited(bytes: Uint8Array, change: (json: Record<string, never>) => void): Uint8Array {
  const view = new DataView(bytes.buffer, bytes.byteOffset);
  const size = view.getUint32(12, true);
  const json = JSON.parse(new TextDecoder().decode(bytes.subarray(20, 20 + size))) as Record<
    string,
    never
  >;
  change(json);
  return glb(JSON.stringify(json), bytes.subarray(20 + size));
}

/** Header, JSON chunk padded by blanks, and what follows (section 4.4). */
function glb(json: string, rest: Uint8Array): Uint8Array {
  const text = bytesOf(json.padEnd(Math.ceil(json.length / 4) * 4));
  const out = new Uint8Array(20 + text.length + rest.length);
  const view = new DataView(out.buffer);
  [0x46546c67, 2, out.length, text.length, 0x4e4f534a].forEach((x, i) =>
    view.setUint32(4 * i, x, true),
  );
  out.set(text, 20);
  out.set(rest, 20 + text.length);
  return out;
}

describe('reads', () => {
  it('metres with +Y up as millimetres with +Z up (3.4)', async () => {
    const part = read(await written(box([0.01, 0.02, 0.03])));
    expect(part.format).toBe('glb');
    const { least, most } = bounds(part.mesh);
    // What is up in the file, 20 mm, is up here; what faces the viewer, +Z, faces -Y.
    [0, -30, 0].forEach((x, c) => expect(least[c]).toBeCloseTo(x, 5));
    [10, 0, 20].forEach((x, c) => expect(most[c]).toBeCloseTo(x, 5));
    expect(massOf(part.mesh).volume).toBeCloseTo(6000, 2);
    expect(codes(part)).toEqual([]);
  });

  it.each([
    ['8 bits', new Uint8Array(36)],
    ['16 bits', new Uint16Array(36)],
    ['32 bits', new Uint32Array(36)],
  ])('indices of %s', async (_, indices) => {
    expect(massOf(read(await written(box([0.01, 0.01, 0.01], indices))).mesh).volume).toBeCloseTo(
      1000,
      2,
    );
  });

  it('translation, rotation and scale of nested nodes (3.5.3)', async () => {
    const made = box([0.01, 0.02, 0.03]);
    // A quarter turn about +Y takes +Z to +X: q = (0, sin 45, 0, cos 45).
    const half = Math.SQRT1_2;
    made.node.setScale([2, 1, 1]).setRotation([0, half, 0, half]).setTranslation([0.1, 0, 0]);
    const outer = made.document.createNode().setTranslation([0, 0.05, 0]).addChild(made.node);
    made.document.getRoot().listScenes()[0]!.removeChild(made.node).addChild(outer);
    const { least, most } = bounds(read(await written(made)).mesh);
    // In the file: x 0.1 .. 0.13, y 0.05 .. 0.07, z -0.02 .. 0.
    [100, 0, 50].forEach((x, c) => expect(least[c]).toBeCloseTo(x, 4));
    [130, 20, 70].forEach((x, c) => expect(most[c]).toBeCloseTo(x, 4));
  });

  it('a mirrored node keeps its volume positive (3.7.4)', async () => {
    const made = box([0.01, 0.01, 0.01]);
    made.node.setScale([-1, 1, 1]);
    const part = read(await written(made));
    expect(massOf(part.mesh).volume).toBeCloseTo(1000, 2);
    expect(codes(part)).toEqual([]);
  });

  it('a mesh of which each colour is a primitive as one solid', async () => {
    const made = box([0.01, 0.01, 0.01]);
    const all = made.primitive.getAttribute('POSITION')!.getArray()!;
    const mesh = made.node.getMesh()!;
    const half = (from: number, to: number): Primitive => {
      const part = made.document
        .createAccessor()
        .setType('VEC3')
        .setArray(all.slice(from, to) as Float32Array<ArrayBuffer>);
      part.setBuffer(made.document.getRoot().listBuffers()[0]!);
      return made.document.createPrimitive().setAttribute('POSITION', part);
    };
    mesh.removePrimitive(made.primitive).addPrimitive(half(0, 54)).addPrimitive(half(54, 108));
    expect(massOf(read(await written(made)).mesh).volume).toBeCloseTo(1000, 2);
  });

  it('one mesh in two places, and overlaps united: 1000 + 1000 - 500 mm3', async () => {
    const made = box([0.01, 0.01, 0.01]);
    const again = made.document
      .createNode()
      .setMesh(made.node.getMesh())
      .setTranslation([0.005, 0, 0]);
    made.document.getRoot().listScenes()[0]!.addChild(again);
    const part = read(await written(made));
    expect(massOf(part.mesh).volume).toBeCloseTo(1500, 2);
    expect(codes(part)).toEqual(['mesh/shells-united']);
  });

  it('positions as fractions of a whole number (KHR_mesh_quantization)', async () => {
    const made = box([1, 1, 1]);
    const position = made.primitive.getAttribute('POSITION')!;
    const shorts = Int16Array.from([...position.getArray()!], (x) => x * 32767);
    position.setArray(shorts).setNormalized(true);
    made.node.setScale([0.01, 0.01, 0.01]);
    const bytes = edited(await written(made), (json) => {
      Object.assign(json, { extensionsRequired: ['KHR_mesh_quantization'] });
    });
    expect(massOf(read(bytes).mesh).volume).toBeCloseTo(1000, 2);
  });

  it('values that replace others, here zeros (sparse accessors, 3.6.2.3)', async () => {
    const made = box([0.01, 0.01, 0.01]);
    made.primitive.getAttribute('POSITION')!.setSparse(true);
    const bytes = await written(made);
    edited(bytes, (json) => expect(JSON.stringify(json)).toContain('"sparse"'));
    expect(massOf(read(bytes).mesh).volume).toBeCloseTo(1000, 2);
  });

  it('strips and fans of triangles (3.7.2.1)', async () => {
    const made = box([0.01, 0.01, 0.01]);
    const mesh = made.node.getMesh()!.removePrimitive(made.primitive);
    const add = (mode: 5 | 6, corners: Three[]): void => {
      const accessor = made.document.createAccessor().setType('VEC3');
      accessor.setArray(Float32Array.from(corners.flat(), (x) => x / 100));
      accessor.setBuffer(made.document.getRoot().listBuffers()[0]!);
      mesh.addPrimitive(
        made.document.createPrimitive().setMode(mode).setAttribute('POSITION', accessor),
      );
    };
    const side = (mode: 5 | 6, [a, b, c, d]: [Three, Three, Three, Three]): void =>
      add(mode, mode === 6 ? [a, b, c, d] : [a, b, d, c]);
    // The six sides of a cube, counter-clockwise from outside.
    side(5, [
      [0, 0, 0],
      [0, 0, 1],
      [0, 1, 1],
      [0, 1, 0],
    ]);
    side(6, [
      [1, 1, 0],
      [1, 1, 1],
      [1, 0, 1],
      [1, 0, 0],
    ]);
    side(5, [
      [0, 0, 0],
      [1, 0, 0],
      [1, 0, 1],
      [0, 0, 1],
    ]);
    side(6, [
      [0, 0, 1],
      [1, 0, 1],
      [1, 1, 1],
      [0, 1, 1],
    ]);
    side(5, [
      [0, 1, 1],
      [1, 1, 1],
      [1, 1, 0],
      [0, 1, 0],
    ]);
    side(6, [
      [0, 1, 0],
      [1, 1, 0],
      [1, 0, 0],
      [0, 0, 0],
    ]);
    expect(massOf(read(await written(made)).mesh).volume).toBeCloseTo(1000, 2);
  });

  it('leaves out lines, and says so', async () => {
    const made = box([0.01, 0.01, 0.01]);
    const line = made.document
      .createPrimitive()
      .setMode(1)
      .setAttribute('POSITION', made.primitive.getAttribute('POSITION'));
    made.node.getMesh()!.addPrimitive(line);
    expect(codes(read(await written(made)))).toEqual(['glb/left-out']);
  });
});

describe('refuses', () => {
  type Json = Record<string, never> & {
    nodes: Record<string, unknown>[];
    accessors: Record<string, unknown>[];
    bufferViews: Record<string, unknown>[];
    meshes: { primitives: Record<string, unknown>[] }[];
    scenes: { nodes: number[] }[];
    asset: { version: string };
    buffers: Record<string, unknown>[];
  };
  it.each<[string, (json: Json) => void, string, RegExp]>([
    [
      'data in another file',
      (j) => (j.buffers[0]!.uri = '../../tray.bin'),
      'glb/external',
      /"\.\.\/\.\.\/tray\.bin"/,
    ],
    [
      'compressed meshes',
      (j) => Object.assign(j, { extensionsRequired: ['KHR_draco_mesh_compression'] }),
      'glb/extension',
      /requires .*KHR_draco/,
    ],
    ['glTF 1.0', (j) => (j.asset.version = '1.0'), 'glb/version', /"1.0"; 2.x is read/],
    [
      'a node in a circle',
      (j) => (j.nodes[0]!.children = [0]),
      'glb/reference',
      /more than 1 place/,
    ],
    [
      'a scene that is not there',
      (j) => Object.assign(j, { scene: 3 }),
      'glb/reference',
      /scene 3/,
    ],
    [
      'a mesh that is not there',
      (j) => (j.nodes[0]!.mesh = 7),
      'glb/reference',
      /mesh 7 is not there/,
    ],
    [
      'an accessor that reaches beyond its view',
      (j) => (j.accessors[0]!.count = 37),
      'glb/damaged',
      /reaches to byte 444; its view ends at 432/,
    ],
    [
      'an accessor without data that asks for memory',
      (j) => {
        delete j.accessors[0]!.bufferView;
        j.accessors[0]!.count = 4e9;
      },
      'glb/too-large',
      /4000000000 values|1333333333 triangles/,
    ],
    [
      'nodes that multiply a mesh beyond the bounds',
      (j) => {
        const count = 20_000;
        j.nodes = Array.from({ length: count }, () => ({ mesh: 0 }));
        j.scenes[0]!.nodes = j.nodes.map((_, i) => i);
      },
      'glb/too-large',
      /20000 objects; the limits are 20000000 and 10000/,
    ],
    [
      'a scene without meshes',
      (j) => delete j.nodes[0]!.mesh,
      'glb/no-mesh',
      /0 nodes with a mesh/,
    ],
    [
      'a word for a number',
      (j) => (j.nodes[0]!.mesh = 'tray'),
      'glb/value',
      /nodes\[0\]\.mesh: "tray" is no whole number/,
    ],
    ['a node without a size', (j) => (j.nodes[0]!.scale = [1, 0, 1]), 'mesh/transform', /singular/],
    [
      'triangles that are not whole',
      (j) => (j.accessors[0]!.count = 35),
      'glb/value',
      /35 corners of triangles/,
    ],
  ])('%s', async (_, change, code, message) => {
    const bytes = edited(
      await written(box([0.01, 0.01, 0.01])),
      (json) => void change(json as Json),
    );
    const fault = refused(bytes);
    expect([fault.code, fault.message]).toEqual([code, expect.stringMatching(message) as string]);
    expect(fault.message).not.toContain('\n');
  });

  it('a file that is cut short, at each of its quarters', async () => {
    const bytes = await written(box([0.01, 0.01, 0.01]));
    for (const share of [0.02, 0.25, 0.5, 0.75, 0.99]) {
      expect(refused(bytes.slice(0, Math.floor(share * bytes.length))).code).toMatch(
        /^(glb\/damaged|mesh\/unknown-format)$/,
      );
    }
  });

  it('JSON that is none', () => {
    expect(refused(glb('{"asset":', new Uint8Array(0))).code).toBe('glb/json');
  });

  it('a unit, since the file states its own', async () => {
    const fault = refused(await written(box([0.01, 0.01, 0.01])), { unit: 'inch' });
    expect(fault.code).toBe('mesh/unit');
  });

  it('a box that lacks a side, with the name of its mesh', async () => {
    const made = box([0.01, 0.01, 0.01]);
    const position = made.primitive.getAttribute('POSITION')!;
    position.setArray(position.getArray()!.slice(18) as Float32Array<ArrayBuffer>);
    const fault = refused(await written(made));
    expect(fault.code).toBe('mesh/open-edges');
    expect(fault.message).toMatch(/^mesh "tray": 4 open edges in 1 hole; .* and 100 mm2 is 20 %/);
  });
});
