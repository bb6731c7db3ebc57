/** The pages that the build makes from schemas and commands leave nothing out. */
import { spawnSync } from 'node:child_process';
import { readFileSync, readdirSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { describe, expect, test } from 'vitest';
import { schemaOf } from '../lib/job/file-schemas.js';

const root = fileURLToPath(new URL('..', import.meta.url));
const read = (path: string): string => readFileSync(join(root, path), 'utf8');

interface Node {
  readonly description?: string;
  readonly const?: unknown;
  readonly properties?: Readonly<Record<string, Node>>;
  readonly items?: Node;
  readonly additionalProperties?: Node | boolean;
  readonly oneOf?: readonly Node[];
  readonly anyOf?: readonly Node[];
}

/** Keys without a word on what they mean; a key with one possible value tells it by that. */
function silent(node: Node, path: string): string[] {
  const own = Object.entries(node.properties ?? {}).flatMap(([key, inner]) => [
    ...(inner.description || inner.const !== undefined ? [] : [`${path}${key}`]),
    ...silent(inner, `${path}${key}.`),
  ]);
  const more = typeof node.additionalProperties === 'object' ? [node.additionalProperties] : [];
  const within = [...(node.items ? [node.items] : []), ...more];
  const forms = [...(node.oneOf ?? []), ...(node.anyOf ?? [])];
  return [...own, ...[...within, ...forms].flatMap((inner) => silent(inner, path))];
}

/** The key paths that a file uses, as the pages write them. */
function paths(value: unknown, path: string): string[] {
  if (Array.isArray(value)) return value.flatMap((inner) => paths(inner, `${path}[]`));
  if (value === null || typeof value !== 'object') return [];
  return Object.entries(value).flatMap(([key, inner]) => {
    // Joints are named by their letters.
    const name = /^[A-Z]$/.test(key) ? '<letter>' : key;
    const full = path ? `${path}.${name}` : name;
    return [full, ...paths(inner, full)];
  });
}

const SAMPLES = {
  job: ['hose-manifold', 'gutter-elbow', 'sprinkler-cap', 'trellis-node'].map(
    (name) => `samples/${name}/job.json`,
  ),
  machine: readdirSync(join(root, 'samples/machines'))
    .filter((name) => name.endsWith('.json'))
    .map((name) => `samples/machines/${name}`),
  material: readdirSync(join(root, 'samples/materials')).map((name) => `samples/materials/${name}`),
};

describe.each(['job', 'machine', 'material'] as const)('the keys of a %s file', (what) => {
  test('each has a description', () => {
    expect(silent(schemaOf(what) as Node, '')).toEqual([]);
  });

  test('those of the samples are on the page', () => {
    const page = read(`dist/guide/${what}-keys.md`);
    const same = [...page.matchAll(/^- `(.*?)` with .*: as `(.*?)`$/gm)];
    const onPage = (path: string): boolean => {
      if (page.includes(`- \`${path}\` (`) || /\.(shape|kind)$/.test(path)) return true;
      // Told once, where the same form stands first.
      return same.some(
        ([, at, first]) =>
          path.startsWith(`${at}.`) &&
          page.includes(`- \`${first}.${path.slice(at!.length + 1)}\` (`),
      );
    };
    const used = SAMPLES[what].flatMap((file) => paths(JSON.parse(read(file)), ''));
    const keys = used.filter((path) => !/\.<letter>$/.test(path));
    expect(keys.length).toBeGreaterThan(10);
    expect([...new Set(keys)].filter((path) => !onPage(path))).toEqual([]);
  });
});

test('no page shows a value that is not there', () => {
  for (const name of ['job-keys', 'machine-keys', 'material-keys', 'commands'])
    expect(read(`dist/guide/${name}.md`)).not.toMatch(/undefined|\[object/);
});

test('the page of commands has every command and flag of the help', () => {
  const page = read('dist/guide/commands.md');
  const help = (...words: string[]): string =>
    spawnSync(process.execPath, [join(root, 'dist/cli/main.js'), ...words, '--help'], {
      encoding: 'utf8',
    }).stdout;
  const commands = [...help().matchAll(/^ {2}([a-z]+)\b/gm)].map(([, name]) => name!);
  expect(commands).toContain('slice');
  for (const name of commands.filter((command) => command !== 'help'))
    expect(page).toContain(`\n## ${name}\n`);
  for (const [, flag] of help('serve').matchAll(/^ {2}(--[a-z-]+)/gm))
    expect(page).toContain(`\n- \`${flag} `);
});
