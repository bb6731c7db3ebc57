/** `tiltwright guide [topic]`: lists the pages of the guide, prints one, or says what a code means. */
import { readFile, readdir } from 'node:fs/promises';
import { Command } from 'commander';
import { closest } from 'fastest-levenshtein';
import { Fault } from '../lib/base/fault.js';
import { packaged } from '../worker/built.js';

const folder = packaged('dist/guide/');

export function guideCommand(): Command {
  return new Command('guide')
    .argument('[topic]', 'a page, by its name in the list, or a code such as mesh/unit')
    .action(async (topic?: string) => {
      process.stdout.write(topic === undefined ? await listOfPages() : await pageAbout(topic));
    });
}

async function topics(): Promise<string[]> {
  const files = (await readdir(folder)).filter((name) => name.endsWith('.md')).sort();
  return files.map((name) => name.slice(0, -'.md'.length));
}

async function listOfPages(): Promise<string> {
  const rows = (await topics()).map(async (topic) => {
    const title = /^# (.*)$/m.exec(await readPage(topic))![1]!;
    return `${topic.padEnd(14)} ${title}\n`;
  });
  return (await Promise.all(rows)).join('');
}

const readPage = (topic: string): Promise<string> =>
  readFile(new URL(`${topic}.md`, folder), 'utf8');

/** @throws Fault `guide/unknown` with the nearest page's name */
async function pageAbout(topic: string): Promise<string> {
  const all = await topics();
  if (all.includes(topic)) return readPage(topic);
  if (topic.includes('/')) return entryOf(topic);
  throw new Fault(
    'guide/unknown',
    `the guide has no page '${topic}'; did you mean '${closest(topic, all)}'? 'tiltwright guide' lists all ${all.length}`,
  );
}

/** @throws Fault `guide/unknown` with the nearest code */
async function entryOf(code: string): Promise<string> {
  const entries = [...(await readPage('codes')).matchAll(/^- `(.+?)`: (.*)$/gm)];
  // Codes such as machine/bad-value stand there once for all areas.
  const names = [code, code.replace(/^[^/]*/, '*')];
  const found = entries.find(([, name]) => names.includes(name!));
  if (found) return `${code}: ${found[2]}\n`;
  const known = entries.map(([, name]) => name!);
  throw new Fault(
    'guide/unknown',
    `there is no code '${code}'; did you mean '${closest(code, known)}'? 'tiltwright guide codes' has all ${known.length}`,
  );
}
