/**
 * Answers to the questions about a new machine: read from text (a terminal, a flag) or from JSON, checked one by
 * one, with everything that is wrong told at once. What is not answered and can be assumed is assumed, and said.
 */
import { Fault, type FaultData } from '../base/fault.js';
import { nearest } from '../base/schema.js';
import { type MachineAnswer, type Answers, QUESTIONS, type Question } from './questions.js';

/** Answers to all questions that arise, and which of them were assumed, with where each is from. */
export interface CompleteAnswers {
  readonly answers: Answers;
  readonly assumed: Readonly<Record<string, string>>;
}

const DECIMAL_TEXT = /^[+-]?(\d+\.?\d*|\.\d+)$/;

/** A key as a flag: `xTravel` is `x-travel`. */
export const flagOf = (key: string): string => key.replace(/[A-Z]/g, (c) => `-${c.toLowerCase()}`);

/**
 * @param given text, or what stands in a JSON file
 * @returns the answer, or what is wrong with it
 */
export function readAnswer(
  question: Question,
  given: unknown,
  before: Answers,
): { readonly answer: MachineAnswer } | { readonly wrong: string } {
  const wrong = (expected: string): { wrong: string } => ({
    wrong: `${expected} was expected, got ${typeof given === 'string' ? given : JSON.stringify(given)}`,
  });
  const { kind } = question;
  switch (kind.is) {
    case 'choice': {
      const choices = kind.of(before);
      const text = typeof given === 'string' ? given.trim().toLowerCase() : '';
      const found = choices.filter((c) => c === text);
      const begun =
        found.length > 0 || text === '' ? found : choices.filter((c) => c.startsWith(text));
      return begun.length === 1 ? { answer: begun[0]! } : wrong(`one of "${choices.join('", "')}"`);
    }
    case 'text': {
      if (
        typeof given === 'string' &&
        /^[^\r\n]*\S[^\r\n]*$/.test(given) &&
        given.length <= kind.most
      )
        return { answer: given.trim() };
      return wrong(`a text of 1 to ${kind.most} characters`);
    }
    case 'letter': {
      const text = typeof given === 'string' ? given.trim().toUpperCase() : '';
      return kind.of.includes(text)
        ? { answer: text }
        : wrong(`one of the letters ${kind.of.join(' ')}`);
    }
    case 'lines': {
      const lines = typeof given === 'string' ? [given] : given;
      const fine =
        Array.isArray(lines) &&
        lines.every((l) => typeof l === 'string' && l.length <= 256 && !/[\r\n]/.test(l));
      return fine
        ? { answer: lines as string[] }
        : wrong('lines of a program, at most 256 characters each');
    }
    case 'numbers':
      return numbersOf(kind, given) ?? wrong(expectedOf(kind));
  }
}

type NumberKind = Extract<Question['kind'], { is: 'numbers' }>;

function numbersOf(
  kind: NumberKind,
  given: unknown,
): { readonly answer: MachineAnswer } | undefined {
  if (typeof given === 'string' && kind.word === given.trim().toLowerCase()) {
    return { answer: kind.word };
  }
  const parts = typeof given === 'string' ? given.trim().split(/\s*,\s*|\s+/) : [given].flat();
  const values = parts.map((p) => (typeof p === 'string' && DECIMAL_TEXT.test(p) ? Number(p) : p));
  if (!kind.counts.includes(values.length)) return undefined;
  const [least, most] = kind.limits;
  const inside = values.every((v) => typeof v === 'number' && v >= least && v <= most);
  const numbers = values as number[];
  if (!inside || (kind.rising && !(numbers[0]! < numbers[1]!))) return undefined;
  return { answer: numbers.length === 1 ? numbers[0]! : numbers };
}

/** "2 numbers from -1500 to 1500 mm, the first the lesser" */
function expectedOf({ counts, limits, unit, rising, word }: NumberKind): string {
  const many = counts.length > 1 ? counts.join(' or ') : String(counts[0]);
  const what = many === '1' ? 'a number' : `${many} numbers`;
  const range = `from ${limits[0]} to ${limits[1]}${unit && ` ${unit}`}`;
  return `${what} ${range}${rising ? ', the first the lesser' : ''}${word ? `, or "${word}"` : ''}`;
}

/** The next question that arises and has neither an answer nor, unless it is asked all the same, a guess. */
export const nextQuestion = (given: Answers, skipped: ReadonlySet<string>): Question | undefined =>
  QUESTIONS.find(
    (q) =>
      given[q.key] === undefined &&
      (q.when?.(given) ?? true) &&
      (q.guess === undefined || (q.asked === true && !skipped.has(q.key))),
  );

/**
 * Checks answers about a new machine as they were given. The keys are the flags of `tiltwright machine new`, in
 * camel case: `xTravel` for `--x-travel`.
 * @param given by key, text or JSON values: "-160, 160" or [-160, 160]
 * @param place how messages call a key, such as `--x-travel`
 * @returns answers to some of the questions, mm, deg, mm/s and deg/s
 * @throws Fault `machine/unknown-answer`, `machine/bad-answer` with every problem
 */
export function readAnswers(
  given: Readonly<Record<string, unknown>>,
  place: (key: string) => string = (key) => key,
): Answers {
  const problems: FaultData[] = [];
  const known = QUESTIONS.map((q) => q.key);
  for (const key of Object.keys(given)) {
    if (known.includes(key)) continue;
    const message = `unknown answer "${key}"${nearest(key, known)}`;
    problems.push({ code: 'machine/unknown-answer', message });
  }
  const out: Record<string, MachineAnswer> = {};
  for (const question of QUESTIONS) {
    const { key } = question;
    if (given[key] === undefined) continue;
    if (question.when?.(out) === false) {
      const message = `${place(key)}: this question does not arise with the answers before it (${question.text(out)})`;
      problems.push({ code: 'machine/bad-answer', message });
      continue;
    }
    const read = readAnswer(question, given[key], out);
    if ('answer' in read) out[key] = read.answer;
    else problems.push({ code: 'machine/bad-answer', message: `${place(key)}: ${read.wrong}` });
  }
  if (problems.length > 0) throw Fault.of(problems);
  return out;
}

/**
 * Fills in what can be assumed.
 * @param given by `readAnswers`
 * @param place how messages call a key
 * @throws Fault `machine/answer-missing` with every question that is open
 */
export function completeAnswers(
  given: Answers,
  place: (key: string) => string = (key) => key,
): CompleteAnswers {
  const answers: Record<string, MachineAnswer> = {};
  const assumed: Record<string, string> = {};
  const problems: FaultData[] = [];
  for (const question of QUESTIONS) {
    const { key, guess } = question;
    if (question.when?.(answers) === false) continue;
    if (given[key] !== undefined) answers[key] = given[key];
    else if (guess) {
      const { value, from } = guess(answers);
      answers[key] = value;
      if (from !== undefined) assumed[key] = from;
    } else {
      const message = `${place(key)} is not answered: ${question.text(answers)}`;
      problems.push({ code: 'machine/answer-missing', message });
      // What depends on it cannot be asked yet.
      if (question.leads) break;
    }
  }
  if (problems.length > 0) throw Fault.of(problems);
  return { answers, assumed };
}
