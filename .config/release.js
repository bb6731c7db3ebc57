// Makes a release in the working tree: `npm run release -- patch|minor|major [--dry-run]`. It raises the
// version, dates what stands under "Unreleased" in the page of changes, builds, packs the tarball into
// out/release, and has it checked by publint and arethetypeswrong; then it commits and tags. A tree with
// changes is refused, a failure puts everything back, and nothing is pushed or published. A dry run does
// all of it but the commit and the tag, and puts everything back as well.
import { spawnSync } from 'node:child_process';
import { mkdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';

const CHANGES = 'cli/guide/changes.md';
const CITATION = 'CITATION.cff';
const FILES = ['package.json', 'package-lock.json', CHANGES, CITATION];
const FOLDER = 'out/release';
const UNRELEASED = '## Unreleased\n';

/** The program of a tool that this repository depends on. */
const toolAt = (path) => fileURLToPath(new URL(`../node_modules/${path}`, import.meta.url));

class Refusal extends Error {}

function run(command, args) {
  const { status, stdout, stderr } = spawnSync(command, args, { encoding: 'utf8' });
  if (status === 0) return stdout;
  throw new Refusal(`${command} ${args.join(' ')} ended with ${status}:\n${stdout}${stderr}`);
}

/** By Semantic Versioning 2.0.0, items 6 to 8. */
function raised(version, step) {
  const [major, minor, patch] = version.split('.').map(Number);
  if (step === 'major') return `${major + 1}.0.0`;
  return step === 'minor' ? `${major}.${minor + 1}.0` : `${major}.${minor}.${patch + 1}`;
}

/** The page with what is unreleased under the version and its day, and an empty heading over it. */
function dated(page, version, day) {
  const begin = page.indexOf(UNRELEASED);
  if (begin < 0) throw new Refusal(`${CHANGES} has no line "${UNRELEASED.trim()}"`);
  const [entries] = page.slice(begin + UNRELEASED.length).split(/^## /m);
  if (!/^- /m.test(entries)) throw new Refusal(`${CHANGES} has nothing under "Unreleased"`);
  const heading = `${UNRELEASED}\n## ${version} (${day})\n`;
  return page.replace(UNRELEASED, () => heading);
}

function cited(text, version, day) {
  const made = text
    .replace(/^version: .*$/m, `version: ${version}`)
    .replace(/^date-released: .*$/m, `date-released: ${day}`);
  for (const line of [`version: ${version}`, `date-released: ${day}`])
    if (!made.includes(`${line}\n`)) throw new Refusal(`${CITATION} has no line for "${line}"`);
  return made;
}

function prepare(version, day) {
  const [page, citation] = [CHANGES, CITATION].map((file) => readFileSync(file, 'utf8'));
  writeFileSync(CHANGES, dated(page, version, day));
  writeFileSync(CITATION, cited(citation, version, day));
  run('npm', ['version', version, '--no-git-tag-version']);
  // What an earlier build or a benchmark left there would be packed too.
  rmSync('dist', { recursive: true, force: true });
  run('npm', ['run', 'build']);
  mkdirSync(FOLDER, { recursive: true });
  const [{ filename }] = JSON.parse(run('npm', ['pack', '--json', '--pack-destination', FOLDER]));
  const tarball = join(FOLDER, filename);
  run(process.execPath, [toolAt('publint/src/cli.js'), 'run', tarball, '--strict']);
  // Only what imports ES modules can use the package.
  const types = [toolAt('@arethetypeswrong/cli/dist/index.js'), tarball, '--profile', 'esm-only'];
  run(process.execPath, types);
  return tarball;
}

function release(step, dry) {
  const changes = run('git', ['status', '--porcelain']);
  if (changes) throw new Refusal(`the tree has changes; commit or remove them first:\n${changes}`);
  const { version: before } = JSON.parse(readFileSync('package.json', 'utf8'));
  const version = raised(before, step);
  const day = new Date().toISOString().slice(0, 10);
  let done = false;
  try {
    console.log(`${version}: ${prepare(version, day)}`);
    if (dry) return;
    run('git', ['commit', '-q', '-m', `Version ${version}`, '--', ...FILES]);
    done = true;
    run('git', ['tag', '-a', `v${version}`, '-m', `Version ${version}`]);
    console.log(
      `committed and tagged v${version}; to publish: git push --follow-tags, npm publish`,
    );
  } finally {
    if (!done) run('git', ['checkout', '-q', 'HEAD', '--', ...FILES]);
  }
}

const [step, flag, ...rest] = process.argv.slice(2);
const known = ['patch', 'minor', 'major'].includes(step) && [undefined, '--dry-run'].includes(flag);
if (!known || rest.length > 0) {
  console.error('usage: npm run release -- patch|minor|major [--dry-run]');
  process.exitCode = 2;
} else {
  try {
    release(step, flag !== undefined);
  } catch (error) {
    if (!(error instanceof Refusal)) throw error;
    console.error(error.message);
    process.exitCode = 1;
  }
}
