/**
 * The package of a 3MF file (Open Packaging Conventions over ZIP): finds the model part that the one
 * start relationship names, and the parts that it refers to by the production extension. Parts are
 * unpacked one at a time, and all of them together stay within the bounds of one: a directory of a few
 * kilobytes can name the same packed bytes ten thousand times.
 */
import { BOUNDS } from '../base/bounds.js';
import { Fault } from '../base/fault.js';
import { CONTENT_TYPE, CONTENT_TYPES, RELATIONSHIPS, START_PART } from './threemf-names.js';
import { printable } from '../base/phrases.js';
import { type Visitor, walkXml } from './xml.js';
import { PART_LIMIT, type Zip, openZip, unpack } from './zip.js';

export interface ModelPackage {
  /** Name of the model part to begin with. */
  readonly start: string;
  /** The bytes of a model part. @throws Fault `3mf/no-model`, `3mf/content-type`, `zip/...` */
  read(name: string): Uint8Array;
}

/** @throws Fault `3mf/no-start`, `3mf/content-type`, `zip/...`, `xml/...` */
export function openPackage(file: Uint8Array): ModelPackage {
  const zip = openZip(file);
  const start = startPart(zip);
  const types = contentTypes(zip);
  const limit = Math.min(
    PART_LIMIT,
    Math.max(BOUNDS.unpackedBytes, BOUNDS.unpackedRatio * file.length),
  );
  let unpacked = 0;
  const read = (name: string): Uint8Array => {
    checkContentType(types, name);
    const bytes = unpack(zip, name);
    if (!bytes) throw new Fault('3mf/no-model', `the package has no part "${printable(name)}"`);
    unpacked += bytes.length;
    if (unpacked > limit) {
      const message = `the model parts of the package unpack to more than ${limit} bytes together, which is the limit for its ${file.length} bytes`;
      throw new Fault('zip/too-large', message);
    }
    return bytes;
  };
  return { start, read };
}

function startPart(zip: Zip): string {
  const relations = unpack(zip, '_rels/.rels');
  const targets: string[] = [];
  if (relations) {
    walkXml(relations, '_rels/.rels', {
      open({ uri, name, attributes }) {
        if (uri !== RELATIONSHIPS || name !== 'Relationship') return;
        if (attributes.Type !== START_PART || attributes.TargetMode === 'External') return;
        targets.push(attributes.Target ?? '');
      },
      close() {},
    });
  }
  if (targets.length !== 1) {
    throw new Fault(
      '3mf/no-start',
      `the package names ${targets.length} start parts; it must name exactly 1`,
    );
  }
  const name = partName(targets[0]!);
  if (name !== undefined) return name;
  throw new Fault(
    '3mf/no-start',
    `the start part "${printable(targets[0]!, 40)}" is not a part name`,
  );
}

/**
 * A target resolved against the package root; percent signs stand for bytes of UTF-8.
 * @returns undefined for what is not a part of the package: an address, a path that climbs out of it
 */
export function partName(target: string): string | undefined {
  if (/^[a-z][a-z\d+.-]*:|^\/\/|\\|(^|\/)\.\.(\/|$)/i.test(target)) return undefined;
  try {
    return decodeURIComponent(new URL(target, 'package:/').pathname);
  } catch {
    return undefined;
  }
}

interface ContentTypes {
  /** By part name and by extension, in lower case. */
  readonly byName: Map<string, string>;
  readonly byExtension: Map<string, string>;
}

function contentTypes(zip: Zip): ContentTypes {
  const types = unpack(zip, '[Content_Types].xml');
  if (!types) throw new Fault('3mf/content-type', 'the package has no [Content_Types].xml');
  const byName = new Map<string, string>();
  const byExtension = new Map<string, string>();
  const visitor: Visitor = {
    open({ uri, name: tag, attributes }) {
      const { PartName, Extension, ContentType } = attributes;
      if (uri !== CONTENT_TYPES || ContentType === undefined) return;
      if (tag === 'Override' && PartName) byName.set(PartName.toLowerCase(), ContentType);
      if (tag === 'Default' && Extension) byExtension.set(Extension.toLowerCase(), ContentType);
    },
    close() {},
  };
  walkXml(types, '[Content_Types].xml', visitor);
  return { byName, byExtension };
}

function checkContentType({ byName, byExtension }: ContentTypes, name: string): void {
  const lower = name.toLowerCase();
  const type = byName.get(lower) ?? byExtension.get(lower.slice(lower.lastIndexOf('.') + 1));
  if (type === CONTENT_TYPE) return;
  const got = type === undefined ? 'no content type' : `content type "${printable(type)}"`;
  throw new Fault(
    '3mf/content-type',
    `"${printable(name)}" has ${got}; it must be ${CONTENT_TYPE}`,
  );
}
