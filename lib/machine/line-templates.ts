/**
 * Lines of the machine file that go into the program with placeholders in braces. The names that each
 * line may use are checked when the file is read, so that no program ends up with a brace in it.
 */
import { closest } from 'fastest-levenshtein';
import type { MachineFile } from './machine.js';

/** Throws the Fault `machine/<what>` at a key of the file. */
export type RefuseMachine = (what: string, message: string, key?: string) => never;

type Dialect = MachineFile['dialect'];

const START_AND_END_NAMES = ['nozzleTemperature', 'tableTemperature', 'material'];

/** @throws what `refuse` throws, for the first name that is not known at its place */
export function checkTexts(dialect: Dialect, refuse: RefuseMachine): void {
  dialect.start.forEach((line, i) =>
    check(line, START_AND_END_NAMES, `dialect.start.${i}`, refuse),
  );
  dialect.end.forEach((line, i) => check(line, START_AND_END_NAMES, `dialect.end.${i}`, refuse));
  if (dialect.fan) {
    check(dialect.fan.on, ['share', 'byte'], 'dialect.fan.on', refuse);
    check(dialect.fan.off, [], 'dialect.fan.off', refuse);
  }
  for (const key of ['nozzleTemperature', 'tableTemperature'] as const) {
    check(dialect[key] ?? '', ['value'], `dialect.${key}`, refuse);
  }
}

function check(line: string, known: readonly string[], key: string, refuse: RefuseMachine): void {
  for (const [, name] of line.matchAll(/\{([^{}]*)\}/g)) {
    if (known.includes(name!)) continue;
    const hint = known.length
      ? `the nearest known name is {${closest(name!, [...known])}}`
      : 'none is known here';
    refuse('unknown-name', `the line "${line}" asks for {${name}}; ${hint}`, key);
  }
}
