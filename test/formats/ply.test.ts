/**
 * PLY files accepted and refused, by Turk's "The PLY polygon file format" (1994). The cube is its example,
 * from memory; files of other shapes are written by three.js's exporter, which shares no code with the
 * reader. Volumes are closed forms.
 */
import { BoxGeometry, Mesh as ThreeMesh, TorusGeometry, type BufferGeometry } from 'three';
import { PLYExporter } from 'three/examples/jsm/exporters/PLYExporter.js';
import { afterAll, beforeAll, describe, expect, it, vi } from 'vitest';
import { bounds, massOf } from '../../lib/mesh/measure.js';
import { bytesOf } from './files.js';
import { codes, read, refused } from './reading.js';

const HEADER = `ply
format ascii 1.0
comment made by anonymous
comment this file is a cube
element vertex 8
property float32 x
property float32 y
property float32 z
element face 6
property list uint8 int32 vertex_index
end_header
`;
const VERTICES = '0 0 0\n0 0 1\n0 1 1\n0 1 0\n1 0 0\n1 0 1\n1 1 1\n1 1 0\n';
const FACES = '4 0 1 2 3\n4 7 6 5 4\n4 0 4 5 1\n4 1 5 6 2\n4 2 6 7 3\n4 3 7 4 0\n';
const CUBE = HEADER + VERTICES + FACES;

/** The cube as bytes, with a colour and a list that are of no use between the numbers that are. */
function cubeBytes(little: boolean, vertexType: 'float' | 'double' = 'float'): Uint8Array {
  const head = bytesOf(
    `ply\nformat binary_${little ? 'little' : 'big'}_endian 1.0\nelement vertex 8\nproperty uchar red\n` +
      `property ${vertexType} x\nproperty ${vertexType} y\nproperty list ushort short weights\nproperty ${vertexType} z\n` +
      `element material 1\nproperty int shine\nelement face 6\nproperty uchar flags\n` +
      `property list uint uchar vertex_indices\nend_header\n`,
  );
  const bytes = new Uint8Array(head.length + 1000);
  bytes.set(head);
  const view = new DataView(bytes.buffer);
  let at = head.length;
  const float = (x: number): void => {
    if (vertexType === 'float') view.setFloat32(at, x, little);
    else view.setFloat64(at, x, little);
    at += vertexType === 'float' ? 4 : 8;
  };
  for (const [x, y, z] of numbers(VERTICES)) {
    view.setUint8(at++, 200);
    float(x!);
    float(y!);
    view.setUint16(at, 2, little);
    view.setInt16(at + 2, -1, little);
    view.setInt16(at + 4, 7, little);
    at += 6;
    float(z!);
  }
  view.setInt32(at, 5, little);
  at += 4;
  for (const [, ...corners] of numbers(FACES)) {
    view.setUint8(at++, 1);
    view.setUint32(at, 4, little);
    at += 4;
    for (const v of corners) view.setUint8(at++, v);
  }
  return bytes.slice(0, at);
}

const numbers = (text: string): number[][] =>
  text
    .trim()
    .split('\n')
    .map((line) => line.split(' ').map(Number));

describe('the cube', () => {
  it.each([
    ['as text', bytesOf(CUBE)],
    ['with CR LF', bytesOf(CUBE.replaceAll('\n', '\r\n'))],
    ['little-endian', cubeBytes(true)],
    ['big-endian', cubeBytes(false)],
    ['big-endian, double', cubeBytes(false, 'double')],
    [
      'as strips of triangles',
      // Each side as a strip of two; -1 begins the next.
      bytesOf(
        HEADER.replace('face 6', 'tristrips 1').replace('uint8', 'int32') +
          VERTICES +
          '29 0 1 3 2 -1 7 6 4 5 -1 0 4 1 5 -1 1 5 2 6 -1 2 6 3 7 -1 3 7 0 4\n',
      ),
    ],
  ])('%s: 1 mm3, 12 triangles', (_, bytes) => {
    const part = read(bytes);
    expect(part.format).toBe('ply');
    expect(massOf(part.mesh).volume).toBeCloseTo(1, 12);
    expect(part.mesh.triangles.length / 3).toBe(12);
    expect(codes(part)).toEqual([]);
  });

  it('takes its unit from the caller: 1 inch is 25.4 mm', () => {
    // NIST SP 811, appendix B.
    expect(bounds(read(bytesOf(CUBE), { unit: 'inch' }).mesh).most[0]).toBeCloseTo(25.4, 12);
  });

  it('with vertices that its faces do not share is joined', () => {
    const corners = numbers(FACES).map(([, ...c]) => c);
    const vertices = corners.flat().map((v) => VERTICES.split('\n')[v]!);
    const faces = corners.map((_, f) => `4 ${[0, 1, 2, 3].map((i) => 4 * f + i).join(' ')}`);
    const text = `${HEADER.replace('vertex 8', 'vertex 24')}${[...vertices, ...faces].join('\n')}\n`;
    expect(massOf(read(bytesOf(text)).mesh).volume).toBeCloseTo(1, 12);
  });
});

describe('files of three.js', () => {
  // The exporter hands its result on in the next frame of a browser as well as at once.
  beforeAll(() => void vi.stubGlobal('requestAnimationFrame', () => 0));
  afterAll(() => void vi.unstubAllGlobals());

  // Pappus: a torus whose tube is a 12-gon and whose ring has 48 sides; both as polygons.
  const torus = (R: number, r: number, tube: number, ring: number): number =>
    (tube / 2) * r * r * Math.sin((2 * Math.PI) / tube) * ring * R * Math.sin((2 * Math.PI) / ring);
  const shapes: [string, BufferGeometry, number][] = [
    ['a box of 3 x 4 x 5', new BoxGeometry(3, 4, 5), 60],
    ['a torus', new TorusGeometry(20, 5, 12, 48), torus(20, 5, 12, 48)],
  ];
  it.each(shapes)('%s, as text and as bytes', (_, geometry, volume) => {
    const scene = new ThreeMesh(geometry);
    const text = new PLYExporter().parse(scene, () => undefined, {}) as unknown as string;
    expect(massOf(read(bytesOf(text)).mesh).volume / volume).toBeCloseTo(1, 5);
    for (const littleEndian of [true, false]) {
      const bytes = new PLYExporter().parse(scene, () => undefined, { binary: true, littleEndian });
      const { mesh } = read(new Uint8Array(bytes as unknown as ArrayBuffer));
      expect(massOf(mesh).volume / volume).toBeCloseTo(1, 5);
    }
  });
});

describe('refuses', () => {
  const edit = (from: string | RegExp, to: string): Uint8Array => bytesOf(CUBE.replace(from, to));
  it.each([
    ['a header without an end', bytesOf(HEADER.slice(0, 90)), 'ply/cut-short', /no "end_header"/],
    ['text that is cut short', bytesOf(CUBE.slice(0, -20)), 'ply/cut-short', /ends before/],
    [
      'bytes that are cut short',
      cubeBytes(true).slice(0, -3),
      'ply/cut-short',
      /bytes ends before/,
    ],
    [
      'more vertices than bytes',
      edit('vertex 8', 'vertex 4000000000'),
      'ply/cut-short',
      /4000000000/,
    ],
    ['an unknown format', edit('ascii 1.0', 'ascii 2.0'), 'ply/syntax', /"ascii 2.0" is none of/],
    ['no format', edit('format ascii 1.0\n', ''), 'ply/syntax', /states no format/],
    ['an unknown type', edit('float32 x', 'real x'), 'ply/syntax', /line 6: "real" is no type/],
    [
      'vertices without z',
      edit('property float32 z\n', ''),
      'ply/syntax',
      /exactly 1 property "z"/,
    ],
    ['an unknown line', edit('comment made', 'remark made'), 'ply/syntax', /line 3: "remark"/],
    ['a word for a number', edit('1 1 1', '1 one 1'), 'ply/syntax', /line 18: .*"one"/],
    ['NaN', edit('1 1 1', '1 nan 1'), 'ply/not-finite', /vertex 7 of 8: y is NaN/],
    ['two corners', edit('4 0 1 2 3', '2 0 1'), 'ply/corners', /face 1 of 6 has 2 corners/],
    ['a negative corner', edit('4 0 1 2 3', '4 0 1 2 -3'), 'ply/index', /vertex number -3/],
    [
      'a corner that is not there',
      edit('4 0 1 2 3', '4 0 1 2 8'),
      'ply/index',
      /8; the file has 8/,
    ],
    [
      'a face that crosses itself',
      edit('4 0 1 2 3', '4 0 2 1 3'),
      'ply/face-crosses',
      /face 1 of 6/,
    ],
    [
      'a cloud of points',
      bytesOf(HEADER.replace('face 6', 'face 0') + VERTICES),
      'ply/no-faces',
      /8 vertices and 0 faces/,
    ],
    [
      'five sides of a cube',
      bytesOf(CUBE.replace('face 6', 'face 5')),
      'mesh/open-edges',
      /4 open/,
    ],
  ])('%s', (_, bytes, code, message) => {
    const fault = refused(bytes);
    expect([fault.code, fault.message]).toEqual([code, expect.stringMatching(message) as string]);
    expect(fault.message).not.toContain('\n');
  });
});
