/**
 * Readers of the shape of a JSON value, for files in which it describes binary data. Each takes a value
 * and where it stands, and gives it with its type. A schema library says the same in fewer lines, but
 * takes longer to load than a small part to read.
 */
import { Fault } from '../base/fault.js';
import { printable } from '../base/phrases.js';

/** @throws Fault of the area's code `.../value` */
export type ShapeReader<T> = (value: unknown, where: string) => T;

type ReadBy<F> = { readonly [K in keyof F]: F[K] extends ShapeReader<infer T> ? T : never };

export interface Shapes {
  readonly text: ShapeReader<string>;
  readonly flag: ShapeReader<boolean>;
  readonly number: ShapeReader<number>;
  /** From 0 on. */
  readonly whole: ShapeReader<number>;
  /** Anything but null. */
  readonly any: ShapeReader<unknown>;
  optional<T>(read: ShapeReader<T>): ShapeReader<T | undefined>;
  standard<T>(read: ShapeReader<T>, standard: T): ShapeReader<T>;
  /** @param length exactly so many; left out: any number */
  list<T>(read: ShapeReader<T>, length?: number): ShapeReader<readonly T[]>;
  byName<T>(read: ShapeReader<T>): ShapeReader<Readonly<Record<string, T>>>;
  /** Other keys are passed over. */
  object<F extends Readonly<Record<string, ShapeReader<unknown>>>>(
    fields: F,
  ): ShapeReader<ReadBy<F>>;
}

/** @param code of the Faults */
export function shapes(code: string): Shapes {
  const wrong = (value: unknown, where: string, wanted: string): Fault => {
    const shown = typeof value === 'string' ? `"${printable(value, 40)}"` : kindOf(value);
    return new Fault(code, `${where}: ${shown} is ${wanted}`);
  };
  const plain = (value: unknown, where: string): Record<string, unknown> => {
    if (typeof value === 'object' && value !== null && !Array.isArray(value)) {
      return value as Record<string, unknown>;
    }
    throw wrong(value, where, 'no object');
  };
  const check =
    <T>(is: (value: unknown) => boolean, wanted: string): ShapeReader<T> =>
    (value, where) => {
      if (is(value)) return value as T;
      throw wrong(value, where, wanted);
    };
  return {
    text: check((v) => typeof v === 'string', 'no text'),
    flag: check((v) => typeof v === 'boolean', 'neither true nor false'),
    number: check((v) => Number.isFinite(v), 'no number'),
    whole: check((v) => Number.isSafeInteger(v) && (v as number) >= 0, 'no whole number from 0 on'),
    any: check((v) => v !== null, 'no value'),
    optional: (read) => (value, where) => (value === undefined ? undefined : read(value, where)),
    standard: (read, standard) => (value, where) =>
      value === undefined ? standard : read(value, where),
    list: (read, length) => (value, where) => {
      if (!Array.isArray(value)) throw wrong(value, where, 'no list');
      if (length !== undefined && value.length !== length) {
        throw new Fault(code, `${where}: a list of ${value.length}; ${length} are asked for`);
      }
      return value.map((item: unknown, i) => read(item, `${where}[${i}]`));
    },
    byName: (read) => (value, where) =>
      Object.fromEntries(
        Object.entries(plain(value, where)).map(([key, item]) => [
          key,
          read(item, `${where}.${printable(key, 40)}`),
        ]),
      ),
    object: (fields) => (value, where) => {
      const given = plain(value, where);
      const at = where === '' ? '' : `${where}.`;
      return Object.fromEntries(
        Object.entries(fields).map(([key, read]) => [key, read(given[key], at + key)]),
      ) as never;
    },
  };
}

const kindOf = (value: unknown): string =>
  value === undefined
    ? 'nothing'
    : value === null || typeof value !== 'object'
      ? String(value)
      : Array.isArray(value)
        ? 'a list'
        : 'an object';
