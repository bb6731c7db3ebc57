// Bundles the page of results (lib/page/client) into dist/page/page.html: one template with its script
// and style inside, into which lib/page/data/page.ts puts the data of a program; likewise the page of a machine
// (lib/page/client/machine) into dist/page/machine.html. Bundles the script of the service's page into
// dist/page/jobs.js.
import { mkdir, readFile, writeFile } from 'node:fs/promises';
import { build } from 'esbuild';

const at = (path) => new URL(`../${path}`, import.meta.url);
const source = 'lib/page/client';

/** One page: its script and style inside its template. */
async function makePage(folder, styles, to) {
  const bundled = await build({
    entryPoints: [at(`${folder}/main.ts`).pathname],
    tsconfig: at(`${source}/tsconfig.json`).pathname,
    bundle: true,
    minify: true,
    write: false,
    format: 'iife',
    target: 'es2022',
    legalComments: 'inline',
    logLevel: 'warning',
  });
  const contents = await Promise.all(styles.map((path) => readFile(at(path), 'utf8')));
  const style = await build({
    stdin: { contents: contents.join('\n'), loader: 'css' },
    minify: true,
    write: false,
    legalComments: 'inline',
  });
  // A closing tag inside a script would end it.
  const script = bundled.outputFiles[0].text.replaceAll('</script', '<\\/script');
  const template = await readFile(at(`${folder}/page.html`), 'utf8');
  const page = template
    .replace('<!--style-->', () => `<style>${style.outputFiles[0].text}</style>`)
    .replace('<!--script-->', () => `<script>${script}</script>`);
  await mkdir(at('dist/page'), { recursive: true });
  await writeFile(at(`dist/page/${to}`), page);
}

const look = `${source}/style.css`;
await makePage(source, ['node_modules/uplot/dist/uPlot.min.css', look], 'page.html');
await makePage(`${source}/machine`, [look, `${source}/machine/style.css`], 'machine.html');

// The script of the service's page.
const jobs = 'worker/service/page/client';
await build({
  entryPoints: [at(`${jobs}/main.ts`).pathname],
  tsconfig: at(`${jobs}/tsconfig.json`).pathname,
  outfile: at('dist/page/jobs.js').pathname,
  bundle: true,
  minify: true,
  format: 'esm',
  target: 'es2022',
  legalComments: 'inline',
  logLevel: 'warning',
});
