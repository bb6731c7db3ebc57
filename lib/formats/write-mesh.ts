/**
 * Writers of binary STL (one mesh) and 3MF (named meshes; core specification 1.4). Coordinates of 3MF
 * are the shortest decimals that give back the same float64; STL holds float32. The same meshes give
 * the same bytes: no clock is read.
 */
import { strToU8, zipSync } from 'fflate';
import type { Mesh } from '../mesh/mesh.js';
import { CONTENT_TYPE, CORE, RELATIONSHIPS, START_PART } from './threemf-names.js';

/** 84 + 50 n bytes, little-endian; facet normals of unit length, zero for a facet without area. */
export function writeStl({ vertices: v, triangles: t }: Mesh): Uint8Array {
  const bytes = new Uint8Array(84 + (50 * t.length) / 3);
  bytes.set(strToU8('tiltwright, millimetres'));
  const view = new DataView(bytes.buffer);
  view.setUint32(80, t.length / 3, true);
  for (let f = 0, o = 84; f < t.length; f += 3, o += 50) {
    const [a, b, c] = [3 * t[f]!, 3 * t[f + 1]!, 3 * t[f + 2]!];
    const [ux, uy, uz] = [v[b]! - v[a]!, v[b + 1]! - v[a + 1]!, v[b + 2]! - v[a + 2]!];
    const [wx, wy, wz] = [v[c]! - v[a]!, v[c + 1]! - v[a + 1]!, v[c + 2]! - v[a + 2]!];
    const [nx, ny, nz] = [uy * wz - uz * wy, uz * wx - ux * wz, ux * wy - uy * wx];
    const size = Math.hypot(nx, ny, nz) || 1;
    view.setFloat32(o, nx / size, true);
    view.setFloat32(o + 4, ny / size, true);
    view.setFloat32(o + 8, nz / size, true);
    for (let i = 0; i < 9; i++) {
      const corner = i < 3 ? a : i < 6 ? b : c;
      view.setFloat32(o + 12 + 4 * i, v[corner + (i % 3)]!, true);
    }
  }
  return bytes;
}

/** One object of a 3MF file. */
export interface NamedMesh {
  readonly name: string;
  /** Closed, mm. */
  readonly mesh: Mesh;
}

/**
 * One object and one build item per part, in the given order, where they stand. Meshes must be closed.
 */
export function writeThreeMf(parts: readonly NamedMesh[]): Uint8Array {
  for (const { name, mesh } of parts) {
    if (mesh.triangles.length < 12 || mesh.twins.includes(-1)) {
      throw new Error(
        `the mesh "${name}" is not closed; 3MF wants every edge shared by two facets`,
      );
    }
  }
  const xml = '<?xml version="1.0" encoding="UTF-8"?>\n';
  const types =
    `${xml}<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">` +
    `<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>` +
    `<Default Extension="model" ContentType="${CONTENT_TYPE}"/></Types>\n`;
  const relations =
    `${xml}<Relationships xmlns="${RELATIONSHIPS}">` +
    `<Relationship Target="/3D/3dmodel.model" Id="rel0" Type="${START_PART}"/></Relationships>\n`;
  return zipSync(
    {
      '[Content_Types].xml': strToU8(types),
      '_rels/.rels': strToU8(relations),
      '3D/3dmodel.model': modelPart(parts, xml),
    },
    // The earliest time that a zip entry can hold, the same in every time zone.
    { mtime: '1980-01-01T00:00:00', level: 6 },
  );
}

function modelPart(parts: readonly NamedMesh[], xml: string): Uint8Array {
  const text = new TextChunks();
  text.add(
    `${xml}<model unit="millimeter" xml:lang="en" xmlns="${CORE}">\n` +
      `<metadata name="Application">tiltwright</metadata>\n<resources>\n`,
  );
  parts.forEach(({ name, mesh }, i) => writeObject(text, name, mesh, i + 1));
  text.add('</resources>\n<build>\n');
  parts.forEach((_, i) => text.add(`<item objectid="${i + 1}"/>\n`));
  text.add('</build>\n</model>\n');
  return text.bytes();
}

function writeObject(text: TextChunks, name: string, mesh: Mesh, id: number): void {
  const { vertices: v, triangles: t } = mesh;
  text.add(`<object id="${id}" type="model" name="${escaped(name)}"><mesh>\n<vertices>\n`);
  for (let i = 0; i < v.length; i += 3) {
    text.add(`<vertex x="${v[i]!}" y="${v[i + 1]!}" z="${v[i + 2]!}"/>\n`);
  }
  text.add('</vertices>\n<triangles>\n');
  for (let i = 0; i < t.length; i += 3) {
    text.add(`<triangle v1="${t[i]!}" v2="${t[i + 1]!}" v3="${t[i + 2]!}"/>\n`);
  }
  text.add('</triangles>\n</mesh></object>\n');
}

const entities: Record<string, string> = { '&': '&amp;', '<': '&lt;', '>': '&gt;', '"': '&quot;' };

/** Escaped for an attribute value; characters that XML 1.0 forbids become question marks. */
const escaped = (name: string): string =>
  name
    .replace(/[\x00-\x1f\ufffe\uffff]/g, '?')
    .replace(/[\ud800-\udbff](?![\udc00-\udfff])|(?<![\ud800-\udbff])[\udc00-\udfff]/g, '?')
    .replace(/[&<>"]/g, (c) => entities[c]!);

/** Text gathered in pieces of a megabyte, so that no string grows to the size of a file. */
class TextChunks {
  #piece = '';
  readonly #pieces: Uint8Array[] = [];

  add(text: string): void {
    this.#piece += text;
    if (this.#piece.length > 1 << 20) this.#cut();
  }

  #cut(): void {
    this.#pieces.push(strToU8(this.#piece));
    this.#piece = '';
  }

  bytes(): Uint8Array {
    this.#cut();
    const out = new Uint8Array(this.#pieces.reduce((n, p) => n + p.length, 0));
    let at = 0;
    for (const p of this.#pieces) {
      out.set(p, at);
      at += p.length;
    }
    return out;
  }
}
