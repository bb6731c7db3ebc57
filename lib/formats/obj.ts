/**
 * Reader of OBJ files, facets in file order. Read are vertices (v) and faces (f) of three or more
 * corners; indices count from 1, negative ones back from the last vertex. Texture, normal, group and
 * material words and colours after the coordinates are passed over; free-form curves and surfaces are
 * refused, because leaving them out would lose part of the shape.
 */
import { Fault } from '../base/fault.js';
import { float64List, uint32List } from '../base/ragged.js';
import { type Vec3, cross, dot, length, pointAt, square, sub, unit } from '../base/vector.js';
import { earTriangles } from '../mesh/repair/ears.js';
import { Scanner, shown } from './text-scanner.js';
import type { Facets } from '../mesh/repair/weld.js';

const PASSED_OVER = new Set(
  (
    'vt vn vp g o s mg l p usemtl mtllib usemap maplib bevel c_interp d_interp lod ' +
    'shadow_obj trace_obj'
  ).split(' '),
);
const FREE_FORM = new Set(
  (
    'cstype deg bmat step curv curv2 surf parm trim hole scrv sp end con call csh ctech stech ' +
    'cdc bzp bsp cdp res'
  ).split(' '),
);

/** Greatest number of corners of one face; cutting it up takes time with its square. */
const CORNERS = 5000;

/** Whether the first word of text in the file is one of an OBJ file. */
export function looksLikeObj(bytes: Uint8Array): boolean {
  const scan = new Scanner(bytes, true);
  while (scan.skip(true) >= 0) {
    const word = scan.word();
    if (!word.startsWith('#')) {
      return word === 'v' || word === 'f' || PASSED_OVER.has(word) || FREE_FORM.has(word);
    }
    scan.nextLine();
  }
  return false;
}

/**
 * @throws Fault `obj/syntax`, `obj/index`, `obj/corners`, `obj/not-finite`, `obj/free-form`,
 *   `obj/face-crosses`
 */
export function readObj(bytes: Uint8Array): Facets {
  const scan = new Scanner(bytes, true);
  const vertices = float64List(3 * Math.ceil(bytes.length / 100));
  const corners = uint32List();
  const starts = uint32List();
  const lines = uint32List();
  while (scan.skip(true) >= 0) {
    const word = scan.word();
    if (word === 'v') readVertex(scan, vertices);
    else if (word === 'f') {
      starts.push(corners.length);
      lines.push(scan.line);
      readFace(scan, corners, vertices.length / 3);
    } else if (FREE_FORM.has(word)) {
      throw scan.fault('obj/free-form', `"${word}" is free-form geometry; only facets are read`);
    } else if (!word.startsWith('#') && !PASSED_OVER.has(word)) {
      throw scan.fault('obj/syntax', `${shown(word)} begins no statement of an OBJ file`);
    }
    passLine(scan);
  }
  starts.push(corners.length);
  return facetsOf(vertices.take(), corners.take(), starts.take(), lines.take());
}

/** To the next line, over line ends that a backslash joins. */
function passLine(scan: Scanner): void {
  for (let c = scan.skip(false); c >= 0 && c !== 10; c = scan.skip(false)) {
    if (c === 35) break;
    if (scan.word() === '') scan.at++;
  }
  scan.nextLine();
}

function readVertex(scan: Scanner, vertices: ReturnType<typeof float64List>): void {
  for (let c = 0; c < 3; c++) {
    const x = scan.number();
    if (Number.isFinite(x)) {
      vertices.push(x);
      continue;
    }
    if (!Number.isNaN(x)) throw scan.fault('obj/not-finite', 'a coordinate is beyond 1e308');
    const word = scan.word();
    const code = /^[+-]?(nan|inf)/.test(word) ? 'obj/not-finite' : 'obj/syntax';
    throw scan.fault(code, `expected a finite coordinate, found ${shown(word)}`);
  }
}

/** Vertex numbers from 0; those beyond the file's last vertex are found at the end. */
function readFace(scan: Scanner, corners: ReturnType<typeof uint32List>, count: number): void {
  const from = corners.length;
  for (let c = scan.skip(false); c >= 0 && c !== 10 && c !== 35; c = scan.skip(false)) {
    const word = scan.word();
    const match = /^([+-]?\d{1,10})(\/([+-]?\d+)?(\/([+-]?\d+)?)?)?$/.exec(word);
    if (!match) throw scan.fault('obj/syntax', `expected a vertex number, found ${shown(word)}`);
    const index = Number(match[1]);
    const vertex = index < 0 ? count + index : index - 1;
    if (index === 0 || vertex < 0 || vertex > 0xfffffffe) {
      throw scan.fault(
        'obj/index',
        `vertex number ${index}; numbers count from 1, and negative ones reach back to -${count} here`,
      );
    }
    corners.push(vertex);
  }
  const n = corners.length - from;
  if (n < 3) throw scan.fault('obj/corners', `a face has ${n} corners; the least is 3`);
  if (n > CORNERS)
    throw scan.fault('obj/corners', `a face has ${n} corners; the limit is ${CORNERS}`);
}

function facetsOf(
  vertices: Float64Array,
  corners: Uint32Array,
  starts: Uint32Array,
  lines: Uint32Array,
): Facets {
  const count = vertices.length / 3;
  const triangles = uint32List(corners.length);
  for (let f = 0; f < lines.length; f++) {
    const face = corners.subarray(starts[f], starts[f + 1]);
    for (const v of face) {
      if (v < count) continue;
      const message = `line ${lines[f]!}: vertex number ${v + 1}; the file has ${count} vertices`;
      throw new Fault('obj/index', message, { line: lines[f]! });
    }
    if (face.length === 3) triangles.append(face);
    else triangles.append(cutFace(vertices, face, lines[f]!));
  }
  return { vertices, triangles: triangles.take() };
}

/** A face of more than three corners as triangles, cut in its mean plane. */
function cutFace(vertices: Float64Array, face: Uint32Array, line: number): Uint32Array {
  const corners = face.filter((v, i) => v !== face[(i + 1) % face.length]);
  if (corners.length < 3) return new Uint32Array(0);
  const origin = pointAt(vertices, corners[0]!);
  let normal: Vec3 = [0, 0, 0];
  for (let i = 1; i + 1 < corners.length; i++) {
    const n = cross(
      sub(pointAt(vertices, corners[i]!), origin),
      sub(pointAt(vertices, corners[i + 1]!), origin),
    );
    normal = [normal[0] + n[0], normal[1] + n[1], normal[2] + n[2]];
  }
  const axis = unit(normal);
  const x = square(axis);
  const y = cross(axis, x);
  const flat = new Float64Array(2 * corners.length);
  corners.forEach((v, i) => {
    const p = sub(pointAt(vertices, v), origin);
    flat[2 * i] = dot(p, x);
    flat[2 * i + 1] = dot(p, y);
  });
  const cut = length(normal) > 0 ? earTriangles(flat) : undefined;
  if (!cut) {
    const message = `line ${line}: a face of ${corners.length} corners crosses itself or has no area`;
    throw new Fault('obj/face-crosses', message, { line });
  }
  return cut.map((i) => corners[i]!);
}
