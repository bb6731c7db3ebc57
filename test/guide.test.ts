/**
 * README and guide say nothing that is not there: links lead somewhere, commands and flags exist, files and
 * settings have the names that the text gives them.
 */
import { spawnSync } from 'node:child_process';
import { existsSync, readFileSync, readdirSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { describe, expect, test } from 'vitest';
import { schemaOf } from '../lib/job/file-schemas.js';

const root = fileURLToPath(new URL('..', import.meta.url));
const pages = [
  'README.md',
  ...readdirSync(join(root, 'cli/guide'))
    .filter((name) => name.endsWith('.md'))
    .map((name) => `cli/guide/${name}`),
];
const textOf = (page: string): string => readFileSync(join(root, page), 'utf8');
const tiltwright = (...args: string[]): { status: number | null; stdout: string; stderr: string } =>
  spawnSync(process.execPath, [join(root, 'dist/cli/main.js'), ...args], { encoding: 'utf8' });

interface Node {
  readonly properties?: Readonly<Record<string, Node>>;
  /** What any other key leads to, as the letter of a joint; false where there is no other. */
  readonly additionalProperties?: Node | false;
}

/** What a dotted name leads to in the schema of a job, machine or material file. */
function known(name: string): boolean | undefined {
  const [first, ...rest] = name.split('.');
  const files = (['job', 'machine', 'material'] as const).map((what) => schemaOf(what) as Node);
  const found = files.filter((file) => file.properties?.[first!]);
  if (found.length === 0) return undefined;
  return found.some((file) => {
    let at: Node | undefined = file.properties![first!];
    for (const key of rest) at = at?.properties?.[key] ?? (at?.additionalProperties || undefined);
    return at !== undefined;
  });
}

const helps = new Map<string, string>();
function helpOf(command: readonly string[]): string {
  const key = command.join(' ');
  if (!helps.has(key)) {
    const { status, stdout } = tiltwright(...command, '--help');
    expect(status, `tiltwright ${key} --help`).toBe(0);
    helps.set(key, stdout);
  }
  return helps.get(key)!;
}

/** Lines of a page that call the command, as words after its name. */
function calls(text: string): string[][] {
  const lines = text.matchAll(/(?:node dist\/cli\/main\.js|tiltwright) ([a-z][^\n`#]*)/g);
  return [...lines].map(([, words]) => words!.trim().split(/\s+/));
}

describe.each(pages)('%s', (page) => {
  const text = textOf(page);

  test('its links lead to files that are there', () => {
    for (const [, target] of text.matchAll(/\]\(([^)#:]+)\)/g)) {
      expect(existsSync(join(root, dirname(page), target!)), target).toBe(true);
    }
  });

  test('its commands and their flags exist', () => {
    const commands = helpOf([]);
    for (const words of calls(text)) {
      const [name, inner] = words as [string, string?];
      if (!new RegExp(`^  ${name}\\b`, 'm').test(commands)) continue;
      const hasInner =
        inner && /^[a-z]+$/.test(inner) && new RegExp(`^  ${inner}\\b`, 'm').test(helpOf([name]));
      const help = helpOf(hasInner ? [name, inner] : [name]);
      for (const word of words) {
        const flag = /^--[a-z-]+/.exec(word)?.[0];
        if (flag) expect(help, `tiltwright ${words.join(' ')}`).toContain(flag);
      }
    }
    // In blocks to copy every call is of a command that exists.
    for (const [, block] of text.matchAll(/```\n([\s\S]*?)```/g)) {
      for (const [, name] of block!.matchAll(/dist\/cli\/main\.js ([a-z]+)/g)) {
        expect(commands, name).toMatch(new RegExp(`^  ${name}\\b`, 'm'));
      }
    }
  });

  test('samples that it names are there', () => {
    for (const [path] of text.matchAll(/(?<!dist\/)samples\/[\w./-]*\w/g)) {
      expect(existsSync(join(root, path)), path).toBe(true);
    }
  });

  test('settings that it names are those of the files', () => {
    for (const [, name] of text.matchAll(/`([a-z]\w*(?:\.[a-z]\w*)+)`/gi)) {
      if (/\.(json|svg|html|csv|txt|stl|glb)$/.test(name!)) continue;
      expect(known(name!) ?? true, name).toBe(true);
    }
  });

  test('scripts that it names are those of the package', () => {
    const { scripts } = JSON.parse(textOf('package.json')) as { scripts: Record<string, string> };
    for (const [, name] of text.matchAll(/npm run ([\w:]+)/g))
      expect(scripts).toHaveProperty([name!]);
  });
});

test('README keeps to 1,800 words', () => {
  expect(textOf('README.md').split(/\s+/).length).toBeLessThanOrEqual(1800);
});

test('the command lists every page and prints one; an unknown one is refused with the nearest name', () => {
  const list = tiltwright('guide').stdout;
  for (const page of pages.slice(1)) expect(list).toContain(/guide\/(.*)\.md/.exec(page)![1]!);
  expect(tiltwright('guide', 'safety').stdout).toBe(textOf('cli/guide/safety.md'));
  const refused = tiltwright('guide', 'safty');
  expect(refused.status).toBe(1);
  expect(refused.stderr).toMatch(/^guide\/unknown: .*'safety'/);
});
