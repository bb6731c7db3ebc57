/** Tables are put between the markers of the page of measurements, and the page has those of every table. */
import { readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { expect, test } from 'vitest';
import { put, tableOf } from './page.js';

const measured = {
  name: 'corpus',
  command: 'npm run corpus',
  where: 'on a desk',
  table: ['| a |', '|---|', '| $1 |'],
};
const page = '# Page\n\nbefore\n\n<!-- measured: corpus -->\n\nold\n\n<!-- end -->\n\nafter\n';

test('a table replaces what stood between its markers and nothing else', () => {
  const once = put(page, measured);
  expect(once).toBe(
    '# Page\n\nbefore\n\n<!-- measured: corpus -->\n\n`npm run corpus`, on a desk:\n\n| a |\n|---|\n| $1 |\n\n<!-- end -->\n\nafter\n',
  );
  expect(put(once, measured)).toBe(once);
});

test('a page without the markers and a table without rows are refused', () => {
  expect(() => put(page, { ...measured, name: 'bench' })).toThrow('no markers for "bench"');
  expect(() => put(page, { ...measured, table: ['| a |', '|---|'] })).toThrow('a table of 2 lines');
});

test('only the lines of tables are taken from what a command prints', () => {
  expect(tableOf('2 cores\n| a |\n|---|\n  least in line 5\n| 1 |\n')).toEqual([
    '| a |',
    '|---|',
    '| 1 |',
  ]);
});

test('the page has markers for every table that is measured', () => {
  const read = (path: string): string =>
    readFileSync(fileURLToPath(new URL(path, import.meta.url)), 'utf8');
  const known = [...read('main.ts').matchAll(/^ {2}(\w+): \{ script: '([\w:]+)'/gm)];
  const marked = [
    ...read('../../cli/guide/measurements.md').matchAll(/^<!-- measured: (\w+) -->$/gm),
  ];
  expect(known.length).toBeGreaterThan(3);
  expect(marked.map(([, name]) => name)).toEqual(known.map(([, name]) => name));
  const { scripts } = JSON.parse(read('../../package.json')) as { scripts: object };
  for (const [, , script] of known) expect(scripts).toHaveProperty([script!]);
});
