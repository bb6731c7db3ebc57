// Lays the solid kernel beside the compiled code, in dist/vendor: the program of manifold-3d and its WASM,
// unchanged, with their licence. Installed as a dependency the package would bring an image library, a
// bundler and a glTF library for its own command (41 MB, 46 packages), of which nothing here is loaded.
// `#solid-kernel` in package.json names the copy; tests on the sources take the package itself.
import { copyFile, mkdir, readFile, writeFile } from 'node:fs/promises';

const NAME = 'manifold-3d';
const from = new URL(`../node_modules/${NAME}/`, import.meta.url);
const to = new URL(`../dist/vendor/${NAME}/`, import.meta.url);

await mkdir(to, { recursive: true });
for (const file of ['manifold.js', 'manifold.wasm', 'LICENSE'])
  await copyFile(new URL(file, from), new URL(file, to));
const { version, license, repository } = JSON.parse(
  await readFile(new URL('package.json', from), 'utf8'),
);
const source = repository?.url ?? repository ?? '';
await writeFile(
  new URL('NOTICE', to),
  `manifold.js and manifold.wasm are those of ${NAME} ${version}, unchanged.\nLicence: ${license}, in LICENSE.\nSource: ${source}\n`,
);
