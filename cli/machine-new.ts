/**
 * `tiltwright machine new`: a machine file from answers, which come from flags, from a JSON file or, for what is
 * left, from whoever sits at the terminal. A wrong answer at the terminal is asked again; from flags and files all
 * that is wrong is told at once. Nothing is written before everything is answered and the file reads.
 */
import { createInterface } from 'node:readline';
import { Command } from 'commander';
import type { Answers, MachineAnswer } from '../lib/index.js';
import { Fault } from '../lib/base/fault.js';
import { within } from '../lib/base/json.js';
import {
  completeAnswers,
  flagOf,
  nextQuestion,
  readAnswer,
  readAnswers,
} from '../lib/commission/answers.js';
import { UNMEASURED, machineFromAnswers } from '../lib/commission/machine-from-answers.js';
import { QUESTIONS, type Question } from '../lib/commission/questions.js';
import { readMachine } from '../lib/machine/read-files.js';
import { senseLines } from '../lib/machine/sense.js';
import { readJson, writeNew } from './files.js';
import { printLines, sayLines } from './streams.js';
import { isAnswering, listen } from './wire.js';

export function newCommand(): Command {
  const command = new Command('new')
    .description(
      'a machine file from answers: flags, a file of answers, or questions at the terminal',
    )
    .requiredOption('--out <file>', 'machine file; must not exist yet')
    .option(
      '--answers <file>',
      'JSON with answers by the names of the flags, such as "xTravel": [-160, 160]',
    );
  for (const question of QUESTIONS) {
    const { key, kind } = question;
    const value = kind.is === 'lines' ? '<line...>' : `<${unitOf(question)}>`;
    command.option(`--${flagOf(key)} ${value}`, question.text({}));
  }
  return command.action(run);
}

/** What a flag takes, for its help. */
function unitOf({ kind }: Question): string {
  if (kind.is !== 'numbers') return kind.is;
  const numbers = kind.rising ? 'least,most' : kind.counts.at(-1)! > 1 ? 'numbers' : kind.unit;
  return kind.word ? `${numbers} or ${kind.word}` : numbers;
}

type NewFlags = { readonly out: string; readonly answers?: string } & Readonly<
  Record<string, unknown>
>;

async function run({ out, answers: path, ...flags }: NewFlags): Promise<void> {
  const fromFile = path === undefined ? {} : await answersAt(path);
  const fromFlags = readAnswers({ ...fromFile, ...flags }, (key) =>
    key in flags ? `--${flagOf(key)}` : `${key} in ${path}`,
  );
  const given = isAnswering() ? await ask(fromFlags) : fromFlags;
  const complete = completeAnswers(given, (key) => `--${flagOf(key)}`);
  const file = machineFromAnswers(complete);
  // What is written must read.
  const machine = readMachine(file);
  await writeNew(out, machineText(file));
  const { guessed } = file as { guessed: Record<string, string> };
  printLines([
    ...senseLines(machine),
    ...assumedLines(guessed),
    ...UNMEASURED.map((what) => `not measured yet: ${what}`),
    `written to ${out}; next: tiltwright machine check ${out}`,
  ]);
}

/** @throws Fault `file/*`, `machine/bad-answer` */
async function answersAt(path: string): Promise<Record<string, unknown>> {
  return within(await readJson(path, 'the answers'), (value) => {
    if (value !== null && typeof value === 'object' && !Array.isArray(value)) {
      return value as Record<string, unknown>;
    }
    throw new Fault('machine/bad-answer', 'the answers are not an object of names and values', {
      file: path,
    });
  });
}

/** Puts the questions that are left to a person. An empty line takes what is assumed. */
async function ask(given: Answers): Promise<Answers> {
  const answers: Record<string, MachineAnswer> = { ...given };
  const skipped = new Set<string>();
  let question = nextQuestion(answers, skipped);
  if (!question) return answers;
  sayLines([
    'Stand on the side of Y- and look towards Y+, X+ on your right. An empty line takes what stands in brackets.',
  ]);
  const lines = createInterface({ input: listen() })[Symbol.asyncIterator]();
  for (; question; question = nextQuestion(answers, skipped)) {
    const assumed = question.guess?.(answers).value;
    process.stderr.write(
      `${question.text(answers)}${assumed === undefined ? '' : ` [${String(assumed)}]`} `,
    );
    const { value, done } = await lines.next();
    if (done) break;
    const text = value.trim();
    if (text === '' && assumed !== undefined) {
      skipped.add(question.key);
      continue;
    }
    const read = readAnswer(question, text, answers);
    if ('answer' in read) answers[question.key] = read.answer;
    else sayLines([read.wrong]);
  }
  return answers;
}

/** JSON with lists of numbers on one line each, as a person would write them. */
const machineText = (file: object): string =>
  `${JSON.stringify(file, null, 2).replace(
    /\[\n\s+(-?[\d.]+(?:,\n\s+-?[\d.]+)*)\n\s+\]/g,
    (_, numbers: string) => `[${numbers.split(/,\s+/).join(', ')}]`,
  )}\n`;

/** What is assumed, one line for each place that it is from. */
function assumedLines(guessed: Readonly<Record<string, string>>): string[] {
  const reasons = [...new Set(Object.values(guessed))];
  return reasons.map((from) => {
    const keys = Object.keys(guessed).filter((key) => guessed[key] === from);
    return `assumed: ${keys.join(', ')}: ${from}`;
  });
}
