/**
 * A streaming reader of XML elements, as the 3MF core specification 1.4, section 2.3.2 asks for: UTF-8
 * only, no document type (so no entities that grow), well-formed, with namespaces. Bytes are decoded in
 * chunks, so that no string grows to the size of the part.
 */
import { SaxesParser } from 'saxes';
import { Fault } from '../base/fault.js';
import { printable } from '../base/phrases.js';

/** Attributes without a prefix, by name. */
export type XmlAttributes = Readonly<Record<string, string>>;

export interface XmlElement {
  readonly uri: string;
  readonly name: string;
  readonly attributes: XmlAttributes;
  /** Value of the attribute of that name in another namespace; undefined when it is not there. */
  attributeIn(uri: string, name: string): string | undefined;
  /** Namespace that a prefix stands for here; undefined when it is not declared. */
  resolve(prefix: string): string | undefined;
}

export interface Visitor {
  open(element: XmlElement, line: number): void;
  close(uri: string, name: string): void;
}

const CHUNK_BYTES = 1 << 20;
/** No part of the formats read here nests deeper than some ten elements. */
const DEEPEST_XML = 100;

/** @throws Fault `xml/dtd`, `xml/encoding`, `xml/syntax` */
export function walkXml(bytes: Uint8Array, part: string, visitor: Visitor): void {
  const parser = new SaxesParser({ xmlns: true });
  const fault = (code: string, what: string): Fault =>
    new Fault(code, `${printable(part)}, line ${parser.line}: ${printable(what, 200)}`, {
      line: parser.line,
      column: parser.column + 1,
    });
  parser.on('error', (error) => {
    throw fault('xml/syntax', error.message.replace(/^\d+:\d+: /, ''));
  });
  parser.on('doctype', () => {
    throw fault('xml/dtd', 'a document type is not allowed');
  });
  parser.on('xmldecl', ({ encoding }) => {
    if (encoding !== undefined && !/^utf-8$/i.test(encoding)) {
      throw fault('xml/encoding', `the encoding is "${encoding}"; it must be UTF-8`);
    }
  });
  let depth = 0;
  parser.on('opentag', (tag) => {
    if (++depth > DEEPEST_XML)
      throw fault('xml/syntax', `elements nest deeper than ${DEEPEST_XML}`);
    const attributes: Record<string, string> = Object.create(null) as Record<string, string>;
    for (const name in tag.attributes) {
      const attribute = tag.attributes[name]!;
      if (attribute.prefix === '') attributes[name] = attribute.value;
    }
    const resolve = (prefix: string): string | undefined => parser.resolve(prefix);
    const attributeIn = (uri: string, name: string): string | undefined =>
      Object.values(tag.attributes).find((a) => a.uri === uri && a.local === name)?.value;
    const element = { uri: tag.uri, name: tag.local, attributes, attributeIn, resolve };
    visitor.open(element, parser.line);
  });
  parser.on('closetag', (tag) => {
    depth--;
    visitor.close(tag.uri, tag.local);
  });
  const decoder = new TextDecoder('utf-8', { fatal: true });
  for (let at = 0; at < bytes.length; at += CHUNK_BYTES) {
    parser.write(decoded(decoder, bytes.subarray(at, at + CHUNK_BYTES), fault));
  }
  parser.write(decoded(decoder, new Uint8Array(0), fault, true)).close();
}

function decoded(
  decoder: InstanceType<typeof TextDecoder>,
  bytes: Uint8Array,
  fault: (code: string, what: string) => Fault,
  last = false,
): string {
  try {
    return decoder.decode(bytes, { stream: !last });
  } catch {
    throw fault('xml/encoding', 'the text is not UTF-8');
  }
}
