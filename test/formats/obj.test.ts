/**
 * OBJ files accepted and refused. Faces count from 1, have three entries or more, and negative numbers
 * are relative to the last vertex (PRONOM fmt/2020; the format page at cs.wayne.edu). Volumes are closed
 * forms.
 */
import { describe, expect, it } from 'vitest';
import { massOf } from '../../lib/mesh/measure.js';
import { type Point, boxFacets, bytesOf, objText } from './files.js';
import { read, refused } from './reading.js';

/** A box of 2 x 3 x 4 as six quads. */
const corners: Point[] = [
  [0, 0, 0],
  [2, 0, 0],
  [2, 3, 0],
  [0, 3, 0],
  [0, 0, 4],
  [2, 0, 4],
  [2, 3, 4],
  [0, 3, 4],
];
const quads = [
  [4, 3, 2, 1],
  [5, 6, 7, 8],
  [1, 2, 6, 5],
  [2, 3, 7, 6],
  [3, 4, 8, 7],
  [4, 1, 5, 8],
];
const v = corners.map((p) => `v ${p.join(' ')}`).join('\n');
const faces = (write: (i: number) => string): string =>
  quads.map((q) => `f ${q.map(write).join(' ')}`).join('\n');
const volume = (text: string): number => massOf(read(bytesOf(text)).mesh).volume;

describe('accepts', () => {
  it.each([
    ['numbers alone', `${v}\n${faces(String)}`],
    ['texture and normal numbers', `${v}\nvt 0 0\nvn 0 0 1\n${faces((i) => `${i}/1/1`)}`],
    ['normal numbers alone', `${v}\nvn 0 0 1\n${faces((i) => `${i}//1`)}`],
    ['texture numbers alone', `${v}\nvt 0 0\n${faces((i) => `${i}/1`)}`],
    ['negative numbers', `${v}\n${faces((i) => String(i - 9))}`],
    ['faces before their vertices', `${faces(String)}\n${v}`],
    ['colours after the coordinates', `${v.replaceAll('\n', ' 0.5 0.5 0.5\n')}\n${faces(String)}`],
    [
      'comments, groups, materials, blank lines',
      `# box\nmtllib a.mtl\no box\n\n${v}\ng side\nusemtl x\ns 1\n${faces(String)} # end`,
    ],
    ['Windows line ends', `${v}\n${faces(String)}`.replaceAll('\n', '\r\n')],
    [
      'a line joined by a backslash',
      `${v}\n${faces(String)}`.replace('f 4 3', 'f 4 \\\n3').replace('v 2 0 0', 'v 2 \\\r\n0 0'),
    ],
    ['vertices of their own for each face', objText(boxFacets([0, 0, 0], [2, 3, 4]))],
  ])('%s', (_, text) => {
    const part = read(bytesOf(text));
    expect(part.format).toBe('obj');
    expect(massOf(part.mesh).volume).toBeCloseTo(24, 9);
  });

  it('a face that is not convex: an L of area 3 extruded by 1', () => {
    const l: [number, number][] = [
      [0, 0],
      [2, 0],
      [2, 1],
      [1, 1],
      [1, 2],
      [0, 2],
    ];
    const low = l.map(([x, y]) => `v ${x} ${y} 0`).join('\n');
    const high = l.map(([x, y]) => `v ${x} ${y} 1`).join('\n');
    const sides = l.map((_, i) => `f ${i + 1} ${((i + 1) % 6) + 1} ${((i + 1) % 6) + 7} ${i + 7}`);
    expect(
      volume(`${low}\n${high}\nf 6 5 4 3 2 1\nf 7 8 9 10 11 12\n${sides.join('\n')}`),
    ).toBeCloseTo(3, 9);
  });

  it('a face with points on its straight sides, none left out: 12 points around a square', () => {
    const ring: [number, number][] = Array.from({ length: 12 }, (_, i) => {
      const [side, k] = [Math.floor(i / 3), i % 3];
      return [
        [k, 0],
        [3, k],
        [3 - k, 3],
        [0, 3 - k],
      ][side] as [number, number];
    });
    const text = [0, 1].flatMap((z) => ring.map(([x, y]) => `v ${x} ${y} ${z}`)).join('\n');
    const top = ring.map((_, i) => 13 + i).join(' ');
    const bottom = ring.map((_, i) => 12 - i).join(' ');
    const sides = ring.map(
      (_, i) => `f ${i + 1} ${((i + 1) % 12) + 1} ${((i + 1) % 12) + 13} ${i + 13}`,
    );
    expect(volume(`${text}\nf ${top}\nf ${bottom}\n${sides.join('\n')}`)).toBeCloseTo(9, 9);
  });
});

describe('refuses', () => {
  it.each([
    ['number 0', `${v}\nf 0 1 2`, 'obj/index', /line 9.*number 0/],
    [
      'a number beyond the last vertex',
      `${v}\n${faces(String)}\nf 1 2 9`,
      'obj/index',
      /line 15.*number 9.*8 vertices/,
    ],
    ['a negative number before the first vertex', `${v}\nf -1 -2 -9`, 'obj/index', /-9.*-8/],
    ['two corners', `${v}\nf 1 2`, 'obj/corners', /2 corners.*least is 3/],
    ['no corner', `${v}\nf`, 'obj/corners', /0 corners/],
    ['a corner that is no number', `${v}\nf 1 2 x`, 'obj/syntax', /"x"/],
    ['a fraction for a corner', `${v}\nf 1 2 3.5`, 'obj/syntax', /"3.5"/],
    ['NaN', `v 0 0 NaN\n${v}\nf 1 2 3`, 'obj/not-finite', /line 1/],
    ['infinity', `v 0 0 -inf\n${v}\nf 1 2 3`, 'obj/not-finite', /-inf/],
    ['two coordinates', `v 0 0\n${v}\nf 1 2 3`, 'obj/syntax', /line 1.*end of the line/],
    [
      'a free-form surface',
      `${v}\n${faces(String)}\ncstype bezier`,
      'obj/free-form',
      /line 15.*"cstype"/,
    ],
    ['an unknown statement', `${v}\nextrude 3`, 'obj/syntax', /line 9.*"extrude"/],
    ['a face that crosses itself', `${v}\nf 1 2 4 3`, 'obj/face-crosses', /line 9.*4 corners/],
    ['vertices without faces', v, 'mesh/no-facets', /0 facets/],
    [
      'an open box',
      `${v}\n${faces(String).split('\n').slice(1).join('\n')}`,
      'mesh/open-edges',
      /4 open edges in 1 hole/,
    ],
  ])('%s', (_, text, code, message) => {
    const fault = refused(bytesOf(text));
    expect([fault.code, fault.message]).toEqual([code, expect.stringMatching(message) as string]);
    expect(fault.message).not.toContain('\n');
  });
});
