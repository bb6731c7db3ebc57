/**
 * `tiltwright completion <shell>`: a script that lets a shell complete commands, flags and the words that
 * a flag may be. It is made from the commands themselves; what it does not know is a file.
 */
import { Argument, Command } from 'commander';
import { printLines } from './streams.js';

/** A command, its words from the name of the program on. */
interface Node {
  readonly path: string;
  readonly about: string;
  readonly inner: readonly Node[];
  readonly flags: readonly Flag[];
}

interface Flag {
  readonly name: string;
  readonly about: string;
  /** Whether a value follows. */
  readonly takes: boolean;
  readonly choices: readonly string[];
}

const SHELLS = { bash, zsh, fish } as const;

/** @param all gives every command */
export function completionCommand(all: () => Promise<Command[]>): Command {
  return new Command('completion')
    .addArgument(new Argument('<shell>', 'of which shell').choices(Object.keys(SHELLS)))
    .action(async (shell: keyof typeof SHELLS) => {
      const nodes = (await all()).map((command) => nodeOf(command, ''));
      printLines(SHELLS[shell](nodes).split('\n'));
    });
}

function nodeOf(command: Command, outer: string): Node {
  const path = outer === '' ? command.name() : `${outer} ${command.name()}`;
  const flags = command.options
    .filter((option) => option.long !== undefined)
    .map(({ long, description, required, optional, argChoices }) => ({
      name: long!,
      about: firstWords(description),
      takes: required || optional,
      choices: argChoices ?? [],
    }));
  const help = { name: '--help', about: 'display help', takes: false, choices: [] };
  return {
    path,
    about: firstWords(command.description()),
    inner: command.commands.map((inner) => nodeOf(inner, path)),
    flags: [...flags, help],
  };
}

/** Short enough for a list beside the words. */
const firstWords = (text: string): string => text.split(/[;,:(]/)[0]!.trim();

const nameOf = ({ path }: Node): string => path.split(' ').at(-1)!;
const withInner = (nodes: readonly Node[]): Node[] =>
  nodes.flatMap((n) => [n, ...withInner(n.inner)]);

function bash(nodes: readonly Node[]): string {
  const known = withInner(nodes);
  const words = (path: string, list: readonly string[]): string =>
    `    ${quoted(path)}) words=${quoted(list.join(' '))} ;;`;
  return [
    '_tiltwright() {',
    '  local path= words= word cur=${COMP_WORDS[COMP_CWORD]}',
    '  for word in "${COMP_WORDS[@]:1:COMP_CWORD-1}"; do',
    '    case "${path:+$path }$word" in',
    `      ${known.map(({ path }) => quoted(path)).join('|')}) path="\${path:+$path }$word" ;;`,
    '    esac',
    '  done',
    '  case "$path" in',
    words('', [...nodes.map(nameOf), '--help', '--version']),
    ...known.map(({ path, inner, flags }) =>
      words(path, [...inner.map(nameOf), ...flags.map((f) => f.name)]),
    ),
    '  esac',
    '  COMPREPLY=($(compgen -W "$words" -- "$cur"))',
    '}',
    // Where no word fits, the shell completes names of files.
    'complete -o default -F _tiltwright tiltwright',
  ].join('\n');
}

/** zsh understands the script of bash by a module of its own. */
function zsh(nodes: readonly Node[]): string {
  return `#compdef tiltwright\nautoload -U +X bashcompinit && bashcompinit\n${bash(nodes)}`;
}

function fish(nodes: readonly Node[]): string {
  const line = (when: string, ...rest: string[]): string =>
    ['complete -c tiltwright', `-n ${quoted(when)}`, ...rest].join(' ');
  const seen = (path: string): string =>
    path
      .split(' ')
      .map((word) => `__fish_seen_subcommand_from ${word}`)
      .join('; and ');
  const commands = (when: string, list: readonly Node[]): string[] =>
    list.map((n) => line(when, '-f', `-a ${nameOf(n)}`, `-d ${quoted(n.about)}`));
  return [
    ...commands('__fish_use_subcommand', nodes),
    ...withInner(nodes).flatMap(({ path, inner, flags }) => [
      ...commands(
        `${seen(path)}; and not __fish_seen_subcommand_from ${inner.map(nameOf).join(' ')}`,
        inner,
      ),
      ...flags.map(({ name, about, takes, choices }) =>
        line(
          seen(path),
          `-l ${name.slice(2)}`,
          ...(takes ? ['-r'] : []),
          ...(choices.length > 0 ? [`-a ${quoted(choices.join(' '))}`] : []),
          `-d ${quoted(about)}`,
        ),
      ),
    ]),
  ].join('\n');
}

/** In single quotes, for bash and fish alike. */
const quoted = (text: string): string => `'${text.replaceAll("'", "'\\''")}'`;
