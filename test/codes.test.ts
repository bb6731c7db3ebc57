/**
 * The page of codes and the sources agree: every code that a Fault or a finding can carry stands on the
 * page once, with a cause and a remedy, and the page names none that is gone. Codes are found in the syntax
 * trees of the sources: as whole texts, and where one is put together, by what it is put together from.
 */
import { spawnSync } from 'node:child_process';
import { readFileSync, readdirSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import ts from 'typescript';
import { describe, expect, test } from 'vitest';

const root = fileURLToPath(new URL('..', import.meta.url));

/** Areas of texts that look like codes: units and media types. */
const NOT_AREAS = ['application', 'text', 'model', 'mm', 'mm3', 'deg', 'g'];
/** Folders that commands write to if none is given. */
const FOLDERS = ['calibration', 'directions', 'drives', 'pieces', 'play', 'proof', 'result'];
/** Beginnings that are completed to names of files, not to codes. */
const NAMES = ['*', 'parts', 'results'];

/** Where a code is put together: the calls whose words complete it, or the names of a type. */
const COMPLETED: Readonly<
  Record<string, { readonly in: RegExp; readonly calls?: RegExp; readonly type?: string }>
> = {
  'machine/': { in: /^lib\/machine\//, calls: /^(refuse|say)$/ },
  'program/': { in: /^lib\/program\//, calls: /^(fault|faultAt|faultIn|#refuse)$/ },
  'readings/': { in: /^lib\/calibrate\/touch-files\.ts$/, calls: /^(refuse|refuseAt)$/ },
  'regions/asked-': { in: /^lib\/regions\/requests\/unmet-requests\.ts$/, calls: /^warning$/ },
  'regions/unsupported-': { in: /^lib\/regions\/unsupported-findings\.ts$/, type: 'Reason' },
};

const CODE = /^([a-z0-9]+|\*)\/[a-z0-9][a-z0-9-]*[a-z0-9]$/;
const WORD = /^[a-z]+(-[a-z]+)*$/;

function sources(): ts.SourceFile[] {
  return ['lib', 'worker', 'cli'].flatMap((folder) =>
    readdirSync(join(root, folder), { recursive: true, encoding: 'utf8' })
      .filter((name) => name.endsWith('.ts'))
      .map((name) => {
        const text = readFileSync(join(root, folder, name), 'utf8');
        return ts.createSourceFile(`${folder}/${name}`, text, ts.ScriptTarget.Latest, true);
      }),
  );
}

function* nodesOf(node: ts.Node): Generator<ts.Node> {
  if (ts.isImportDeclaration(node) || ts.isExportDeclaration(node)) return;
  yield node;
  const inner: ts.Node[] = [];
  ts.forEachChild(node, (child) => void inner.push(child));
  for (const child of inner) yield* nodesOf(child);
}

/** A text with a star for every value that is put into it. */
function textOf(node: ts.Node): string | undefined {
  if (ts.isStringLiteralLike(node)) return node.text;
  if (!ts.isTemplateExpression(node)) return undefined;
  return node.head.text + node.templateSpans.map((s) => `*${s.literal.text}`).join('');
}

/** The words that an argument may be: its own text, either side of a choice, a constant's. */
function wordsOf(argument: ts.Expression, file: ts.SourceFile): string[] {
  if (ts.isStringLiteralLike(argument)) return WORD.test(argument.text) ? [argument.text] : [];
  if (ts.isConditionalExpression(argument)) {
    return [argument.whenTrue, argument.whenFalse].flatMap((side) => wordsOf(side, file));
  }
  if (!ts.isIdentifier(argument)) return [];
  return [...nodesOf(file)].flatMap((node) =>
    ts.isVariableDeclaration(node) &&
    node.name.getText() === argument.text &&
    node.initializer &&
    ts.isConditionalExpression(node.initializer)
      ? wordsOf(node.initializer, file)
      : [],
  );
}

/** Name of what is called: `faultAt` of `this.#reader.faultAt(..)`, `refuseAt` of `refuseAt(1)(..)`. */
function calleeOf(call: ts.CallExpression): string {
  const { expression } = call;
  if (ts.isCallExpression(expression)) return calleeOf(expression);
  if (ts.isPropertyAccessExpression(expression)) return expression.name.text;
  return ts.isIdentifier(expression) ? expression.text : '';
}

/** The first word among the arguments is what completes a code. */
function completions(file: ts.SourceFile): string[] {
  return Object.entries(COMPLETED).flatMap(([begin, rule]) =>
    rule.in.test(file.fileName)
      ? [...nodesOf(file)].flatMap((node) => {
          if (rule.calls && ts.isCallExpression(node) && rule.calls.test(calleeOf(node))) {
            const found = node.arguments.map((a) => wordsOf(a, file)).find((w) => w.length > 0);
            return (found ?? []).map((word) => begin + word);
          }
          if (rule.type && ts.isTypeAliasDeclaration(node) && node.name.text === rule.type) {
            return [...node.type.getText().matchAll(/'(.*?)'/g)].map(([, word]) => begin + word);
          }
          return [];
        })
      : [],
  );
}

const files = sources();
const texts = files.flatMap((file) => [...nodesOf(file)].flatMap((node) => textOf(node) ?? []));
const inSources = new Set(
  [...texts.filter((text) => CODE.test(text)), ...files.flatMap(completions)].filter((code) => {
    const [area, what] = code.split('/') as [string, string];
    return !NOT_AREAS.includes(area) && !(area === 'out' && FOLDERS.includes(what));
  }),
);

const page = readFileSync(join(root, 'cli/guide/codes.md'), 'utf8');
const entries = [...page.matchAll(/^- `(.+?)`: (.*)$/gm)].map(([, code, words]) => ({
  code: code!,
  words: words!,
}));
const onPage = new Set(entries.map(({ code }) => code));
/** What stands on the page once for all areas. */
const covered = (code: string): boolean => onPage.has(code.replace(/^[^/]*/, '*'));

describe('the page of codes', () => {
  test('has every code of the sources', () => {
    expect(inSources.size).toBeGreaterThan(300);
    const absent = [...inSources].filter((code) => !onPage.has(code) && !covered(code));
    expect(absent.sort()).toEqual([]);
  });

  test('names no code that the sources do not have, and none twice', () => {
    expect([...onPage].filter((code) => !inSources.has(code))).toEqual([]);
    expect(entries.length).toBe(onPage.size);
  });

  test('knows every place where a code is put together', () => {
    const begins = texts.flatMap((text) => {
      const [, begin] = /^([a-z0-9*]+\/[a-z0-9-]*)\*[a-z0-9*-]*$/.exec(text) ?? [];
      return begin && !NAMES.includes(begin.split('/')[0]!) ? [begin] : [];
    });
    expect([...new Set(begins)].sort()).toEqual(Object.keys(COMPLETED).sort());
  });

  test('says for each a cause and then what to do', () => {
    const short = entries.filter(({ words }) => !/\S\. \S.*\.$/.test(words));
    expect(short.map(({ code }) => code)).toEqual([]);
  });

  test('has every code that README and guide speak of', () => {
    const folder = join(root, 'cli/guide');
    const areas = new Set([...onPage].map((code) => code.split('/')[0]!));
    for (const name of readdirSync(folder).filter((file) => file.endsWith('.md'))) {
      const text = readFileSync(join(folder, name), 'utf8');
      for (const [, code] of text.matchAll(/`([a-z0-9]+\/[a-z-]+)`/g)) {
        if (!areas.has(code!.split('/')[0]!) || code!.startsWith('out/')) continue;
        expect(onPage.has(code!) || covered(code!), `${name}: ${code}`).toBe(true);
      }
    }
  });
});

describe('tiltwright guide with a code', () => {
  const guide = (code: string): { status: number | null; stdout: string; stderr: string } =>
    spawnSync(process.execPath, [join(root, 'dist/cli/main.js'), 'guide', code], {
      encoding: 'utf8',
    });

  test('prints its entry, also of one that stands there for all areas', () => {
    const { words } = entries.find(({ code }) => code === 'mesh/open-edges')!;
    expect(guide('mesh/open-edges').stdout).toBe(`mesh/open-edges: ${words}\n`);
    expect(guide('material/unknown-key').stdout).toMatch(/^material\/unknown-key: /);
  });

  test('refuses one that is not there with the nearest', () => {
    const { status, stderr } = guide('mesh/open-edge');
    expect(status).toBe(1);
    expect(stderr).toMatch(/^guide\/unknown: .*'mesh\/open-edges'/);
  });
});
