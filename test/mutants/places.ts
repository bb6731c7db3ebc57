/** All places of a folder's sources that a mutation tool would change, and a seeded choice among them. */
import { readFileSync, readdirSync } from 'node:fs';
import { join } from 'node:path';
import { type File, Instrumenter } from '@stryker-mutator/instrumenter';
import type { Random } from '../../lib/base/random.js';

/** Kinds that change no behaviour a test should see: texts, and whole bodies, which any call notices. */
export const LEFT_OUT = ['StringLiteral', 'BlockStatement', 'Regex'];

/** A place with more of them inside is an expression of expressions: those are drawn one by one. */
const MOST = 4;

/** A stretch of a source file, `file:line:column-line:column`, and how many mutants lie in it. */
export interface Place {
  readonly range: string;
  readonly mutants: number;
}

type Logger = ConstructorParameters<typeof Instrumenter>[0];
const nothing = (): void => {};
const silent = new Proxy({}, { get: () => nothing }) as Logger;

/** @param folder of the sources, from the root of the repository */
export async function placesOf(folder: string): Promise<Place[]> {
  const files: File[] = (readdirSync(folder, { recursive: true }) as string[])
    .filter((name) => name.endsWith('.ts'))
    .sort()
    .map((name) => join(folder, name))
    .map((name) => ({ name, content: readFileSync(name, 'utf8'), mutate: true }));
  const { mutants } = await new Instrumenter(silent).instrument(files, {
    plugins: null,
    excludedMutations: LEFT_OUT,
    ignorers: [],
  });
  const ranges = new Map<string, Range>();
  for (const { fileName, location, mutatorName } of mutants) {
    if (LEFT_OUT.includes(mutatorName)) continue;
    const { start, end } = location;
    // Lines count from 0 here and from 1 in a range.
    const name = `${fileName}:${start.line + 1}:${start.column}-${end.line + 1}:${end.column}`;
    const range = ranges.get(name);
    if (range) range.own++;
    else ranges.set(name, { name, file: fileName, from: order(start), to: order(end), own: 1 });
  }
  const all = [...ranges.values()];
  return all
    .map((range) => ({
      range: range.name,
      mutants: all.reduce((sum, r) => sum + (holds(range, r) ? r.own : 0), 0),
    }))
    .filter((place) => place.mutants <= MOST);
}

interface Range {
  readonly name: string;
  readonly file: string;
  readonly from: number;
  readonly to: number;
  own: number;
}

/** Places of one file in the order of the text. */
const order = (at: { line: number; column: number }): number => at.line * 10_000 + at.column;
const holds = (a: Range, b: Range): boolean =>
  a.file === b.file && a.from <= b.from && b.to <= a.to;

/** Places by chance, until they hold so many mutants, or all. */
export function chosen(places: readonly Place[], count: number, random: Random): Place[] {
  const left = [...places];
  const out: Place[] = [];
  for (let sum = 0; sum < count && left.length > 0;) {
    const [place] = left.splice(Math.floor(random() * left.length), 1);
    out.push(place!);
    sum += place!.mutants;
  }
  return out;
}
