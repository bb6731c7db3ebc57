/**
 * What the help says is true: each example is a call that its command understands, exit codes stand in
 * every help, completion in bash offers the words that there are, and the published schemas take what the
 * samples are (Ajv, an independent validator of JSON Schema 2020-12).
 */
import { spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { Ajv2020 } from 'ajv/dist/2020.js';
import type { Command } from 'commander';
import { afterAll, describe, expect, test } from 'vitest';
import { allCommands } from '../../cli/all.js';
import { EXAMPLES, helpEnd } from '../../cli/examples.js';

const root = fileURLToPath(new URL('../..', import.meta.url));
const main = join(root, 'dist/cli/main.js');
const folder = mkdtempSync(join(tmpdir(), 'tiltwright-help-'));
afterAll(() => rmSync(folder, { recursive: true }));

const run = (...words: string[]): { status: number | null; out: string; err: string } => {
  const done = spawnSync(process.execPath, [main, ...words], { encoding: 'utf8' });
  return { status: done.status, out: done.stdout, err: done.stderr };
};

/** Commands that do something, by their words. */
function leaves(commands: readonly Command[], outer = ''): [string, Command][] {
  return commands.flatMap((command): [string, Command][] => {
    const path = `${outer}${command.name()}`;
    return command.commands.length > 0 ? leaves(command.commands, `${path} `) : [[path, command]];
  });
}

const commands = leaves(await allCommands());

describe('examples', () => {
  test('stand in the help of every command, and of no other', () => {
    expect(Object.keys(EXAMPLES).sort()).toEqual(commands.map(([path]) => path).sort());
  });

  test.each(commands)('%s: each is understood', async (path, command) => {
    for (const example of EXAMPLES[path] ?? []) {
      // What follows is the shell's.
      const words = example.replace(/ > .*/, '').split(' ');
      expect(words.slice(0, path.split(' ').length).join(' ')).toBe(path);
      let called = false;
      command.action(() => void (called = true)).exitOverride();
      await command.parseAsync(words.slice(path.split(' ').length), { from: 'user' });
      expect(called, example).toBe(true);
    }
  });
});

test('a help ends with examples and exit codes, those of a command within another too', () => {
  for (const words of [['slice'], ['calibrate', 'plan'], ['store']]) {
    const { status, out } = run(...words, '--help');
    expect(status).toBe(0);
    expect(out.trimEnd().endsWith(helpEnd(words.join(' ')).trimEnd())).toBe(true);
    expect(out).toMatch(/^ {2}3 {4}done, with findings of severity error$/m);
  }
});

describe('completion', () => {
  const script = run('completion', 'bash');

  /** What bash offers for the last of some words. */
  const offered = (...words: string[]): string[] => {
    const ask = `COMP_WORDS=(tiltwright ${words.map((w) => `'${w}'`).join(' ')}); COMP_CWORD=${words.length}; _tiltwright; printf '%s\\n' "\${COMPREPLY[@]}"`;
    const done = spawnSync('bash', ['-c', `${script.out}\n${ask}`], { encoding: 'utf8' });
    expect(done.stderr).toBe('');
    return done.stdout.split('\n').filter((word) => word !== '');
  };

  test.each([
    ['commands by their beginning', ['s'], ['slice', 'schema', 'serve', 'submit', 'store']],
    ['commands within a command', ['calibrate', 'p'], ['plan', 'play']],
    [
      'flags of a command',
      ['inspect', 'clip.stl', '--'],
      ['--unit', '--strict', '--deviation', '--thin', '--json', '--help'],
    ],
    ['flags of one within another', ['token', 'add', '--'], ['--data', '--help']],
    ['names of files, which are the business of the shell', ['inspect', 'clip.'], []],
  ])('%s', (_, words, expected) => {
    expect(offered(...words)).toEqual(expected);
  });

  test('settings of a job are among the flags of slice', () => {
    expect(offered('slice', '--layers-th')).toContain('--layers-thickness');
  });

  /** What a shell says of the script for it; asked where it is installed. */
  const asked = (shell: string, question: (path: string) => string): string | undefined => {
    const { status, out } = run('completion', shell);
    expect(status).toBe(0);
    if (spawnSync(shell, ['--version']).status !== 0) return undefined;
    const path = join(folder, `script.${shell}`);
    writeFileSync(path, out);
    const done = spawnSync(shell, ['-c', question(path)], { encoding: 'utf8' });
    expect([done.status, done.stderr]).toEqual([0, '']);
    return done.stdout;
  };

  test('fish offers the same', () => {
    const said = asked('fish', (path) => `source ${path}; complete -C 'tiltwright calibrate p'`);
    if (said !== undefined) expect(said).toMatch(/^plan\t.*\nplay\t.*\n$/);
  });

  test('zsh takes the script', () => {
    const said = asked(
      'zsh',
      (path) =>
        `autoload -U compinit && compinit -u -D && source ${path}; which _tiltwright | head -1`,
    );
    if (said !== undefined) expect(said).toBe('_tiltwright () {\n');
  });
});

describe.each(['job', 'machine', 'material'])('the schema of a %s file', (what) => {
  const path = join(root, `dist/schemas/${what}.schema.json`);
  const schema = JSON.parse(readFileSync(path, 'utf8')) as Record<string, unknown> & {
    examples: unknown[];
  };
  const validate = new Ajv2020({ allErrors: true, strict: false }).compile(schema);
  const where = what === 'job' ? 'samples' : `samples/${what}s`;
  const samples = readdirSync(join(root, where), { recursive: true, encoding: 'utf8' }).filter(
    (name) => (what === 'job' ? name.endsWith('job.json') : name.endsWith('.json')),
  );

  test('says what it is, and the command prints it', () => {
    expect(schema).toMatchObject({
      $schema: 'https://json-schema.org/draft/2020-12/schema',
      $id: `urn:tiltwright:schema:${what}`,
      title: `tiltwright ${what} file`,
      description: expect.stringMatching(/^A \w+: /) as string,
    });
    expect(JSON.parse(run('schema', what).out)).toEqual(schema);
  });

  test('takes its examples and every sample, with a $schema in them', () => {
    expect(schema.examples.length).toBeGreaterThan(0);
    expect(samples.length).toBeGreaterThan(2);
    const given = samples.map(
      (name) => JSON.parse(readFileSync(join(root, where, name), 'utf8')) as object,
    );
    for (const value of [...schema.examples, ...given]) {
      const named = {
        ...(value as object),
        $schema: './node_modules/tiltwright/dist/schemas/x.json',
      };
      expect(validate(named), JSON.stringify(validate.errors)).toBe(true);
    }
  });

  test('refuses an unknown key', () => {
    expect(validate({ ...(schema.examples[0] as object), hose: 1 })).toBe(false);
  });
});
