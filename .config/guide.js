// Puts the guide into dist/guide: the pages of cli/guide as they are, and those that reference.js makes from
// the program itself, as Markdown for `tiltwright guide` and as HTML for the service's /guide.
import { copyFile, mkdir, readFile, readdir, writeFile } from 'node:fs/promises';
import { Marked } from 'marked';
import { generatedPages } from './reference.js';

const from = new URL('../cli/guide/', import.meta.url);
const to = new URL('../dist/guide/', import.meta.url);

const marked = new Marked({
  // A link from page to page leads to the same page as it is served.
  walkTokens(token) {
    if (token.type === 'link') token.href = token.href.replace(/^([\w-]+)\.md/, '/guide/$1');
  },
});

const shell = (title, body) => `<!doctype html>
<html lang="en">
  <head>
    <meta charset="utf-8" />
    <meta name="viewport" content="width=device-width, initial-scale=1" />
    <meta name="color-scheme" content="light dark" />
    <title>${title} - tiltwright</title>
    <link rel="stylesheet" href="/guide/guide.css" />
  </head>
  <body>
    <nav><a href="/guide">Guide</a> <a href="/">Jobs</a></nav>
    <main>${body}</main>
  </body>
</html>
`;

await mkdir(to, { recursive: true });
await copyFile(new URL('guide.css', from), new URL('guide.css', to));

const written = (await readdir(from)).filter((name) => name.endsWith('.md'));
const pages = await Promise.all(
  written.map(async (file) => ({
    name: file.replace(/\.md$/, ''),
    text: await readFile(new URL(file, from), 'utf8'),
  })),
);
for (const { name, text } of [...pages, ...(await generatedPages())]) {
  const title = /^# (.*)$/m.exec(text)[1];
  // Wide tables scroll by themselves; the keyboard reaches them.
  const body = (await marked.parse(text))
    .replaceAll('<table>', '<div class="wide" tabindex="0"><table>')
    .replaceAll('</table>', '</table></div>');
  await writeFile(new URL(`${name}.md`, to), text);
  await writeFile(new URL(`${name}.html`, to), shell(title, body));
}
