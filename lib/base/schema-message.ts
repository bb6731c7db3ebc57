/**
 * What a schema refused, as a phrase that follows the name of the key, such as `must be more than 0,
 * got -1`. Issues are zod's; a long value is cut.
 */
import type { z } from 'zod';
import { printable } from './printable.js';

export type SchemaIssue = z.core.$ZodIssue;

/** What was asked for and what was found. */
export function phrase(issue: SchemaIssue): string {
  const asked = wanted(issue);
  if (issue.code === 'invalid_union' && 'discriminator' in issue && issue.discriminator) {
    const found = (issue.input as Record<string, unknown> | null)?.[issue.discriminator];
    return found === undefined ? `is missing, it ${asked}` : `${asked}, got ${show(found)}`;
  }
  if (!('input' in issue)) return asked;
  return issue.input === undefined
    ? `is missing, it ${asked}`
    : `${asked}, got ${show(issue.input)}`;
}

/** The demand alone: `must be a number`. */
function wanted(issue: SchemaIssue): string {
  switch (issue.code) {
    case 'invalid_type':
      return `must be ${kinds[issue.expected] ?? issue.expected}`;
    case 'too_small':
      return bound(issue.origin, issue.minimum, issue.inclusive ? 'at least' : 'more than');
    case 'too_big':
      return bound(issue.origin, issue.maximum, issue.inclusive ? 'at most' : 'less than');
    case 'invalid_value':
      return `must be ${oneOf(issue.values.map(show))}`;
    case 'invalid_union':
      return ofUnion(issue);
    case 'invalid_key':
      return `has a name that ${issue.issues[0] ? wanted(issue.issues[0]) : 'is not known here'}`;
    case 'invalid_format':
      // The message that the schema states, or else the pattern.
      return issue.message.startsWith('Invalid string') && issue.pattern
        ? `must match ${issue.pattern}`
        : `must be ${issue.message}`;
    case 'custom':
    case 'invalid_element':
    case 'not_multiple_of':
    case 'unrecognized_keys':
      return `is refused: ${issue.message}`;
  }
}

/** The alternatives that have a short demand each, joined by "or". */
function ofUnion(issue: SchemaIssue & { code: 'invalid_union' }): string {
  if ('options' in issue && issue.options) return `must be ${oneOf(issue.options.map(show))}`;
  const each = issue.errors.map(
    (branch) => branch[0] && wanted(branch[0]).replace(/^must be /, ''),
  );
  return `must be ${oneOf(each.filter((x): x is string => !!x))}`;
}

const kinds: Readonly<Record<string, string>> = {
  number: 'a number',
  int: 'a whole number',
  string: 'a text',
  boolean: 'true or false',
  array: 'a list',
  tuple: 'a list',
  object: 'an object',
  record: 'an object',
};

const bound = (origin: string, limit: number | bigint, word: string): string =>
  origin === 'array' || origin === 'tuple' || origin === 'set'
    ? `must have ${word} ${limit} ${limit === 1 ? 'entry' : 'entries'}`
    : origin === 'string'
      ? `must have ${word} ${limit} ${limit === 1 ? 'character' : 'characters'}`
      : `must be ${word} ${limit}`;

const oneOf = (names: readonly string[]): string =>
  names.length < 2 ? names.join('') : `${names.slice(0, -1).join(', ')} or ${names.at(-1)}`;

/** A long text is shown by its beginning and its length. */
function show(value: unknown): string {
  if (typeof value === 'string' && value.length > 60) {
    return `"${printable(value.slice(0, 40))}..." of ${value.length.toLocaleString('en-US')} characters`;
  }
  const text = JSON.stringify(value) ?? String(value);
  return printable(text.length > 60 ? `${text.slice(0, 57)}...` : text);
}
