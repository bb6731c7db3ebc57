// One type a word, one word a value: names of types are unique across lib, and constants (in capitals) that stand
// at the head of more than one module have one value.
import { readFileSync, readdirSync } from 'node:fs';
import { join } from 'node:path';
import ts from 'typescript';

const root = join(import.meta.dirname, '..');
const files = readdirSync(join(root, 'lib'), { recursive: true })
  .filter((f) => f.endsWith('.ts'))
  .map((f) => join('lib', f));

/** Name to the places where it is declared, each with what it stands for. */
const types = new Map();
const constants = new Map();
const note = (map, name, file, value) => map.set(name, [...(map.get(name) ?? []), { file, value }]);

for (const file of files) {
  const source = ts.createSourceFile(
    file,
    readFileSync(join(root, file), 'utf8'),
    ts.ScriptTarget.Latest,
  );
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
if (problems.length > 0) {
  console.error(problems.sort().join('\n'));
  console.error(`${problems.length} names stand for more than one thing`);
  process.exit(1);
}
