/**
 * 3MF files accepted and refused, by the core specification 1.4.0 (published text, commit 997b385);
 * section numbers are its. Volumes are closed forms.
 */
import { describe, expect, it } from 'vitest';
import { bounds, massOf } from '../../lib/mesh/measure.js';
import {
  BOX,
  type Package,
  binaryStl,
  boxFacets,
  boxMesh,
  boxModel,
  model,
  threeMf,
} from './files.js';
import { codes, read, refused } from './reading.js';

const volume = (xml: string): number => massOf(read(threeMf(xml)).mesh).volume;
const box = (
  id: number,
  at: [number, number, number],
  size: [number, number, number],
  rest = '',
): string => `<object id="${id}" type="model" ${rest}>${boxMesh(at, size)}</object>`;

/** Appendix B.2 of the specification, some of its metadata left out. */
const APPENDIX_B2 = `<?xml version="1.0" encoding="UTF-8"?>
<model unit="millimeter" xml:lang="en-us" xmlns:m="http://schemas.microsoft.com/3dmanufacturing/material/2015/02" xmlns="http://schemas.microsoft.com/3dmanufacturing/core/2015/02" xmlns:vendor1="http://www.vendorwwebsite.com/3mf/vendor13mfextension/2017/01">
  <metadata name="Title">Cube</metadata>
  <metadata name="CreationDate">2013-10-07</metadata>
  <metadata name="vendor1:CustomMetadata1" preserve="1">CE8A91FB-C44E-4F00-B634-BAA411465F6A</metadata>
  <resources>
    <basematerials id="1">
      <base name="Green" displaycolor="#21BB4CFF" />
    </basematerials>
    <object id="2" type="model" pid="1" pindex="0">
    <metadatagroup>
<metadata name="vendor1:CustomMetadata2" preserve="true" type="xs:string">03DAE6E4-24FF-4B20-97A1-7487AB9C1CB0</metadata>
</metadatagroup>
      <mesh>
        <vertices>
          <vertex x="0" y="42.998" z="39.998" />
          <vertex x="39.998" y="42.998" z="39.998" />
          <vertex x="0" y="82.998" z="39.998" />
          <vertex x="39.998" y="82.998" z="0" />
          <vertex x="0" y="42.998" z="0" />
          <vertex x="0" y="82.998" z="0" />
          <vertex x="39.998" y="42.998" z="0" />
          <vertex x="39.998" y="82.998" z="39.998" />
        </vertices>
        <triangles>
          <triangle v1="0" v2="1" v3="2" />
          <triangle v1="3" v2="4" v3="5" />
          <triangle v1="4" v2="3" v3="6" />
          <triangle v1="7" v2="2" v3="1" />
          <triangle v1="4" v2="6" v3="1" />
          <triangle v1="4" v2="2" v3="5" />
          <triangle v1="7" v2="1" v3="6" />
          <triangle v1="5" v2="2" v3="7" />
          <triangle v1="4" v2="0" v3="2" />
          <triangle v1="6" v2="3" v3="7" />
          <triangle v1="1" v2="0" v3="4" />
          <triangle v1="7" v2="3" v3="5" />
        </triangles>
      </mesh>
    </object>
    <object id="3" type="model">
      <components>
        <component objectid="2" />
      </components>
    </object>
  </resources>
  <build>
    <item objectid="3" transform="1 0 0 0 1 0 0 0 1 -19.999 -62.998 0" >
        <metadatagroup>
        <metadata name="vendor1:CustomMetadata3" type="xs:boolean">1</metadata>
      </metadatagroup>
    </item>
  </build>
</model>`;

describe('the example of appendix B.2', () => {
  const part = read(threeMf(APPENDIX_B2));

  it('has 8 vertices, 12 triangles, 39.998 x 40 x 39.998 mm: 63993.60016 mm3', () => {
    expect(part.format).toBe('3mf');
    expect(part.mesh.vertices.length / 3).toBe(8);
    expect(part.mesh.triangles.length / 3).toBe(12);
    expect(massOf(part.mesh).volume).toBeCloseTo(63993.60016, 7);
    expect(part.mesh.twins.includes(-1)).toBe(false);
    expect(part.healed).toEqual([]);
  });

  it('stands where its item places it', () => {
    const { least, most } = bounds(part.mesh);
    [-19.999, -20, 0].forEach((x, c) => expect(least[c]).toBeCloseTo(x, 12));
    [19.999, 20, 39.998].forEach((x, c) => expect(most[c]).toBeCloseTo(x, 12));
  });
});

describe('units (section 3.4) and transforms (3.3)', () => {
  it.each([
    ['micron', 0.001],
    ['millimeter', 1],
    ['centimeter', 10],
    ['inch', 25.4],
    ['foot', 304.8],
    ['meter', 1000],
  ])('%s is %d mm', (unit, mm) => {
    expect(bounds(read(threeMf(boxModel(`unit="${unit}"`))).mesh).most[0]).toBeCloseTo(10 * mm, 9);
  });

  it('is millimetres where no unit is stated', () => {
    expect(bounds(read(threeMf(boxModel(''))).mesh).most[0]).toBe(10);
  });

  it('takes a unit from the caller for no file that states its own', () => {
    expect(refused(threeMf(boxModel()), { unit: 'inch' }).code).toBe('mesh/unit');
  });

  it('"0 1 0 -1 0 0 0 0 1 5 6 7" takes (1,0,0) to (5,7,7) and (0,1,0) to (4,6,7)', () => {
    const xml = model(
      box(1, [0, 0, 0], [1, 1, 1]),
      '<item objectid="1" transform="0 1 0 -1 0 0 0 0 1 5 6 7"/>',
    );
    const { vertices } = read(threeMf(xml)).mesh;
    // Corner 1 of the box is (1,0,0), corner 2 is (0,1,0).
    expect([...vertices.slice(3, 9)]).toEqual([5, 7, 7, 4, 6, 7]);
  });

  it('applies a component first, then its item: translation, then scaling', () => {
    const xml = model(
      box(1, [0, 0, 0], [1, 1, 1]) +
        '<object id="2"><components><component objectid="1" transform="1 0 0 0 1 0 0 0 1 3 0 0"/></components></object>',
      '<item objectid="2" transform="2 0 0 0 2 0 0 0 2 0 0 0"/>',
    );
    const { least, most } = bounds(read(threeMf(xml)).mesh);
    expect([least[0], most[0]]).toEqual([6, 8]);
  });

  it('a mirroring transform keeps the volume positive', () => {
    const item = '<item objectid="1" transform="-1 0 0 0 1 0 0 0 1 0 0 0"/>';
    const part = read(threeMf(boxModel(undefined, item)));
    expect(massOf(part.mesh).volume).toBeCloseTo(1000, 9);
    expect(bounds(part.mesh).least[0]).toBe(-10);
    expect(codes(part)).toEqual([]);
  });
});

describe('several objects and the Positive rule (4.1.1)', () => {
  it('two boxes apart, placed by two items of one object: 2000 mm3', () => {
    const item = '<item objectid="1"/><item objectid="1" transform="1 0 0 0 1 0 0 0 1 20 0 0"/>';
    expect(massOf(read(threeMf(boxModel(undefined, item))).mesh).volume).toBeCloseTo(2000, 9);
  });

  it('two boxes that overlap by half are united: 1500 mm3, and that is said', () => {
    const item = '<item objectid="1"/><item objectid="1" transform="1 0 0 0 1 0 0 0 1 5 0 0"/>';
    const part = read(threeMf(boxModel(undefined, item)));
    expect(massOf(part.mesh).volume).toBeCloseTo(1500, 3);
    expect(codes(part)).toEqual(['mesh/shells-united']);
  });

  it('overlapping components count once: 1000 + 1000 - 125 mm3', () => {
    const xml = model(
      box(1, [0, 0, 0], [10, 10, 10]) +
        box(2, [5, 5, 5], [10, 10, 10]) +
        '<object id="3"><components><component objectid="1"/><component objectid="2"/></components></object>',
      '<item objectid="3"/>',
    );
    expect(volume(xml)).toBeCloseTo(1875, 3);
  });

  it('a mesh turned inwards inside another is a cavity: 1000 - 8 mm3', () => {
    const shell = boxMesh([0, 0, 0], [10, 10, 10]);
    const inner = boxMesh(
      [4, 4, 4],
      [2, 2, 2],
      BOX.map(([i, j, k]) => [j, i, k] as const),
    );
    // One mesh of both: the inner one's vertex numbers go on from 8.
    const moved = inner.replace(/v(\d)="(\d+)"/g, (_, n, i) => `v${n}="${Number(i) + 8}"`);
    const part = (xml: string, tag: string): string =>
      new RegExp(`<${tag}>(.*)</${tag}>`).exec(xml)![1]!;
    const mesh =
      `<mesh><vertices>${part(shell, 'vertices')}${part(moved, 'vertices')}</vertices>` +
      `<triangles>${part(shell, 'triangles')}${part(moved, 'triangles')}</triangles></mesh>`;
    expect(volume(model(`<object id="1">${mesh}</object>`, '<item objectid="1"/>'))).toBeCloseTo(
      992,
      9,
    );
  });

  it('leaves out support and surface objects, and says so', () => {
    const xml = model(
      box(1, [0, 0, 0], [10, 10, 10]) +
        box(2, [20, 0, 0], [1, 1, 1]).replace('"model"', '"support"') +
        box(3, [30, 0, 0], [1, 1, 1]).replace('"model"', '"surface"'),
      '<item objectid="1"/><item objectid="2"/><item objectid="3"/>',
    );
    const part = read(threeMf(xml));
    expect(massOf(part.mesh).volume).toBeCloseTo(1000, 9);
    expect(codes(part)).toEqual(['3mf/left-out', '3mf/left-out']);
  });
});

describe('what is not of the core', () => {
  const foreign = 'xmlns:x="http://example.org/garden/2024"';

  it('passes over elements and attributes of other namespaces (2.3.3.1)', () => {
    const xml = boxModel(`unit="millimeter" ${foreign} x:bed="3"`)
      .replace('</mesh>', '<x:watering><vertex x="no number"/></x:watering></mesh>')
      .replace('<vertex ', '<vertex x:wet="1" ');
    expect(volume(xml)).toBeCloseTo(1000, 9);
  });

  it('reads a file that requires triangle sets, which change no shape (4.1.5)', () => {
    const sets = 'http://schemas.microsoft.com/3dmanufacturing/trianglesets/2021/07';
    const xml = boxModel(`unit="millimeter" xmlns:t="${sets}" requiredextensions="t"`);
    expect(volume(xml)).toBeCloseTo(1000, 9);
  });

  it('warns where an extension is recommended', () => {
    const part = read(threeMf(boxModel(`${foreign} recommendedextensions="x"`)));
    expect(codes(part)).toEqual(['3mf/extension']);
  });

  it('finds the start part by its relationship, whatever its name and letter case', () => {
    const file = threeMf(boxModel(), { name: 'Parts/Hose Clip.MODEL' });
    expect(read(file).format).toBe('3mf');
    const relations =
      '<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">' +
      '<Relationship Target="parts/hose%20clip.model" Id="a" Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/></Relationships>';
    expect(read(threeMf(boxModel(), { name: 'Parts/Hose Clip.MODEL', relations })).format).toBe(
      '3mf',
    );
  });
});

const edit = (from: string | RegExp, to: string): string => boxModel().replace(from, to);
const triangle = (n: number): RegExp => new RegExp(`(?:<triangle [^>]*/>){${n}}`);

describe('held to the letter (4.1), refuses', () => {
  it.each([
    [
      'equal corners',
      edit('v1="0" v2="2" v3="1"', 'v1="0" v2="2" v3="0"'),
      '3mf/value',
      /0, 2, 0.*distinct/,
    ],
    ['three triangles', edit(triangle(9), ''), '3mf/value', /3 triangles.*least for a solid is 4/],
    ['a missing triangle', edit(triangle(1), ''), '3mf/edges', /3 open/],
    [
      'a triangle turned over',
      edit('v1="0" v2="2" v3="1"', 'v1="2" v2="0" v3="1"'),
      '3mf/edges',
      /3 between triangles that face opposite sides/,
    ],
    [
      'a triangle twice',
      edit(/(<triangle [^>]*\/>)/, '$1$1'),
      '3mf/edges',
      /3 shared by more than 2/,
    ],
    [
      'a mesh turned inwards',
      boxModel().replace(/v1="(\d)" v2="(\d)"/g, 'v1="$2" v2="$1"'),
      '3mf/no-volume',
      /-1\.00e\+3/,
    ],
  ])('%s', (_, xml, code, message) => {
    const fault = refused(threeMf(xml), { heal: false });
    expect([fault.code, fault.message]).toEqual([code, expect.stringMatching(message) as string]);
    expect(fault.message).not.toContain('\n');
  });
});

describe('healed like any other format', () => {
  const healed = (xml: string): [number, string[]] => {
    const part = read(threeMf(xml));
    return [massOf(part.mesh).volume, codes(part)];
  };

  it('a hole that is too large to fill is refused as that of the same STL', () => {
    const fault = refused(threeMf(edit(triangle(1), '')));
    const stl = refused(binaryStl(boxFacets([0, 0, 0], [10, 10, 10]).slice(1)));
    expect(fault.code).toBe(stl.code);
    expect(fault.message).toContain('3 open edges in 1 hole');
  });

  it('vertices that are not shared are joined: 1000 mm3, as from the same STL', () => {
    const facets = boxFacets([0, 0, 0], [10, 10, 10]);
    const vertices = facets.flat().map(([x, y, z]) => `<vertex x="${x}" y="${y}" z="${z}"/>`);
    const triangles = facets.map(
      (_, f) => `<triangle v1="${3 * f}" v2="${3 * f + 1}" v3="${3 * f + 2}"/>`,
    );
    const mesh = `<mesh><vertices>${vertices.join('')}</vertices><triangles>${triangles.join('')}</triangles></mesh>`;
    const xml = model(`<object id="1">${mesh}</object>`, '<item objectid="1"/>');
    expect(healed(xml)).toEqual([1000, []]);
    expect(refused(threeMf(xml), { heal: false }).code).toBe('3mf/edges');
  });

  it('a triangle with two equal corners is dropped, and said where it stands in the build', () => {
    const xml = model(
      box(1, [0, 0, 0], [10, 10, 10]).replace(
        '</triangles>',
        '<triangle v1="7" v2="7" v3="1"/></triangles>',
      ),
      '<item objectid="1" transform="1 0 0 0 1 0 0 0 1 100 0 0"/>',
    );
    const part = read(threeMf(xml));
    expect(massOf(part.mesh).volume).toBeCloseTo(1000, 9);
    expect(codes(part)).toEqual(['mesh/repeated-facets']);
    // Corner 1 of the box is (10, 0, 0).
    expect(part.healed[0]!.at!.point).toEqual([110, 0, 0]);
    expect(part.healed[0]!.message).toMatch(
      /^object 1 of "\/3D\/3dmodel.model": dropped: 1 facets/,
    );
  });

  it('a triangle that stands twice is dropped once', () => {
    expect(healed(edit(/(<triangle [^>]*\/>)/, '$1$1'))).toEqual([1000, ['mesh/repeated-facets']]);
  });

  it('a mesh that faces inwards is turned', () => {
    const xml = boxModel().replace(/v1="(\d)" v2="(\d)"/g, 'v1="$2" v2="$1"');
    expect(healed(xml)).toEqual([1000, ['mesh/inside-out']]);
  });

  it('what no format is healed of stays refused, with the object', () => {
    const fault = refused(threeMf(edit('v1="0" v2="2" v3="1"', 'v1="2" v2="0" v3="1"')));
    expect(fault.code).toBe('mesh/flipped-facet');
    expect(fault.message).toMatch(/^object 1 of .*3 edges lie between facets/);
    const none = refused(threeMf(edit(triangle(12), '')));
    expect(none.code).toBe('mesh/no-facets');
  });

  it('an object that is placed a thousand times is healed once', () => {
    const items = Array.from(
      { length: 1000 },
      (_, i) => `<item objectid="1" transform="1 0 0 0 1 0 0 0 1 ${20 * i} 0 0"/>`,
    );
    const twice = '<triangle v1="7" v2="7" v3="1"/></triangles>';
    const cube = box(1, [0, 0, 0], [10, 10, 10]).replace('</triangles>', twice);
    const part = read(threeMf(model(cube, items.join(''))));
    expect(massOf(part.mesh).volume).toBeCloseTo(1e6, 3);
    expect(codes(part)).toEqual(['mesh/repeated-facets']);
  });
});

describe('refuses', () => {
  it.each([
    [
      'an unknown required extension',
      boxModel('xmlns:x="http://example.org/a" requiredextensions="x"'),
      '3mf/extension',
      /example\.org/,
    ],
    [
      'a required prefix that is not declared',
      boxModel('requiredextensions="q"'),
      '3mf/extension',
      /"q"/,
    ],
    [
      'a document type',
      boxModel().replace('<model', '<!DOCTYPE model>\n<model'),
      'xml/dtd',
      /document type/,
    ],
    [
      'entities that grow',
      boxModel().replace(
        '<model',
        '<!DOCTYPE model [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;">]>\n<model',
      ),
      'xml/dtd',
      /document type/,
    ],
    ['another encoding', boxModel().replace('UTF-8', 'ISO-8859-1'), 'xml/encoding', /ISO-8859-1/],
    ['text that is no XML', 'solid part', 'xml/syntax', /line 1/],
    ['XML that is cut short', boxModel().slice(0, 700), 'xml/syntax', /unclosed tag/],
    [
      'a root of another namespace',
      boxModel().replace('core/2015/02', 'core/1999'),
      '3mf/schema',
      /another namespace/,
    ],
    ['an index beyond the vertices', edit('v3="1"', 'v3="8"'), '3mf/value', /v3="8".*8 vertices/],
    ['a negative index', edit('v3="1"', 'v3="-1"'), '3mf/value', /v3="-1"/],
    ['an index of 2^31', edit('v3="1"', 'v3="2147483648"'), '3mf/value', /2147483648/],
    ['id 0', edit('object id="1"', 'object id="0"'), '3mf/value', /least is 1/],
    ['id 2^31', edit('object id="1"', 'object id="2147483648"'), '3mf/value', /2147483648/],
    [
      'an id used twice',
      model(box(1, [0, 0, 0], [1, 1, 1]) + box(1, [2, 0, 0], [1, 1, 1]), '<item objectid="1"/>'),
      '3mf/value',
      /id 1 is used twice/,
    ],
    [
      'an object that is not there',
      boxModel(undefined, '<item objectid="7"/>'),
      '3mf/reference',
      /object 7/,
    ],
    [
      'an object used before it is defined',
      model(
        `<object id="2"><components><component objectid="1"/></components></object>${box(1, [0, 0, 0], [1, 1, 1])}`,
        '<item objectid="2"/>',
      ),
      '3mf/reference',
      /object 1 is not defined before/,
    ],
    [
      'an object that contains itself',
      model(
        '<object id="2"><components><component objectid="2"/></components></object>',
        '<item objectid="2"/>',
      ),
      '3mf/reference',
      /object 2/,
    ],
    [
      'an item of type other',
      edit('type="model"', 'type="other"'),
      '3mf/reference',
      /type "other"/,
    ],
    [
      'a component of type other',
      model(
        box(1, [0, 0, 0], [1, 1, 1]).replace('"model"', '"other"') +
          '<object id="2"><components><component objectid="1"/></components></object>',
        '<item objectid="2"/>',
      ),
      '3mf/reference',
      /type "other"/,
    ],
    ['an unknown type', edit('type="model"', 'type="pump"'), '3mf/value', /type="pump"/],
    ['an unknown unit', boxModel('unit="mile"'), '3mf/value', /unit="mile"/],
    ['NaN', edit('x="10"', 'x="NaN"'), '3mf/value', /x: "NaN"/],
    ['"1."', edit('x="10"', 'x="1."'), '3mf/value', /x: "1\."/],
    ['a number beyond float64', edit('x="10"', 'x="1e999"'), '3mf/value', /1e999/],
    ['a coordinate that is missing', edit('x="10" ', ''), '3mf/schema', /lacks the attribute x/],
    [
      'eleven numbers in a transform',
      boxModel(undefined, '<item objectid="1" transform="1 0 0 0 1 0 0 0 1 0 0"/>'),
      '3mf/value',
      /11 numbers.*12/,
    ],
    [
      'a singular transform',
      boxModel(undefined, '<item objectid="1" transform="1 0 0 0 1 0 0 0 0 0 0 0"/>'),
      'mesh/transform',
      /singular/,
    ],
    ['no items', boxModel(undefined, ''), '3mf/no-items', /0 items/],
    ['no build', boxModel().replace(/<build>.*<\/build>/, ''), '3mf/schema', /no <build>/],
    [
      'triangles before vertices',
      boxModel().replace(/(<vertices>.*<\/vertices>)(<triangles>.*<\/triangles>)/, '$2$1'),
      '3mf/schema',
      /stands before/,
    ],
    [
      'an element out of its place',
      edit('<mesh>', '<item objectid="1"/><mesh>'),
      '3mf/schema',
      /<item> has no place in <object>/,
    ],
    [
      'an object without a shape',
      model('<object id="1"/>', '<item objectid="1"/>'),
      '3mf/schema',
      /neither/,
    ],
    ['an object with two shapes', edit('</mesh>', '</mesh><components/>'), '3mf/schema', /both/],
  ])('%s', (_, xml, code, message) => {
    const fault = refused(threeMf(xml));
    expect([fault.code, fault.message]).toEqual([code, expect.stringMatching(message) as string]);
    expect(fault.message).not.toContain('\n');
  });

  it('components that multiply beyond the limit, before any is made', () => {
    const double = (id: number): string =>
      `<object id="${id}"><components>${`<component objectid="${id - 1}"/>`.repeat(10)}</components></object>`;
    const xml = model(
      box(1, [0, 0, 0], [1, 1, 1]) + Array.from({ length: 9 }, (_, i) => double(i + 2)).join(''),
      '<item objectid="10"/>',
    );
    const fault = refused(threeMf(xml));
    expect([fault.code, fault.message]).toEqual([
      '3mf/too-large',
      expect.stringContaining('1000000000 objects') as string,
    ]);
  });

  it('components that nest too deep', () => {
    const chain = Array.from(
      { length: 200 },
      (_, i) =>
        `<object id="${i + 2}"><components><component objectid="${i + 1}"/></components></object>`,
    );
    const xml = model(box(1, [0, 0, 0], [1, 1, 1]) + chain.join(''), '<item objectid="201"/>');
    expect(refused(threeMf(xml)).code).toBe('3mf/too-large');
  });

  it('text that is not UTF-8', () => {
    const bytes = new TextEncoder().encode(boxModel());
    bytes[60] = 0xff;
    expect(refused(threeMf(bytes)).code).toBe('xml/encoding');
  });

  it.each<[string, Package, string]>([
    ['no relationships', { relations: null }, '3mf/no-start'],
    [
      'no start relationship',
      {
        relations:
          '<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"/>',
      },
      '3mf/no-start',
    ],
    ['no content types', { types: null }, '3mf/content-type'],
    ['another content type', { type: 'text/plain' }, '3mf/content-type'],
    [
      'a start part that is not there',
      {
        relations:
          '<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Target="/3D/none.model" Id="a" Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/></Relationships>',
      },
      '3mf/no-model',
    ],
  ])('a package with %s', (_, options, code) => {
    expect(refused(threeMf(boxModel(), options)).code).toBe(code);
  });
});
