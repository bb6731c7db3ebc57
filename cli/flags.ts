/**
 * Command line flags made from a schema: every leaf of the job becomes a flag named by its path,
 * such as `--layers-thickness 0.2`, so that file and flags can never know different settings.
 */
import { type Command, Option } from 'commander';
import { z } from 'zod';
import { Fault } from '../lib/base/fault.js';

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
 * A job value in which the flags that were given stand over what the file says.
 * Values are read as JSON where they are JSON (numbers, lists, true), otherwise as text.
 */
export function withFlags(
  command: Command,
  schema: z.ZodType,
  skip: readonly string[],
  file: unknown,
): unknown {
  const given = command.opts<Record<string, string>>();
  const value = structuredClone(file) as Record<string, unknown>;
  for (const leaf of leavesOf(schema, skip)) {
    const text = given[camel(leaf.flag)];
    if (text !== undefined) put(value, leaf.path, readValue(text));
  }
  return value;
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

function put(value: Record<string, unknown>, path: readonly string[], leaf: unknown): void {
  let level = value;
  for (const key of path.slice(0, -1)) {
    const inner = level[key] ?? {};
    if (typeof inner !== 'object' || Array.isArray(inner)) {
      throw new Fault('job/bad-value', `${key} must be an object, got ${JSON.stringify(inner)}`, {
        key,
      });
    }
    level = level[key] = inner as Record<string, unknown>;
  }
  level[path[path.length - 1]!] = leaf;
}

function readValue(text: string): unknown {
  try {
    return JSON.parse(text) as unknown;
  } catch {
    return text;
  }
}

const kebab = (key: string): string => key.replace(/[A-Z]/g, (c) => `-${c.toLowerCase()}`);
const camel = (flag: string): string =>
  flag.replace(/-([a-z0-9])/g, (_, c: string) => c.toUpperCase());
