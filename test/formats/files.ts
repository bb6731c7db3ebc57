/** Small part files written by hand for the reader tests, from the formats' own rules. */
import { strToU8, zipSync } from 'fflate';

export type Point = readonly [number, number, number];
export type Facet = readonly [Point, Point, Point];

/** The eight corners of a box, counted x fastest. */
const corners = ([x, y, z]: Point, [w, d, h]: Point): Point[] =>
  Array.from({ length: 8 }, (_, i): Point => [
    x + (i & 1) * w,
    y + ((i >> 1) & 1) * d,
    z + (i >> 2) * h,
  ]);

/** Corner numbers of a box's twelve facets, counter-clockwise from outside. */
export const BOX: readonly (readonly [number, number, number])[] = [
  [0, 2, 1],
  [1, 2, 3],
  [4, 5, 6],
  [5, 7, 6],
  [0, 1, 4],
  [1, 5, 4],
  [2, 6, 3],
  [3, 6, 7],
  [0, 4, 2],
  [2, 4, 6],
  [1, 3, 5],
  [3, 7, 5],
];

export function boxFacets(at: Point, size: Point): Facet[] {
  const c = corners(at, size);
  return BOX.map(([i, j, k]): Facet => [c[i]!, c[j]!, c[k]!]);
}

export const turnedFacets = (facets: readonly Facet[]): Facet[] =>
  facets.map(([a, b, c]) => [b, a, c]);

/** A tetrahedron over the axes with volume 1/6. */
export const TETRAHEDRON: Facet[] = [
  [
    [1, 0, 0],
    [0, 1, 0],
    [0, 0, 1],
  ],
  [
    [0, 0, 0],
    [1, 0, 0],
    [0, 0, 1],
  ],
  [
    [0, 0, 0],
    [0, 0, 1],
    [0, 1, 0],
  ],
  [
    [0, 0, 0],
    [0, 1, 0],
    [1, 0, 0],
  ],
];

export const bytesOf = (text: string): Uint8Array => strToU8(text);

/** 80 bytes of header, count, 50 bytes a facet; little-endian. */
export function binaryStl(
  facets: readonly Facet[],
  header = '',
  count = facets.length,
): Uint8Array {
  const bytes = new Uint8Array(84 + 50 * facets.length);
  bytes.set(strToU8(header).subarray(0, 80));
  const view = new DataView(bytes.buffer);
  view.setUint32(80, count, true);
  facets.forEach((facet, f) =>
    facet.flat().forEach((x, i) => view.setFloat32(84 + 50 * f + 12 + 4 * i, x, true)),
  );
  return bytes;
}

export const asciiStl = (facets: readonly Facet[], name = 'part'): Uint8Array =>
  strToU8(
    [
      `solid ${name}`,
      ...facets.flatMap((f) => [
        'facet normal 0 0 0',
        ' outer loop',
        ...f.map((p) => `  vertex ${p.join(' ')}`),
        ' endloop',
        'endfacet',
      ]),
      `endsolid ${name}`,
      '',
    ].join('\n'),
  );

export const objText = (facets: readonly Facet[]): string =>
  facets
    .flatMap((f, i) => [
      ...f.map((p) => `v ${p.join(' ')}`),
      `f ${3 * i + 1} ${3 * i + 2} ${3 * i + 3}`,
    ])
    .join('\n');

const CORE = 'http://schemas.microsoft.com/3dmanufacturing/core/2015/02';
const TYPE = 'application/vnd.ms-package.3dmanufacturing-3dmodel+xml';
const START = 'http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel';

/** <mesh> of a box with shared corners. */
export function boxMesh(at: Point, size: Point, facets = BOX): string {
  const vertices = corners(at, size).map(([x, y, z]) => `<vertex x="${x}" y="${y}" z="${z}"/>`);
  const triangles = facets.map(([i, j, k]) => `<triangle v1="${i}" v2="${j}" v3="${k}"/>`);
  return `<mesh><vertices>${vertices.join('')}</vertices><triangles>${triangles.join('')}</triangles></mesh>`;
}

export const model = (resources: string, build: string, attributes = 'unit="millimeter"'): string =>
  `<?xml version="1.0" encoding="UTF-8"?>\n<model ${attributes} xmlns="${CORE}">\n` +
  `<resources>${resources}</resources>\n<build>${build}</build>\n</model>`;

/** A model of one box of 10 mm, with what a test wants to change. */
export const boxModel = (attributes?: string, item = '<item objectid="1"/>'): string =>
  model(
    `<object id="1" type="model">${boxMesh([0, 0, 0], [10, 10, 10])}</object>`,
    item,
    attributes,
  );

export interface Package {
  readonly name?: string;
  readonly type?: string;
  readonly relations?: string | null;
  readonly types?: string | null;
  /** Further parts, by name. */
  readonly more?: Readonly<Record<string, string>>;
}

/** A 3MF package around the XML of a model; null leaves a part out. */
export function threeMf(xml: string | Uint8Array, options: Package = {}): Uint8Array {
  const name = options.name ?? '3D/3dmodel.model';
  const relations =
    options.relations ??
    `<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">` +
      `<Relationship Target="/${name}" Id="rel0" Type="${START}"/></Relationships>`;
  const types =
    options.types ??
    `<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">` +
      `<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>` +
      `<Default Extension="model" ContentType="${options.type ?? TYPE}"/></Types>`;
  return zipSync({
    ...(options.types === null ? {} : { '[Content_Types].xml': strToU8(types) }),
    ...(options.relations === null ? {} : { '_rels/.rels': strToU8(relations) }),
    [name]: typeof xml === 'string' ? strToU8(xml) : xml,
    ...Object.fromEntries(
      Object.entries(options.more ?? {}).map(([part, text]) => [part, strToU8(text)]),
    ),
  });
}
