/**
 * Reader of STL files: loose facets of three vertices each, in file order. Binary: 80 bytes of header,
 * a count n, 50 bytes per facet, little-endian, so that the size is 84 + 50 n. ASCII: the grammar solid
 * / facet normal / outer loop / vertex / endloop / endfacet / endsolid, any case. The order of a
 * facet's vertices says where outside is (counter-clockwise); stated normals are only compared with it,
 * and what is wrong with them is a finding.
 */
import { Fault, type Finding } from '../base/fault.js';
import { float64List } from '../base/ragged.js';
import { Scanner, shown } from './text-scanner.js';
import type { Facets } from '../mesh/repair/weld.js';

export interface StlFile extends Facets {
  readonly findings: Finding[];
}

/** True when the size fits the facet count of a binary file, whatever the header says. */
export function isBinaryStl(bytes: Uint8Array): boolean {
  return bytes.length >= 84 && bytes.length === 84 + 50 * countOf(bytes);
}

function viewOf(bytes: Uint8Array): DataView {
  return new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
}

const countOf = (bytes: Uint8Array): number => viewOf(bytes).getUint32(80, true);

/** @throws Fault `stl/wrong-size`, `stl/not-finite` */
export function readBinaryStl(bytes: Uint8Array): StlFile {
  if (bytes.length < 84) {
    throw new Fault('stl/wrong-size', `binary STL of ${bytes.length} bytes; the least is 84 bytes`);
  }
  const count = countOf(bytes);
  const expected = 84 + 50 * count;
  if (bytes.length !== expected) {
    throw new Fault(
      'stl/wrong-size',
      `binary STL says ${count} facets, which take ${expected} bytes, but has ${bytes.length} bytes`,
    );
  }
  const view = viewOf(bytes);
  const vertices = new Float64Array(9 * count);
  const normals = new NormalCheck();
  for (let t = 0; t < count; t++) {
    const from = 84 + 50 * t;
    for (let i = 0; i < 9; i++) vertices[9 * t + i] = view.getFloat32(from + 12 + 4 * i, true);
    normals.check(
      view.getFloat32(from, true),
      view.getFloat32(from + 4, true),
      view.getFloat32(from + 8, true),
      vertices,
      9 * t,
    );
  }
  const bad = vertices.findIndex((x) => !Number.isFinite(x));
  if (bad >= 0) {
    throw new Fault(
      'stl/not-finite',
      `facet ${Math.floor(bad / 9) + 1} of ${count}: a coordinate is ${vertices[bad]}, not a finite number`,
    );
  }
  return { vertices, triangles: counting(3 * count), findings: normals.findings() };
}

/** @throws Fault `stl/syntax`, `stl/facet-vertices`, `stl/not-finite`, `stl/no-end` */
export function readAsciiStl(bytes: Uint8Array): StlFile {
  const scan = new Scanner(bytes);
  const vertices = float64List(9 * Math.ceil(bytes.length / 250));
  const normals = new NormalCheck();
  const findings: Finding[] = [];
  const facet = new Float64Array(9);
  while (scan.skip(true) >= 0) {
    expect(scan, 'solid');
    const name = scan.rest();
    for (;;) {
      if (scan.skip(true) < 0) {
        throw scan.fault('stl/no-end', 'the file ends before "endsolid"; it is cut short');
      }
      if (scan.accept('endsolid')) break;
      readFacet(scan, facet, normals);
      vertices.append(facet);
    }
    const end = scan.rest();
    if (end !== '' && end !== name) {
      findings.push({
        code: 'stl/name-mismatch',
        severity: 'note',
        message: `line ${scan.line}: "solid" and "endsolid" carry different names; both are ignored`,
        at: scan.place(),
      });
    }
  }
  return {
    vertices: vertices.take(),
    triangles: counting(vertices.length / 3),
    findings: [...findings, ...normals.findings()],
  };
}

function readFacet(scan: Scanner, facet: Float64Array, normals: NormalCheck): void {
  expect(scan, 'facet');
  scan.skip(false);
  expect(scan, 'normal');
  const nx = normalPart(scan);
  const ny = normalPart(scan);
  const nz = normalPart(scan);
  expect(scan, 'outer');
  scan.skip(false);
  expect(scan, 'loop');
  let count = 0;
  while (scan.skip(true) >= 0 && !scan.accept('endloop')) {
    expect(scan, 'vertex');
    for (let c = 0; c < 3; c++) {
      const x = coordinate(scan);
      if (count < 3) facet[3 * count + c] = x;
    }
    count++;
  }
  if (count !== 3) {
    throw scan.fault('stl/facet-vertices', `a facet has ${count} vertices; it must have 3`);
  }
  expect(scan, 'endfacet');
  normals.check(nx, ny, nz, facet, 0);
}

function expect(scan: Scanner, word: string): void {
  if (scan.skip(true) < 0) {
    throw scan.fault('stl/no-end', `the file ends where "${word}" should stand; it is cut short`);
  }
  if (!scan.accept(word)) {
    throw scan.fault('stl/syntax', `expected "${word}", found ${shown(scan.word())}`);
  }
}

function coordinate(scan: Scanner): number {
  const x = scan.number();
  if (Number.isFinite(x)) return x;
  if (!Number.isNaN(x)) throw scan.fault('stl/not-finite', 'a coordinate is beyond 1e308');
  const word = scan.word();
  const code = /^[+-]?(nan|inf)/.test(word) ? 'stl/not-finite' : 'stl/syntax';
  throw scan.fault(code, `expected a finite coordinate, found ${shown(word)}`);
}

/** One number of a normal; NaN when it is missing or not a number, which only makes a finding. */
function normalPart(scan: Scanner): number {
  const c = scan.skip(false);
  if (c < 0 || c === 10) return NaN;
  const x = scan.number();
  if (Number.isNaN(x) && !/^[+-]?nan/.test(scan.word())) {
    throw scan.fault('stl/syntax', 'a normal must be three numbers');
  }
  return x;
}

function counting(length: number): Uint32Array {
  const out = new Uint32Array(length);
  for (let i = 0; i < length; i++) out[i] = i;
  return out;
}

/** Counts what is wrong with stated normals. */
class NormalCheck {
  #facets = 0;
  #missing = 0;
  #against = 0;
  #firstMissing = 0;
  #firstAgainst = 0;

  check(nx: number, ny: number, nz: number, v: Float64Array, o: number): void {
    const facet = ++this.#facets;
    if (!(nx !== 0 || ny !== 0 || nz !== 0) || Number.isNaN(nx + ny + nz)) {
      if (this.#missing++ === 0) this.#firstMissing = facet;
      return;
    }
    const ux = v[o + 3]! - v[o]!;
    const uy = v[o + 4]! - v[o + 1]!;
    const uz = v[o + 5]! - v[o + 2]!;
    const wx = v[o + 6]! - v[o]!;
    const wy = v[o + 7]! - v[o + 1]!;
    const wz = v[o + 8]! - v[o + 2]!;
    const x = uy * wz - uz * wy;
    const y = uz * wx - ux * wz;
    const z = ux * wy - uy * wx;
    const dot = nx * x + ny * y + nz * z;
    // A sliver's normal is noise; half of the right angle is far from it.
    if (dot < -0.5 * Math.hypot(nx, ny, nz) * Math.hypot(x, y, z)) {
      if (this.#against++ === 0) this.#firstAgainst = facet;
    }
  }

  findings(): Finding[] {
    const out: Finding[] = [];
    const of = `of ${this.#facets} facets`;
    if (this.#missing > 0) {
      out.push({
        code: 'stl/normal-missing',
        severity: 'note',
        message: `${this.#missing} ${of} state no usable normal (the first is facet ${this.#firstMissing}); the order of their vertices is used`,
      });
    }
    if (this.#against > 0) {
      out.push({
        code: 'stl/normal-against',
        severity: 'warning',
        message: `${this.#against} ${of} state a normal against the order of their vertices (the first is facet ${this.#firstAgainst}); the order of the vertices is used`,
      });
    }
    return out;
  }
}
