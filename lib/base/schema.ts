/**
 * A JSON value becomes a checked record, or a Fault that names the key, the value and the limit.
 * Unknown keys are refused with the nearest known one. The schema work is zod's.
 */
import { closest } from 'fastest-levenshtein';
import { z } from 'zod';
import { Fault } from './fault.js';

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
  const more = issues.length > 1 ? ` (and ${issues.length - 1} more)` : '';
  const key = issue.path.join('.');
  const place = { ...(key ? { key } : {}), ...(file ? { file } : {}) };
  if (issue.code === 'unrecognized_keys') {
    const name = issue.keys[0]!;
    const known = knownKeys(schema, issue.path);
    const hint = known.length ? `; the nearest known key is "${closest(name, known)}"` : '';
    const where = key ? ` in ${key}` : '';
    throw new Fault(`${area}/unknown-key`, `unknown key "${name}"${where}${hint}${more}`, {
      ...place,
      key: [...issue.path, name].join('.'),
    });
  }
  const got = 'input' in issue ? `, got ${show(issue.input)}` : '';
  throw new Fault(
    `${area}/bad-value`,
    `${key || 'the value'}: ${lowerFirst(issue.message)}${got}${more}`,
    place,
  );
}

/** Looks inside failed unions: the branch that got furthest explains the failure best. */
function flatten(
  issues: readonly z.core.$ZodIssue[],
  prefix: PropertyKey[] = [],
): z.core.$ZodIssue[] {
  return issues.flatMap((issue): z.core.$ZodIssue[] => {
    const path = [...prefix, ...issue.path];
    if (issue.code === 'invalid_union' && issue.errors.length) {
      const deepest = [...issue.errors].sort((a, b) => depth(b) - depth(a))[0]!;
      if (depth(deepest) > 0) return flatten(deepest, path);
    }
    return [{ ...issue, path }];
  });
}

const depth = (issues: readonly z.core.$ZodIssue[]): number =>
  Math.max(0, ...issues.map((i) => i.path.length + (i.code === 'unrecognized_keys' ? 1 : 0)));

/** The keys that the schema knows at a path, looking through defaults, arrays and unions. */
function knownKeys(schema: z.ZodType, path: readonly PropertyKey[]): string[] {
  const json = z.toJSONSchema(schema, { io: 'input', unrepresentable: 'any' }) as JsonSchema;
  let level: JsonSchema[] = [json];
  for (const part of path) {
    level = level
      .flatMap(branches)
      .flatMap((s) =>
        typeof part === 'number'
          ? [s.items, ...(s.prefixItems ?? [])]
          : [s.properties?.[String(part)]],
      )
      .filter((s): s is JsonSchema => !!s);
  }
  return level.flatMap(branches).flatMap((s) => Object.keys(s.properties ?? {}));
}

interface JsonSchema {
  properties?: Record<string, JsonSchema>;
  items?: JsonSchema;
  prefixItems?: JsonSchema[];
  anyOf?: JsonSchema[];
  oneOf?: JsonSchema[];
}

const branches = (s: JsonSchema): JsonSchema[] => [
  s,
  ...[...(s.anyOf ?? []), ...(s.oneOf ?? [])].flatMap(branches),
];

function show(value: unknown): string {
  const text = JSON.stringify(value) ?? String(value);
  return text.length > 60 ? `${text.slice(0, 57)}...` : text;
}

const lowerFirst = (text: string): string => text.charAt(0).toLowerCase() + text.slice(1);
