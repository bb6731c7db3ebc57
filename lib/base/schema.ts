/**
 * A JSON value becomes a checked record, or a Fault that names the key, the value and the limit, and
 * says what the schema says of that key (its unit among it). Unknown keys are refused with the
 * nearest known one. The schema work is zod's.
 */
import { closest } from 'fastest-levenshtein';
import { z } from 'zod';
import { Fault } from './fault.js';
import { phrase } from './phrase.js';

type Issue = z.core.$ZodIssue;

/**
 * @param area first half of the Fault's code, such as `machine`
 * @throws Fault `<area>/unknown-key` or `<area>/bad-value`, `at.key` set; the first problem is named
 *   and the number of further ones said.
 */
export function parse<S extends z.ZodType>(
  schema: S,
  value: unknown,
  area: string,
  file?: string,
): z.output<S> {
  const result = schema.safeParse(value, { reportInput: true });
  if (result.success) return result.data;
  const issues = flatten(result.error.issues);
  const issue = issues[0]!;
  const count = issues.reduce(
    (n, i) => n + (i.code === 'unrecognized_keys' ? i.keys.length : 1),
    0,
  );
  const more = count > 1 ? ` (and ${count - 1} more)` : '';
  const key = issue.path.join('.');
  const place = { ...(key ? { key } : {}), ...(file ? { file } : {}) };
  const nodes = nodesAt(schema, value, issue.path);
  if (issue.code === 'unrecognized_keys') {
    const name = issue.keys[0]!;
    const known = nodes.flatMap((s) => Object.keys(s.properties ?? {}));
    const hint = known.length ? `; the nearest known key is "${closest(name, known)}"` : '';
    const where = key ? ` in ${key}` : '';
    throw new Fault(`${area}/unknown-key`, `unknown key "${name}"${where}${hint}${more}`, {
      ...place,
      key: [...issue.path, name].join('.'),
    });
  }
  const meaning = nodes.find((s) => s.description)?.description;
  const about = meaning ? ` [${meaning}]` : '';
  throw new Fault(
    `${area}/bad-value`,
    `${key || 'the value'} ${phrase(issue)}${about}${more}`,
    place,
  );
}

/** Looks inside failed unions: the branch that got furthest explains the failure best. */
function flatten(issues: readonly Issue[], prefix: PropertyKey[] = []): Issue[] {
  return issues.flatMap((issue): Issue[] => {
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
function progress(issues: readonly Issue[]): number {
  const deepest = (issue: Issue): number => {
    if (issue.code === 'invalid_union') {
      return issue.path.length + Math.max(0, ...issue.errors.map(progress));
    }
    const otherKind = issue.code === 'invalid_type' || issue.code === 'invalid_value';
    return issue.path.length + (otherKind ? 0 : 1);
  };
  return Math.max(0, ...issues.map(deepest));
}

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
function nodesAt(schema: z.ZodType, value: unknown, path: readonly PropertyKey[]): JsonSchema[] {
  const json = z.toJSONSchema(schema, { io: 'input', unrepresentable: 'any' }) as JsonSchema;
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
