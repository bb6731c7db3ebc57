/**
 * What the text of a STEP file says before a kernel reads it (exchange structure of ISO 10303-21, clause
 * 6). The kernel passes over what it cannot resolve and makes less of the file without a word, and it
 * follows assemblies however often they repeat their parts. So the text is looked through for its end,
 * for instances that are named and not there, and for what its assemblies expand to; time grows with the
 * length of the text.
 */
import { BOUNDS } from '../base/bounds.js';
import { Fault } from '../base/fault.js';
import { printable } from '../base/phrases.js';

export interface StepText {
  /** Solids bounded by faces (ISO 10303-42, manifold_solid_brep and its kinds). */
  readonly solids: number;
  readonly hasLengthUnit: boolean;
  /** Names of other files that hold shapes or documents. */
  readonly otherFiles: string[];
}

/** @param start the first characters, as Latin-1 */
export const looksLikeStep = (start: string): boolean =>
  /^(\u00ef\u00bb\u00bf)?\s*ISO-10303-21\s*;/.test(start);

/**
 * Strings and comments, in which nothing else has its meaning. A string with a doubled quote counts as
 * two. What is not closed reaches to the end, so that no place is looked at twice.
 */
const QUOTED = /'[^']*(?:'|$)|\/\*[^]*?(?:\*\/|$)/g;
const INSTANCE = /#(\d+)\s*=([^;]*);/g;

/** @throws Fault `step/no-end`, `step/reference`, `step/external`, `step/too-large` */
export function readStepText(bytes: Uint8Array): StepText {
  if (bytes.length > BOUNDS.textBytes) {
    const message = `the file has ${bytes.length} bytes; the limit is ${BOUNDS.textBytes}`;
    throw new Fault('step/too-large', message);
  }
  const whole = new TextDecoder('latin1').decode(bytes);
  const text = whole.replace(QUOTED, (quoted) => (quoted.startsWith("'") ? "''" : ' '));
  if (!/\bEND-ISO-10303-21\s*;/.test(text)) {
    const message = 'the file ends before "END-ISO-10303-21;"; it is cut short';
    throw new Fault('step/no-end', message);
  }
  const instances = new Map<number, string>();
  for (const [, number, body] of text.matchAll(INSTANCE)) instances.set(Number(number), body!);
  checkReferences(instances);
  checkTargets(instances);
  checkPlacings(instances);
  const bodies = [...instances.values()];
  return {
    solids: bodies.filter((b) => /\b(MANIFOLD_SOLID_BREP|BREP_WITH_VOIDS|FACETED_BREP)\b/.test(b))
      .length,
    hasLengthUnit: bodies.some((b) => /\bLENGTH_UNIT\b/.test(b)),
    otherFiles: otherFiles(whole),
  };
}

const referencesOf = (body: string): number[] =>
  [...body.matchAll(/#(\d+)/g)].map(([, number]) => Number(number));

function checkReferences(instances: ReadonlyMap<number, string>): void {
  for (const [number, body] of instances) {
    const missing = referencesOf(body).find((n) => !instances.has(n));
    if (missing === undefined) continue;
    const message = `#${number} names #${missing}, which is not there`;
    throw new Fault('step/reference', message);
  }
}

/** An instance that stands for one in another file, such as `#5=<clip.stp#7>;` (clause 10). */
function checkTargets(instances: ReadonlyMap<number, string>): void {
  for (const [number, body] of instances) {
    const target = /^\s*<([^#>]+)/.exec(body);
    if (!target) continue;
    const message = `#${number} lies in another file, which is not read: "${printable(target[1]!, 60)}"`;
    throw new Fault('step/external', message);
  }
}

/**
 * Products are placed in products by next_assembly_usage_occurrence (ISO 10303-44), shapes in shapes by
 * mapped_item (ISO 10303-43).
 */
function checkPlacings(instances: ReadonlyMap<number, string>): void {
  const inner = new Map<number, number[]>();
  const put = (outer: number, number: number): void => {
    const there = inner.get(outer);
    if (there) there.push(number);
    else inner.set(outer, [number]);
  };
  const placed = new Set<number>();
  for (const [number, body] of instances) {
    if (/\bNEXT_ASSEMBLY_USAGE_OCCURRENCE\b/.test(body)) {
      const [whole, part] = referencesOf(body);
      if (whole === undefined || part === undefined) continue;
      put(whole, number);
      put(number, part);
      placed.add(number);
    } else if (/\bMAPPED_ITEM\b/.test(body)) {
      inner.set(number, referencesOf(body));
      placed.add(number);
    } else if (/\b(REPRESENTATION_MAP|\w*SHAPE_REPRESENTATION)\b/.test(body)) {
      inner.set(number, referencesOf(body));
    }
  }
  const counts = new Map<number, number>();
  for (const number of placed) countPlacings(number, inner, placed, counts, 0);
}

/** Of what an instance holds, itself included. */
function countPlacings(
  number: number,
  inner: ReadonlyMap<number, readonly number[]>,
  placed: ReadonlySet<number>,
  counts: Map<number, number>,
  depth: number,
): number {
  const known = counts.get(number);
  if (known !== undefined) return known;
  // A circle is deeper than any.
  if (depth > DEPTH) {
    const message = `assemblies nest deeper than ${BOUNDS.componentDepth}, which is the limit`;
    throw new Fault('step/too-large', message);
  }
  let count = placed.has(number) ? 1 : 0;
  for (const n of inner.get(number) ?? [])
    count += countPlacings(n, inner, placed, counts, depth + 1);
  if (count > BOUNDS.instances) {
    const message = `the assembly places more than ${BOUNDS.instances} parts, which is the limit`;
    throw new Fault('step/too-large', message);
  }
  counts.set(number, count);
  return count;
}

/** Steps down from a placing to what it places: by way of a map and a shape, at most. */
const DEPTH = 3 * BOUNDS.componentDepth;

/** Names in document_file (ISO 10303-41), once each. */
const otherFiles = (text: string): string[] => [
  ...new Set([...text.matchAll(/\bDOCUMENT_FILE\s*\(\s*'([^']*)'/g)].map(([, name]) => name!)),
];
