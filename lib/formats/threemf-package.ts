/**
 * The package of a 3MF file (Open Packaging Conventions over ZIP): finds the model part that the one
 * start relationship names.
 */
import { Fault } from '../base/fault.js';
import { CONTENT_TYPE, CONTENT_TYPES, RELATIONSHIPS, START_PART } from './threemf-names.js';
import { printable } from '../base/phrases.js';
import { type Visitor, walkXml } from './xml.js';
import { type Zip, openZip, unpack } from './zip.js';

export interface ModelPart {
  readonly name: string;
  readonly bytes: Uint8Array;
}

/**
 * @throws Fault `3mf/no-start`, `3mf/no-model`, `3mf/content-type`, `zip/...`, `xml/...`
 */
export function modelPartOf(file: Uint8Array): ModelPart {
  const zip = openZip(file);
  const name = startPart(zip);
  checkContentType(zip, name);
  const bytes = unpack(zip, name);
  if (!bytes) throw new Fault('3mf/no-model', `the package has no part "${printable(name)}"`);
  return { name, bytes };
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
  return partName(targets[0]!);
}

/** Resolves a target against the package root; percent signs stand for bytes of UTF-8. */
function partName(target: string): string {
  try {
    return decodeURIComponent(new URL(target, 'package:/').pathname);
  } catch {
    throw new Fault('3mf/no-start', `the start part "${printable(target, 40)}" is not a part name`);
  }
}

function checkContentType(zip: Zip, name: string): void {
  const types = unpack(zip, '[Content_Types].xml');
  if (!types) throw new Fault('3mf/content-type', 'the package has no [Content_Types].xml');
  const extension = name.slice(name.lastIndexOf('.') + 1).toLowerCase();
  let byName: string | undefined;
  let byExtension: string | undefined;
  const visitor: Visitor = {
    open({ uri, name: tag, attributes }) {
      if (uri !== CONTENT_TYPES) return;
      const { PartName, Extension, ContentType } = attributes;
      if (tag === 'Override' && PartName?.toLowerCase() === name.toLowerCase())
        byName = ContentType;
      if (tag === 'Default' && Extension?.toLowerCase() === extension) byExtension = ContentType;
    },
    close() {},
  };
  walkXml(types, '[Content_Types].xml', visitor);
  const type = byName ?? byExtension;
  if (type === CONTENT_TYPE) return;
  const got = type === undefined ? 'no content type' : `content type "${printable(type)}"`;
  throw new Fault(
    '3mf/content-type',
    `"${printable(name)}" has ${got}; it must be ${CONTENT_TYPE}`,
  );
}
