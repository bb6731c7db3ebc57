/**
 * STL files accepted and refused. The format: 80-byte header, 32-bit count, 50 bytes a facet,
 * little-endian, vertices counter-clockwise (course page at rpdrc.ic.polyu.edu.hk; the kaitai
 * description stl.ksy); volumes are closed forms.
 */
import { describe, expect, it } from 'vitest';
import { bounds, massOf } from '../../lib/mesh/measure.js';
import {
  type Facet,
  TETRAHEDRON,
  asciiStl,
  binaryStl,
  boxFacets,
  bytesOf,
  turnedFacets,
} from './files.js';
import { codes, read, refused } from './reading.js';

const CUBE = boxFacets([0, 0, 0], [10, 10, 10]);
const text = (facets: readonly Facet[]): string => new TextDecoder().decode(asciiStl(facets));

describe('binary', () => {
  it('reads a cube of 12 facets from 684 bytes: 8 vertices, 1000 mm3', () => {
    const bytes = binaryStl(CUBE);
    expect(bytes.length).toBe(684);
    const part = read(bytes);
    expect(part.format).toBe('stl-binary');
    expect(part.mesh.triangles.length / 3).toBe(12);
    expect(part.mesh.vertices.length / 3).toBe(8);
    expect(massOf(part.mesh).volume).toBeCloseTo(1000, 9);
  });

  it('is known by its size though the header begins with "solid"', () => {
    expect(read(binaryStl(CUBE, 'solid hose clip')).format).toBe('stl-binary');
  });

  it('reads vertices little-endian and in order', () => {
    const part = read(
      binaryStl(
        TETRAHEDRON.map((f) => f.map(([x, y, z]) => [x + 2, y * 3, z - 7]) as unknown as Facet),
      ),
    );
    expect(bounds(part.mesh)).toEqual({ least: [2, 0, -7], most: [3, 3, -6] });
  });

  it('reads from the middle of a larger buffer', () => {
    const bytes = binaryStl(CUBE);
    const buffer = new Uint8Array(bytes.length + 13);
    buffer.set(bytes, 13);
    expect(massOf(read(buffer.subarray(13)).mesh).volume).toBeCloseTo(1000, 9);
  });

  it.each([
    [
      'more facets stated than there are',
      binaryStl(CUBE, '', 13),
      'stl/wrong-size',
      /13 facets.*734 bytes.*684 bytes/,
    ],
    ['fewer facets stated', binaryStl(CUBE, '', 11), 'stl/wrong-size', /11 facets/],
    ['cut short within a facet', binaryStl(CUBE).subarray(0, 500), 'stl/wrong-size', /500 bytes/],
    [
      'cut short within the header',
      binaryStl(CUBE).subarray(0, 40),
      'mesh/unknown-format',
      /40 bytes/,
    ],
    ['no facets', binaryStl([]), 'mesh/no-facets', /0 facets/],
    [
      'NaN',
      binaryStl([
        ...CUBE.slice(1),
        [
          [NaN, 0, 0],
          [1, 0, 0],
          [0, 1, 0],
        ],
      ]),
      'stl/not-finite',
      /facet 12 of 12.*NaN/,
    ],
    [
      'infinity',
      binaryStl([
        ...CUBE.slice(1),
        [
          [0, -Infinity, 0],
          [1, 0, 0],
          [0, 1, 0],
        ],
      ]),
      'stl/not-finite',
      /-Infinity/,
    ],
    [
      'a coordinate beyond 1 km',
      binaryStl(boxFacets([0, 0, 0], [1e7, 1, 1])),
      'mesh/too-far',
      /10000000 mm.*1000000 mm/,
    ],
    [
      'a missing facet of a cube',
      binaryStl(CUBE.slice(1)),
      'mesh/open-edges',
      /3 open edges in 1 hole.*limit/,
    ],
    [
      'a facet turned over',
      binaryStl([...CUBE.slice(1), ...turnedFacets(CUBE.slice(0, 1))]),
      'mesh/flipped-facet',
      /3 edges/,
    ],
    ['no bytes', new Uint8Array(0), 'mesh/empty-file', /0 bytes/],
    [
      'noise',
      Uint8Array.from({ length: 300 }, (_, i) => (i * 7919) % 256),
      'stl/wrong-size',
      /300 bytes/,
    ],
  ])('refuses %s', (_, bytes, code, message) => {
    const fault = refused(bytes);
    expect(fault.code).toBe(code);
    expect(fault.message).toMatch(message);
    expect(fault.message).not.toContain('\n');
    expect(fault.at?.file).toBe('part');
  });

  it('turns a cube of negative volume and says so; refuses it where healing is off', () => {
    const part = read(binaryStl(turnedFacets(CUBE)));
    expect(massOf(part.mesh).volume).toBeCloseTo(1000, 9);
    expect(codes(part)).toEqual(['stl/normal-missing', 'mesh/inside-out']);
    expect(refused(binaryStl(turnedFacets(CUBE)), { heal: false }).code).toBe('mesh/inside-out');
  });

  it('scales by the unit: a cube of 10 inches is 254 mm wide', () => {
    expect(bounds(read(binaryStl(CUBE), { unit: 'inch' }).mesh).most[0]).toBeCloseTo(254, 9);
  });
});

describe('ASCII', () => {
  it('reads any case, leading blanks, exponents, Windows line ends, a byte order mark', () => {
    const odd = `\ufeff  ${text(TETRAHEDRON).toUpperCase().replace(/\n/g, '\r\n').replace(/ 1/g, ' +1.0E+00')}`;
    const part = read(bytesOf(odd));
    expect(part.format).toBe('stl-ascii');
    expect(massOf(part.mesh).volume).toBeCloseTo(1 / 6, 12);
  });

  it('reads several solids of one file as one part', () => {
    const two = text(CUBE) + text(boxFacets([20, 0, 0], [1, 2, 3]));
    expect(massOf(read(bytesOf(two)).mesh).volume).toBeCloseTo(1006, 9);
  });

  it.each([
    '0.1',
    '-1.5e-3',
    '123456.789',
    '1e-7',
    '.5',
    '5.',
    '0.30000000000000004',
    '9007199254740993',
    '1.7976931348623157e2',
    '4.9e-5',
  ])('reads %s as the nearest float64 (ECMA-262 Number)', (word) => {
    const far = text(TETRAHEDRON).replaceAll(
      /vertex (\S+)/g,
      (_, x: string) => `vertex ${x === '0' ? word : `${Number(word) + 1000}`}`,
    );
    if (Math.abs(Number(word)) > 1e6) expect(refused(bytesOf(far)).code).toBe('mesh/too-far');
    else expect(bounds(read(bytesOf(far)).mesh).least[0]).toBe(Number(word));
  });

  const edit = (from: string | RegExp, to: string): Uint8Array =>
    bytesOf(text(TETRAHEDRON).replace(from, to));
  it.each([
    ['no endsolid', edit(/endsolid.*/, ''), 'stl/no-end', /line 31/],
    ['an end within a facet', edit(/endloop[^]*$/, ''), 'stl/no-end', /cut short/],
    ['a wrong word', edit('outer loop', 'inner loop'), 'stl/syntax', /line 3.*"outer".*"inner"/],
    ['a word that goes on', edit('endloop', 'endloops'), 'stl/syntax', /line 7/],
    [
      'two coordinates',
      edit(/vertex (\S+) (\S+) \S+/, 'vertex $1 $2'),
      'stl/syntax',
      /line 4.*end of the line/,
    ],
    ['a coordinate that is no number', edit(/vertex 1/, 'vertex 1x'), 'stl/syntax', /"1x"/],
    ['a hexadecimal number', edit(/vertex 1/, 'vertex 0x10'), 'stl/syntax', /"0x10"/],
    ['a comma for a point', edit(/vertex 1/, 'vertex 1,5'), 'stl/syntax', /"1,5"/],
    ['NaN', edit(/vertex 1/, 'vertex NaN'), 'stl/not-finite', /"nan"/],
    ['a number beyond float64', edit(/vertex 1/, 'vertex 1e999'), 'stl/not-finite', /1e308/],
    ['a bad normal', edit('normal 0', 'normal up'), 'stl/syntax', /normal must be three numbers/],
    [
      'four vertices',
      edit('  vertex', '  vertex 9 9 9\n  vertex'),
      'stl/facet-vertices',
      /4 vertices.*must have 3/,
    ],
  ])('refuses %s', (_, bytes, code, message) => {
    const fault = refused(bytes);
    expect([fault.code, fault.message]).toEqual([code, expect.stringMatching(message) as string]);
    expect(fault.at?.line).toBeGreaterThan(0);
  });
});
