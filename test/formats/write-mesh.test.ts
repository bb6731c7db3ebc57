/** What is written is valid by the formats' rules and reads back as the same part. */
import { unzipSync } from 'fflate';
import { describe, expect, it } from 'vitest';
import { bounds, massOf } from '../../lib/mesh/measure.js';
import type { Mesh } from '../../lib/mesh/mesh.js';
import { writeStl, writeThreeMf } from '../../lib/formats/write-mesh.js';
import { meshFrom, scaled } from '../../lib/mesh/build.js';
import { cuboid, hollowSphere, torus } from '../support/shapes.js';
import { bunny69k, gearwheel } from '../support/open-meshes.js';
import { read } from './reading.js';

const parts: [string, () => Mesh][] = [
  ['cuboid', () => cuboid([20, 30, 40])],
  ['hollow sphere', () => hollowSphere(10, 8, 32)],
  ['torus of thirds of a millimetre', () => scaled(torus(20, 5, 36, 18), 1 / 3)],
  ['gearwheel', gearwheel],
  ['bunny', bunny69k],
];

describe.each(parts)('%s', (_, make) => {
  const mesh = make();

  it('STL: 84 + 50 n bytes, normals of length 1 along the facets, float32 vertices', () => {
    const bytes = writeStl(mesh);
    const count = mesh.triangles.length / 3;
    expect(bytes.length).toBe(84 + 50 * count);
    const part = read(bytes);
    expect(part.format).toBe('stl-binary');
    // No finding: stated normals agree with the order of the vertices.
    expect(part.healed).toEqual([]);
    expect(part.mesh.triangles.length).toBe(mesh.triangles.length);
    expect(part.mesh.twins.includes(-1)).toBe(false);
    expect(massOf(part.mesh).volume / massOf(mesh).volume).toBeCloseTo(1, 5);
  });

  it('3MF: the same vertices bit for bit, the same triangles, no finding', () => {
    const part = read(writeThreeMf([{ name: 'part', mesh }]));
    expect(part.format).toBe('3mf');
    expect(part.healed).toEqual([]);
    expect(massOf(part.mesh).volume).toBeCloseTo(massOf(mesh).volume, 9);
    expect(bounds(part.mesh)).toEqual(bounds(mesh));
    expect(part.mesh.triangles.length).toBe(mesh.triangles.length);
  });
});

describe('3MF', () => {
  it('holds several objects, each with its name and one item, in order', () => {
    const names = ['region-1', 'a & "b" <c>', 'tap\u0000\ud800', 'ü'];
    const meshes = names.map((name, i) => ({ name, mesh: cuboid([10, 10, 10], [20 * i, 0, 0]) }));
    const bytes = writeThreeMf(meshes);
    expect(massOf(read(bytes).mesh).volume).toBeCloseTo(4000, 9);
    const xml = new TextDecoder().decode(unzipSync(bytes)['3D/3dmodel.model']);
    expect(
      [...xml.matchAll(/<object id="(\d)" type="model" name="([^"]*)">/g)].map((m) => [m[1], m[2]]),
    ).toEqual([
      ['1', 'region-1'],
      ['2', 'a &amp; &quot;b&quot; &lt;c&gt;'],
      ['3', 'tap??'],
      ['4', 'ü'],
    ]);
    expect([...xml.matchAll(/<item objectid="(\d)"\/>/g)].map((m) => m[1])).toEqual([
      '1',
      '2',
      '3',
      '4',
    ]);
  });

  it('names the start part and its content type as appendix C says', () => {
    const files = unzipSync(writeThreeMf([{ name: 'a', mesh: cuboid([1, 2, 3]) }]));
    const text = (name: string): string => new TextDecoder().decode(files[name]);
    expect(text('_rels/.rels')).toContain(
      'Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"',
    );
    expect(text('[Content_Types].xml')).toContain(
      'application/vnd.ms-package.3dmanufacturing-3dmodel+xml',
    );
    expect(text('3D/3dmodel.model')).toContain(
      'xmlns="http://schemas.microsoft.com/3dmanufacturing/core/2015/02"',
    );
    expect(text('3D/3dmodel.model')).toContain('unit="millimeter"');
  });

  it('gives the same bytes each time', () => {
    const part = [{ name: 'a', mesh: gearwheel() }];
    expect(writeThreeMf(part)).toEqual(writeThreeMf(part));
  });

  it('does not write an open mesh', () => {
    const box = cuboid([1, 2, 3]);
    expect(() =>
      writeThreeMf([{ name: 'lid', mesh: meshFrom(box.vertices, box.triangles.slice(3)) }]),
    ).toThrow(/"lid" is not closed/);
  });
});
