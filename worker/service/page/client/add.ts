/**
 * Adding a machine or a material: a JSON file goes to the service, which reads it and lists what is wrong.
 */
import { Refused, problemsOf, send } from './api.js';
import type { Choice, Kind } from './choice.js';
import { at, make, say } from './dom.js';

export function openAdding(choices: Readonly<Record<Kind, Choice>>): void {
  const file = at<HTMLInputElement>('add-file');
  const name = at<HTMLInputElement>('add-name');
  const button = at<HTMLButtonElement>('add-send');
  const kind = at<HTMLSelectElement>('add-kind');
  let replaces = '';
  const again = (): void => {
    replaces = '';
    say(button, ADD);
  };
  file.addEventListener('change', () => {
    const chosen = file.files?.[0];
    if (chosen) name.value = nameFrom(chosen.name);
    again();
  });
  for (const field of [name, kind]) field.addEventListener('input', again);
  const add = async (): Promise<void> => {
    const chosen = file.files?.[0];
    if (!chosen) return refuse(['Choose a file first.']);
    const choice = choices[kind.value as Kind];
    const called = name.value.trim();
    if (called === '') return refuse(['Give it a name.']);
    // The second press counts: what the library holds under the name is gone then.
    if (choice.has(called) && replaces !== called) {
      replaces = called;
      say(button, `Replace ${called}`);
      return say(at('add-answer'), `There is a ${choice.kind} named ${called} already.`);
    }
    await send(`/v1/${choice.kind}s/${encodeURIComponent(called)}`, 'PUT', await read(chosen));
    await choice.refresh(called);
    again();
    say(at('add-answer'), `Added and chosen: the ${choice.kind} ${called}.`);
  };
  button.addEventListener('click', () => {
    say(at('add-answer'), '');
    add().catch((error: unknown) => refuse(problemsOf(error)));
  });
}

const ADD = 'Add to the library';

function refuse(problems: readonly string[]): void {
  const lines = problems.map((p) => make('p', { class: 'problem' }, p));
  at('add-answer').replaceChildren(...lines);
}

/** The library takes letters, digits, spaces, dots, underscores and hyphens. */
const nameFrom = (file: string): string =>
  file
    .replace(/\.json$/i, '')
    .replace(/[^\p{L}\p{N} ._-]/gu, ' ')
    .replace(/^[^\p{L}\p{N}]+/u, '')
    .slice(0, 64);

async function read(file: File): Promise<object> {
  try {
    return JSON.parse(await file.text()) as object;
  } catch (error) {
    throw new Refused(`${file.name} is not JSON: ${(error as Error).message}`);
  }
}
