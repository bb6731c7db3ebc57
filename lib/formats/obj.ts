/**
 * Reader of OBJ files, facets in file order. Read are vertices (v) and faces (f) of three or more
 * corners; indices count from 1, negative ones back from the last vertex. Texture, normal, group and
 * material words and colours after the coordinates are passed over; free-form curves and surfaces are
 * refused, because leaving them out would lose part of the shape.
 */
import { Fault } from '../base/fault.js';
import { float64List, uint32List } from '../base/ragged.js';
import { FACE_CORNERS, cutFace } from './cut-face.js';
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
  if (n > FACE_CORNERS)
    throw scan.fault('obj/corners', `a face has ${n} corners; the limit is ${FACE_CORNERS}`);
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
    else {
      const cut = cutFace(vertices, face);
      if (!cut) throw crossing(face.length, lines[f]!);
      triangles.append(cut);
    }
  }
  return { vertices, triangles: triangles.take() };
}

function crossing(corners: number, line: number): Fault {
  const message = `line ${line}: a face of ${corners} corners crosses itself or has no area`;
  return new Fault('obj/face-crosses', message, { line });
}
