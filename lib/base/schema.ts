/**
 * Reading a JSON value by a schema (zod's). What is wrong is one Fault with all problems: for each the
 * key, the value, the limit, and what the schema says of that key (its unit among it). Unknown keys are
 * refused with the nearest known one (Levenshtein distance).
 */
import { closest, distance } from 'fastest-levenshtein';
import { z } from 'zod';
import { Fault, type FaultData } from './fault.js';
import { checkDepth } from './json.js';
import { type SchemaIssue, phrase } from './schema-message.js';
import { printable } from './printable.js';

/**
 * @param area first half of the Fault's code, such as `machine`
 * @throws Fault `<area>/unknown-key` or `<area>/bad-value` with every problem in `problems`, `at.key` set in
 *   each; `<area>/too-deep`
 */
export function parse<S extends z.ZodType>(
  schema: S,
  value: unknown,
  area: string,
  file?: string,
): z.output<S> {
  checkDepth(value, area, file);
  const result = schema.safeParse(value, { reportInput: true });
  if (result.success) return result.data;
  const json = z.toJSONSchema(schema, { io: 'input', unrepresentable: 'any' }) as JsonSchema;
  throw Fault.of(
    flatten(result.error.issues).flatMap((issue) => problemsOf(issue, json, value, area, file)),
  );
}

/** Each unknown key is a problem of its own. */
function problemsOf(
  issue: SchemaIssue,
  schema: JsonSchema,
  value: unknown,
  area: string,
  file: string | undefined,
): FaultData[] {
  const key = issue.path.join('.');
  const nodes = nodesAt(schema, value, issue.path);
  const place = file ? { file } : {};
  if (issue.code === 'unrecognized_keys') {
    const known = nodes.flatMap((s) => Object.keys(s.properties ?? {}));
    return issue.keys.map((name) => ({
      code: `${area}/unknown-key`,
      message: `unknown key "${printable(name, SHOWN)}"${key ? ` in ${key}` : ''}${nearest(name, known)}`,
      at: { ...place, key: [...issue.path, name].join('.') },
    }));
  }
  const meaning = nodes.find((s) => s.description)?.description;
  return [
    {
      code: `${area}/bad-value`,
      message: `${printable(key || 'the value')} ${phrase(issue)}${meaning ? ` [${meaning}]` : ''}`,
      at: { ...place, ...(key ? { key } : {}) },
    },
  ];
}

/** So much of a name that is not known is shown, and compared. */
const SHOWN = 60;

/** The known name that was most likely meant, or all of them where none is like it. */
export function nearest(name: string, known: readonly string[]): string {
  if (known.length === 0) return '';
  const short = name.slice(0, SHOWN);
  const best = closest(short, [...known]);
  return distance(short, best) < Math.max(short.length, best.length)
    ? `; did you mean "${best}"?`
    : `; known here: ${known.join(', ')}`;
}

/** Looks inside failed unions: the branch that got furthest explains the failure best. */
function flatten(issues: readonly SchemaIssue[], prefix: PropertyKey[] = []): SchemaIssue[] {
  return issues.flatMap((issue): SchemaIssue[] => {
    const path = [...prefix, ...issue.path];
    if (issue.code === 'invalid_union') {
      const best = [...issue.errors].sort((a, b) => progress(b) - progress(a))[0];
      if (best && progress(best) > 0) return flatten(best, path);
    }
    return [{ ...issue, path }];
  });
}

/**
 * How far a branch of a union got: 0 if the value is of another kind, else how deep its problems
 * lie, one more for a value of the right kind that is out of bounds.
 */
function progress(issues: readonly SchemaIssue[]): number {
  const deepest = (issue: SchemaIssue): number => {
    if (issue.code === 'invalid_union') {
      return issue.path.length + greatest(issue.errors.map(progress));
    }
    const otherKind = issue.code === 'invalid_type' || issue.code === 'invalid_value';
    return issue.path.length + (otherKind ? 0 : 1);
  };
  return greatest(issues.map(deepest));
}

/** The greatest of any number of values: a spread would put each on the call stack. */
const greatest = (values: readonly number[]): number =>
  values.reduce((most, v) => Math.max(most, v), 0);

interface JsonSchema {
  description?: string;
  properties?: Record<string, JsonSchema & { const?: unknown }>;
  additionalProperties?: JsonSchema | boolean;
  items?: JsonSchema;
  prefixItems?: JsonSchema[];
  anyOf?: JsonSchema[];
  oneOf?: JsonSchema[];
}

/** What the schema says of a path, looking through lists and through the branches that the value takes. */
function nodesAt(json: JsonSchema, value: unknown, path: readonly PropertyKey[]): JsonSchema[] {
  let level = branches(json, value);
  let inner = value;
  for (const part of path) {
    inner = (inner as Record<PropertyKey, unknown> | null | undefined)?.[part];
    level = level.flatMap((s) => below(s, part)).flatMap((s) => branches(s, inner));
  }
  return level;
}

function below(s: JsonSchema, part: PropertyKey): JsonSchema[] {
  const more = typeof s.additionalProperties === 'object' ? s.additionalProperties : undefined;
  const at =
    typeof part === 'number'
      ? (s.prefixItems?.[part] ?? s.items)
      : (s.properties?.[String(part)] ?? more);
  return at ? [at] : [];
}

/** The schema itself and the alternatives in it, without those whose fixed keys the value contradicts. */
function branches(s: JsonSchema, value: unknown): JsonSchema[] {
  const inside = [...(s.anyOf ?? []), ...(s.oneOf ?? [])];
  const open = inside.filter((b) =>
    Object.entries(b.properties ?? {}).every(
      ([name, p]) =>
        p.const === undefined || p.const === (value as Record<string, unknown> | null)?.[name],
    ),
  );
  return [s, ...(open.length ? open : inside).flatMap((b) => branches(b, value))];
}
