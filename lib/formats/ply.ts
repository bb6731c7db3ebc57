/**
 * Reader of PLY files, as text or as bytes of either order: the vertices' x, y and z, faces as lists of
 * vertex numbers, and strips of triangles, in which -1 begins a new one. All other elements and
 * properties are passed over. An own reader: the format is a page long, and the published readers bring
 * a framework with them or read past the end of a file that is cut short.
 */
import { Fault } from '../base/fault.js';
import { type List, uint32List } from '../base/ragged.js';
import type { Facets } from '../mesh/repair/weld.js';
import { FACE_CORNERS, cutFace } from './cut-face.js';
import { type PlyElement, type PlyHeader, type PlyType, readPlyHeader } from './ply-header.js';
import { Scanner, shown } from './text-scanner.js';

/** The values of the data one after the other. */
interface PlyValues {
  next(type: PlyType): number;
  /** Where the last value stands, for messages. */
  readonly where: string;
}

/**
 * @throws Fault `ply/syntax`, `ply/cut-short`, `ply/not-finite`, `ply/index`, `ply/corners`,
 *   `ply/face-crosses`, `ply/no-faces`
 */
export function readPly(bytes: Uint8Array): Facets {
  const header = readPlyHeader(bytes);
  const values: PlyValues =
    header.format === 'ascii' ? new TextValues(bytes, header) : new ByteValues(bytes, header);
  let vertices: Float64Array = new Float64Array(0);
  const faces = uint32List();
  const starts = uint32List();
  const triangles = uint32List();
  for (const element of header.elements) {
    if (element.name === 'vertex') vertices = readVertices(element, values, bytes.length);
    else if (element.name === 'face') readFaces(element, values, faces, starts);
    else if (element.name === 'tristrips') readStrips(element, values, triangles);
    else passOver(element, values);
  }
  starts.push(faces.length);
  cutFaces(vertices, faces.take(), starts.take(), triangles);
  const out = triangles.take();
  const count = vertices.length / 3;
  if (out.length === 0) {
    const message = `the file has ${count} vertices and 0 faces: a cloud of points; a surface is asked for`;
    throw new Fault('ply/no-faces', message);
  }
  const beyond = out.findIndex((v) => v >= count);
  if (beyond >= 0) {
    const message = `triangle ${Math.floor(beyond / 3) + 1}: vertex number ${out[beyond]!}; the file has ${count} vertices, counted from 0`;
    throw new Fault('ply/index', message);
  }
  return { vertices, triangles: out };
}

/** Number of elements to read: one without properties has no data, however many there are. */
const elementsOf = ({ properties, count }: PlyElement): number =>
  properties.length > 0 ? count : 0;

function readVertices(element: PlyElement, values: PlyValues, size: number): Float64Array {
  const { properties, count } = element;
  const axes = properties.map((p) => (p.count ? -1 : ['x', 'y', 'z'].indexOf(p.name)));
  for (const [c, name] of ['x', 'y', 'z'].entries()) {
    if (axes.filter((a) => a === c).length === 1) continue;
    throw new Fault('ply/syntax', `the vertices must have exactly 1 property "${name}"`);
  }
  // A vertex takes three bytes at least; a greater number is false, found before memory is allocated.
  if (count > size / 3) {
    const message = `the header says ${count} vertices, more than the ${size} bytes of the file can hold`;
    throw new Fault('ply/cut-short', message);
  }
  const out = new Float64Array(3 * count);
  for (let i = 0; i < elementsOf(element); i++) {
    properties.forEach((property, k) => {
      if (property.count) return passList(property.type, property.count, values);
      const value = values.next(property.type);
      const axis = axes[k]!;
      if (axis < 0) return;
      if (!Number.isFinite(value)) {
        const message = `vertex ${i + 1} of ${count}: ${property.name} is ${value}, not a finite number`;
        throw new Fault('ply/not-finite', message);
      }
      out[3 * i + axis] = value;
    });
  }
  return out;
}

const CORNER_LISTS = ['vertex_indices', 'vertex_index'];

function readFaces(
  element: PlyElement,
  values: PlyValues,
  faces: List<Uint32Array>,
  starts: List<Uint32Array>,
): void {
  for (let f = 0; f < elementsOf(element); f++) {
    for (const { name, type, count } of element.properties) {
      if (!count) values.next(type);
      else if (!CORNER_LISTS.includes(name)) passList(type, count, values);
      else {
        starts.push(faces.length);
        const n = lengthOf(count, values);
        if (n < 3 || n > FACE_CORNERS) {
          const message = `face ${f + 1} of ${element.count} has ${n} corners; from 3 to ${FACE_CORNERS} are read`;
          throw new Fault('ply/corners', message);
        }
        for (let i = 0; i < n; i++) faces.push(vertexNumber(type, values));
      }
    }
  }
}

/** Every second triangle of a strip is turned, so that all face one side. */
function readStrips(element: PlyElement, values: PlyValues, triangles: List<Uint32Array>): void {
  for (let left = elementsOf(element); left > 0; left--) {
    for (const { name, type, count } of element.properties) {
      if (!count) values.next(type);
      else if (!CORNER_LISTS.includes(name)) passList(type, count, values);
      else {
        let [a, b, place] = [0, 0, 0];
        for (let n = lengthOf(count, values); n > 0; n--) {
          const c = vertexNumber(type, values, -1);
          if (c === -1) place = 0;
          else {
            if (place >= 2) triangles.append(place % 2 === 0 ? [a, b, c] : [b, a, c]);
            [a, b] = [b, c];
            place++;
          }
        }
      }
    }
  }
}

function cutFaces(
  vertices: Float64Array,
  faces: Uint32Array,
  starts: Uint32Array,
  triangles: List<Uint32Array>,
): void {
  const count = vertices.length / 3;
  for (let f = 0; f + 1 < starts.length; f++) {
    const face = faces.subarray(starts[f], starts[f + 1]);
    // Numbers beyond the vertices are found with all the others.
    if (face.length === 3 || face.some((v) => v >= count)) {
      triangles.append(face.subarray(0, 3));
      if (face.length > 3) triangles.append(face.subarray(-3));
      continue;
    }
    const cut = cutFace(vertices, face);
    if (!cut) {
      const message = `face ${f + 1} of ${starts.length - 1}: its ${face.length} corners cross themselves or have no area`;
      throw new Fault('ply/face-crosses', message);
    }
    triangles.append(cut);
  }
}

function passOver(element: PlyElement, values: PlyValues): void {
  for (let left = elementsOf(element); left > 0; left--) {
    for (const { type, count } of element.properties) {
      if (count) passList(type, count, values);
      else values.next(type);
    }
  }
}

function passList(type: PlyType, count: PlyType, values: PlyValues): void {
  for (let n = lengthOf(count, values); n > 0; n--) values.next(type);
}

function lengthOf(type: PlyType, values: PlyValues): number {
  const n = values.next(type);
  if (Number.isInteger(n) && n >= 0 && n <= 0xffffffff) return n;
  throw new Fault('ply/syntax', `${values.where}: the length of a list is ${n}`);
}

/** @param least -1 where that has a meaning */
function vertexNumber(type: PlyType, values: PlyValues, least = 0): number {
  const v = values.next(type);
  if (Number.isInteger(v) && v >= least && v <= 0xfffffffe) return v;
  throw new Fault(
    'ply/index',
    `${values.where}: vertex number ${v}; whole numbers from 0 are asked for`,
  );
}

class TextValues implements PlyValues {
  readonly #scan: Scanner;

  constructor(bytes: Uint8Array, { end, line }: PlyHeader) {
    this.#scan = new Scanner(bytes);
    this.#scan.at = end;
    this.#scan.line = line;
  }

  get where(): string {
    return `line ${this.#scan.line}`;
  }

  next(): number {
    const scan = this.#scan;
    if (scan.skip(true) < 0) {
      throw new Fault('ply/cut-short', `line ${scan.line}: the file ends before its last element`);
    }
    const value = scan.number();
    if (!Number.isNaN(value)) return value;
    const word = scan.word();
    const named = /^([+-]?)(nan|inf(?:inity)?)$/.exec(word);
    if (!named) throw scan.fault('ply/syntax', `expected a number, found ${shown(word)}`);
    if (named[2] === 'nan') return NaN;
    return named[1] === '-' ? -Infinity : Infinity;
  }
}

const BYTES: Readonly<Record<PlyType, number>> = {
  int8: 1,
  uint8: 1,
  int16: 2,
  uint16: 2,
  int32: 4,
  uint32: 4,
  float32: 4,
  float64: 8,
};

class ByteValues implements PlyValues {
  readonly #view: DataView;
  readonly #little: boolean;
  #at: number;

  constructor(bytes: Uint8Array, { end, format }: PlyHeader) {
    this.#view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
    this.#little = format === 'little-endian';
    this.#at = end;
  }

  get where(): string {
    return `byte ${this.#at}`;
  }

  next(type: PlyType): number {
    const at = this.#at;
    if (at + BYTES[type] > this.#view.byteLength) {
      const message = `the file of ${this.#view.byteLength} bytes ends before its last element`;
      throw new Fault('ply/cut-short', message);
    }
    this.#at += BYTES[type];
    return this.#read(type, at);
  }

  #read(type: PlyType, at: number): number {
    const view = this.#view;
    switch (type) {
      case 'int8':
        return view.getInt8(at);
      case 'uint8':
        return view.getUint8(at);
      case 'int16':
        return view.getInt16(at, this.#little);
      case 'uint16':
        return view.getUint16(at, this.#little);
      case 'int32':
        return view.getInt32(at, this.#little);
      case 'uint32':
        return view.getUint32(at, this.#little);
      case 'float32':
        return view.getFloat32(at, this.#little);
      case 'float64':
        return view.getFloat64(at, this.#little);
    }
  }
}
