/**
 * 3MF files with extensions. Rules: production extension 1.2 (published text, commit fbc0e0d: chapters 2
 * and 3), slice extension 1.0 (its figure 1-2), beam lattice extension 1.2, materials extension 1.2,
 * core specification 1.4 for units and transforms (3.3). Volumes are closed forms.
 */
import { describe, expect, it } from 'vitest';
import { bounds, massOf } from '../../lib/mesh/measure.js';
import { boxMesh, boxModel, model, threeMf } from './files.js';
import { codes, read, refused } from './reading.js';

type Three = [number, number, number];
const box = (id: number, at: Three, size: Three): string =>
  `<object id="${id}" type="model">${boxMesh(at, size)}</object>`;

describe('the production extension', () => {
  const P =
    'unit="millimeter" xmlns:p="http://schemas.microsoft.com/3dmanufacturing/production/2015/06" requiredextensions="p"';
  const UUID = 'p:UUID="e5d4a2c0-7e1b-4c58-9a53-0d8f5c1a9b01"';
  const clip = model(box(7, [0, 0, 0], [10, 10, 10]), '', P);

  it('reads objects of other parts, named by items and by components', () => {
    const xml = model(
      `<object id="1" ${UUID}><components><component objectid="7" p:path="/3D/clip.model" ${UUID} transform="1 0 0 0 1 0 0 0 1 20 0 0"/></components></object>`,
      `<item objectid="1" ${UUID}/><item objectid="7" p:path="/3D/Clip.model" ${UUID}/>`,
      P,
    );
    const { mesh } = read(threeMf(xml, { more: { '3D/clip.model': clip } }));
    expect(massOf(mesh).volume).toBeCloseTo(2000, 9);
    expect(bounds(mesh).most[0]).toBe(30);
  });

  it('components within another part are followed there', () => {
    const tree = model(
      box(1, [0, 0, 0], [2, 2, 2]) +
        '<object id="2"><components><component objectid="1" transform="1 0 0 0 1 0 0 0 1 5 0 0"/></components></object>',
      // The build of such a part is ignored (chapter 2).
      '<item objectid="1"/>',
      P,
    );
    const xml = model('', `<item objectid="2" p:path="/3D/tree.model" ${UUID}/>`, P);
    const { least, most } = bounds(read(threeMf(xml, { more: { '3D/tree.model': tree } })).mesh);
    expect([least[0], most[0]]).toEqual([5, 7]);
  });

  it('each part states its own unit: 1 inch cube, shifted by 1 cm', () => {
    const inch = model(box(7, [0, 0, 0], [1, 1, 1]), '', P.replace('millimeter', 'inch'));
    const xml = model(
      '',
      '<item objectid="7" p:path="/3D/inch.model" transform="1 0 0 0 1 0 0 0 1 1 0 0"/>',
      P.replace('millimeter', 'centimeter'),
    );
    const { least, most } = bounds(read(threeMf(xml, { more: { '3D/inch.model': inch } })).mesh);
    // 25.4 mm an inch: NIST SP 811, appendix B.
    expect(least[0]).toBeCloseTo(10, 12);
    expect(most[0]).toBeCloseTo(35.4, 12);
  });

  const item = (path: string): string =>
    model('', `<item objectid="7" p:path="${path}" ${UUID}/>`, P);
  it.each([
    ['a part that is not there', item('/3D/hose.model'), '3mf/no-model', /no part "\/3D\/hose/],
    ['an address', item('http://example.org/clip.model'), '3mf/reference', /leads out of/],
    ['a path that climbs out', item('/../../etc/clip.model'), '3mf/reference', /leads out of/],
    ['a path of another system', item('C:\\clip.model'), '3mf/reference', /leads out of/],
    ['its own part', item('/3D/3dmodel.model'), '3mf/reference', /names itself/],
    ['a part of another type', item('/3D/clip.txt'), '3mf/content-type', /no content type/],
    [
      'an object that the part lacks',
      item('/3D/clip.model').replace('"7"', '"8"'),
      '3mf/reference',
      /no object 8/,
    ],
  ])('refuses %s', (_, xml, code, message) => {
    const fault = refused(threeMf(xml, { more: { '3D/clip.model': clip, '3D/clip.txt': 'x' } }));
    expect([fault.code, fault.message]).toEqual([code, expect.stringMatching(message) as string]);
  });

  it('refuses a path in a part that is named by one (3.2)', () => {
    const nested = model(
      `<object id="7"><components><component objectid="7" p:path="/3D/clip.model" ${UUID}/></components></object>`,
      '',
      P,
    );
    const more = { '3D/clip.model': clip, '3D/nested.model': nested };
    const fault = refused(threeMf(item('/3D/nested.model'), { more }));
    expect(fault.code).toBe('3mf/reference');
    expect(fault.message).toMatch(
      /nested\.model, line \d+: .*only the model that the package begins/,
    );
  });
});

describe('materials and properties', () => {
  it('are read past, and the number of colours is told', () => {
    const xml = boxModel(
      'unit="millimeter" xmlns:m="http://schemas.microsoft.com/3dmanufacturing/material/2015/02" requiredextensions="m"',
    ).replace(
      '<resources>',
      '<resources><m:colorgroup id="5"><m:color color="#2E7D32"/><m:color color="#FFFFFF"/><m:color color="#0277BD"/></m:colorgroup>',
    );
    const part = read(threeMf(xml));
    expect(massOf(part.mesh).volume).toBeCloseTo(1000, 9);
    expect(codes(part)).toEqual(['3mf/colours']);
    expect(part.healed[0]!.message).toMatch(/^3 colours/);
  });
});

describe('slices', () => {
  const S =
    'unit="millimeter" xmlns:s="http://schemas.microsoft.com/3dmanufacturing/slice/2015/07" requiredextensions="s"';
  const sliced = (resolution: string): string =>
    boxModel(S)
      .replace('<object ', `<object s:slicestackid="3" ${resolution} `)
      .replace(
        '<resources>',
        '<resources><s:slicestack id="3" zbottom="0"><s:slice ztop="10"/></s:slicestack>',
      );

  it('beside a full mesh are passed over, and that is said', () => {
    expect(codes(read(threeMf(sliced(''))))).toEqual(['3mf/slices-passed-over']);
  });

  it('for which the mesh only stands refuse the object', () => {
    const fault = refused(threeMf(sliced('s:meshresolution="lowres"')));
    expect([fault.code, fault.message]).toEqual([
      '3mf/slices',
      expect.stringMatching(/^object 1 of .*slices are not read/) as string,
    ]);
  });
});

describe('beam lattices', () => {
  const B =
    'unit="millimeter" xmlns:b="http://schemas.microsoft.com/3dmanufacturing/beamlattice/2017/02" requiredextensions="b"';
  const lattice =
    '<b:beamlattice minlength="0.1" radius="1"><b:beams><b:beam v1="0" v2="7"/><b:beam v1="1" v2="6"/></b:beams></b:beamlattice>';

  it.each([
    ['beside triangles', (xml: string) => xml],
    ['alone', (xml: string) => xml.replace(/<triangles>.*<\/triangles>/, '')],
    [
      'in a file that does not require them',
      (xml: string) => xml.replace('requiredextensions="b"', ''),
    ],
  ])('%s refuse the object, with their number', (_, edit) => {
    const fault = refused(threeMf(edit(boxModel(B).replace('</mesh>', `${lattice}</mesh>`))));
    expect([fault.code, fault.message]).toEqual([
      '3mf/beam-lattice',
      expect.stringMatching(/2 beams/) as string,
    ]);
  });

  it('of an object that the build does not place hinder nothing', () => {
    const xml = model(
      box(1, [0, 0, 0], [10, 10, 10]) +
        box(2, [0, 0, 0], [1, 1, 1]).replace('</mesh>', `${lattice}</mesh>`),
      '<item objectid="1"/>',
      B,
    );
    expect(massOf(read(threeMf(xml)).mesh).volume).toBeCloseTo(1000, 9);
  });
});

it('an object whose shape is of another extension is refused, with the name of that shape', () => {
  const xml = model(
    '<object id="1"><o:booleanshape objectid="1"/></object>',
    '<item objectid="1"/>',
    'xmlns:o="http://schemas.3mf.io/3dmanufacturing/booleanoperations/2023/07"',
  );
  const fault = refused(threeMf(xml));
  expect([fault.code, fault.message]).toEqual([
    '3mf/schema',
    expect.stringMatching(/<booleanshape> in it belongs to an extension/) as string,
  ]);
});
