// Writes the JSON Schemas of the files that people write into dist/schemas, with the samples as examples.
// `tiltwright schema` prints them, the package exports them as `tiltwright/schemas/...`, and a file names
// one by its `$schema`, so that an editor checks and explains it.
import { mkdir, readFile, writeFile } from 'node:fs/promises';
import { schemaOf } from '../dist/lib/job/file-schemas.js';

// What each file is, and the sample that is its example.
const FILES = {
  job: {
    description:
      'A job: which part, on which machine, of which material, and the rules of every stage. All keys may be left out.',
    sample: 'samples/hose-manifold/job.json',
  },
  machine: {
    description:
      'A machine: its joints, head, table and nozzle, the limits of its motion, and the words of its programs.',
    sample: 'samples/machines/table-table-ac.json',
  },
  material: {
    description: 'A material: what the filament asks for, mostly from its data sheet.',
    sample: 'samples/materials/pla.json',
  },
};

const to = new URL('../dist/schemas/', import.meta.url);
await mkdir(to, { recursive: true });
for (const [what, { description, sample }] of Object.entries(FILES)) {
  const example = JSON.parse(await readFile(new URL(`../${sample}`, import.meta.url), 'utf8'));
  const { $schema, ...rest } = schemaOf(what);
  // A name, not an address: the file lies in the package.
  const $id = `urn:tiltwright:schema:${what}`;
  const title = `tiltwright ${what} file`;
  const schema = { $schema, $id, title, description, ...rest, examples: [example] };
  await writeFile(new URL(`${what}.schema.json`, to), `${JSON.stringify(schema, null, 2)}\n`);
}
