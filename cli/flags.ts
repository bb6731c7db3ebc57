/**
 * Command line flags made from a schema: every leaf of the job becomes a flag named by its path,
 * such as `--layers-thickness 0.2`, so that file and flags can never know different settings.
 */
import { type Command, Option } from 'commander';
import { z } from 'zod';
import type { FaultData, JsonFile } from '../lib/index.js';
import { Fault } from '../lib/base/fault.js';
import { within } from '../lib/base/json.js';

interface Leaf {
  readonly path: readonly string[];
  readonly flag: string;
  readonly schema: JsonSchema;
}

interface JsonSchema {
  readonly type?: string;
  readonly description?: string;
  readonly default?: unknown;
  readonly enum?: readonly unknown[];
  readonly properties?: Readonly<Record<string, JsonSchema>>;
}

/** Adds a flag for every leaf except those in `skip` (top-level keys with a flag of their own). */
export function addFlags(command: Command, schema: z.ZodType, skip: readonly string[]): void {
  for (const leaf of leavesOf(schema, skip)) {
    const option = new Option(`--${leaf.flag} <value>`, describe(leaf.schema));
    option.helpGroup(`Settings: ${leaf.path.length > 1 ? leaf.path[0] : 'job'}`);
    command.addOption(option);
  }
}

/**
 * Reads a job in which the flags that were given stand over what its file says.
 * Values are read as JSON where they are JSON (numbers, lists, true), otherwise as text.
 * @param file undefined if the flags are all there is
 * @param read takes the value and the name of the file
 * @throws Fault of `read`; what is wrong with a flag names the flag, what is wrong in the file its line
 */
export function withFlags<T>(
  command: Command,
  schema: z.ZodType,
  skip: readonly string[],
  file: JsonFile | undefined,
  read: (value: unknown, name?: string) => T,
): T {
  const given = command.opts<Record<string, string>>();
  const value = structuredClone(file ? file.value : {});
  const set = new Map<string, string>();
  for (const leaf of leavesOf(schema, skip)) {
    const text = given[camel(leaf.flag)];
    if (text === undefined) continue;
    put(value, leaf.path, readValue(leaf.flag, text));
    set.set(leaf.path.join('.'), leaf.flag);
  }
  try {
    return file ? within({ ...file, value }, read) : read(value);
  } catch (error) {
    throw error instanceof Fault ? byFlags(error, set) : error;
  }
}

/** What a flag has set stands in no line of the file. */
function byFlags(fault: Fault, set: ReadonlyMap<string, string>): Fault {
  const all = fault.problems.length > 0 ? fault.problems : [fault];
  return Fault.of(
    all.map((p): FaultData => {
      const { key } = p.at ?? {};
      const flag = [...set].find(([path]) => key === path || key?.startsWith(`${path}.`))?.[1];
      return flag === undefined
        ? p
        : { code: p.code, message: `--${flag}: ${p.message}`, at: { key: key! } };
    }),
  );
}

function leavesOf(schema: z.ZodType, skip: readonly string[]): Leaf[] {
  const json = z.toJSONSchema(schema, { io: 'input' }) as JsonSchema;
  const walk = (s: JsonSchema, path: string[]): Leaf[] =>
    s.properties
      ? Object.entries(s.properties).flatMap(([key, inner]) => walk(inner, [...path, key]))
      : [{ path, flag: path.map(kebab).join('-'), schema: s }];
  return Object.entries(json.properties ?? {})
    .filter(([key]) => !skip.includes(key))
    .flatMap(([key, inner]) => walk(inner, [key]));
}

function describe(s: JsonSchema): string {
  const choice = s.enum ? ` (${s.enum.join(', ')})` : '';
  const standard = s.default === undefined ? '' : ` [${JSON.stringify(s.default)}]`;
  return `${s.description ?? ''}${choice}${standard}`;
}

/**
 * Sets a leaf; where the file has something else than an object on the way, whoever reads it refuses that.
 */
function put(value: unknown, path: readonly string[], leaf: unknown): void {
  let level = value;
  for (const key of path.slice(0, -1)) {
    if (!isObject(level)) return;
    // `check: false` is short for `check: { run: false }`.
    if (typeof level[key] === 'boolean') level[key] = { run: level[key] };
    level = level[key] ??= {};
  }
  if (isObject(level)) level[path.at(-1)!] = leaf;
}

const isObject = (value: unknown): value is Record<string, unknown> =>
  value !== null && typeof value === 'object' && !Array.isArray(value);

/** @throws Fault `job/bad-value` for a number with an exponent, which JSON alone would let pass */
function readValue(flag: string, text: string): unknown {
  let value: unknown;
  try {
    value = JSON.parse(text);
  } catch {
    return text;
  }
  if (/^[^"]*\d[eE]/.test(text)) {
    throw new Fault(
      'job/bad-value',
      `--${flag}: got ${text}; write it as a plain decimal such as 0.25, without an exponent`,
    );
  }
  return value;
}

const kebab = (key: string): string => key.replace(/[A-Z]/g, (c) => `-${c.toLowerCase()}`);
const camel = (flag: string): string =>
  flag.replace(/-([a-z0-9])/g, (_, c: string) => c.toUpperCase());
