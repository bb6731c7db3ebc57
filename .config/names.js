// One type a word, one word a value: names of types are unique across lib, and constants (in capitals) that stand
// at the head of more than one module have one value. And one way in: what the public face exports, the command
// and the service import from there, as users do; the command its types alone, for it loads no more than it runs.
import { readFileSync, readdirSync } from 'node:fs';
import { dirname, join, relative } from 'node:path';
import ts from 'typescript';

const root = join(import.meta.dirname, '..');
const files = readdirSync(join(root, 'lib'), { recursive: true })
  .filter((f) => f.endsWith('.ts'))
  .map((f) => join('lib', f));

/** Name to the places where it is declared, each with what it stands for. */
const types = new Map();
const constants = new Map();
const note = (map, name, file, value) => map.set(name, [...(map.get(name) ?? []), { file, value }]);

const parsed = (file) =>
  ts.createSourceFile(file, readFileSync(join(root, file), 'utf8'), ts.ScriptTarget.Latest);

for (const file of files) {
  const source = parsed(file);
  for (const node of source.statements) {
    if (
      ts.isInterfaceDeclaration(node) ||
      ts.isTypeAliasDeclaration(node) ||
      ts.isClassDeclaration(node) ||
      ts.isEnumDeclaration(node)
    ) {
      note(types, node.name.text, file, '');
    }
    if (!ts.isVariableStatement(node)) continue;
    for (const { name, initializer } of node.declarationList.declarations) {
      if (!ts.isIdentifier(name) || !initializer || !/^[A-Z][A-Z0-9_]+$/.test(name.text)) continue;
      note(constants, name.text, file, initializer.getText(source).replace(/\s+/g, ' '));
    }
  }
}

const problems = [];
for (const [name, places] of types) {
  // A value and a type of one name in one file are two sides of one thing.
  const where = [...new Set(places.map((p) => p.file))];
  if (where.length > 1) problems.push(`type ${name}: ${where.join(', ')}`);
}
for (const [name, places] of constants) {
  const values = [...new Set(places.map((p) => p.value))];
  if (values.length > 1)
    problems.push(`constant ${name}: ${places.map((p) => `${p.value} in ${p.file}`).join(', ')}`);
}
if (problems.length > 0) problems.push(`${problems.length} names stand for more than one thing`);

const face = new Set(
  parsed('lib/index.ts').statements.flatMap((node) =>
    node.exportClause.elements.map(
      ({ name, propertyName }) => `${node.moduleSpecifier.text} ${(propertyName ?? name).text}`,
    ),
  ),
);
/** A pool thread and a client load no more than they run; what runs in a browser, or is shared with it, is bundled by itself. */
const APART = ['worker/client.ts', 'worker/thread.ts', 'worker/store/job.ts'];
const apart = (file) => APART.includes(file) || file.includes('/client/');
for (const folder of ['cli', 'worker', 'samples']) {
  for (const name of readdirSync(join(root, folder), { recursive: true })) {
    const file = join(folder, name);
    if (!file.endsWith('.ts') || apart(file)) continue;
    for (const node of parsed(file).statements) {
      if (!ts.isImportDeclaration(node) || !node.importClause?.namedBindings?.elements) continue;
      const from = relative('lib', join(dirname(file), node.moduleSpecifier.text));
      for (const e of node.importClause.namedBindings.elements) {
        if (folder === 'cli' && !node.importClause.isTypeOnly && !e.isTypeOnly) continue;
        const word = (e.propertyName ?? e.name).text;
        if (face.has(`./${from} ${word}`)) problems.push(`${file}: ${word} is in lib/index.ts`);
      }
    }
  }
}

if (problems.length > 0) {
  console.error(problems.join('\n'));
  process.exit(1);
}
