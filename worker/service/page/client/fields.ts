/** A form made from the JSON Schema of the settings: a group per stage, a field per leaf. */
import { make } from './dom.js';

export interface Schema {
  readonly type?: string;
  readonly description?: string;
  readonly default?: unknown;
  readonly enum?: readonly unknown[];
  readonly minimum?: number;
  readonly maximum?: number;
  readonly properties?: Readonly<Record<string, Schema>>;
}

/** A field: `undefined` when it is empty, so that the standard value counts. */
interface Field {
  readonly path: readonly string[];
  read(): unknown;
  /** Shows a value; the standard value leaves the field empty. */
  show(value: unknown): void;
}

export interface Fields {
  read(): object;
  /** Shows these settings and opens the groups that hold any. */
  show(settings: object): void;
}

/** Not settings: for people, or for editors. */
const PASSED_OVER = ['$schema', 'note'];

/** Fills a place with fields, which are read and shown as a settings object. */
export function fieldsFor(schema: Schema, place: HTMLElement): Fields {
  const fields: Field[] = [];
  const single: HTMLElement[] = [];
  place.replaceChildren();
  for (const [key, inner] of Object.entries(schema.properties ?? {})) {
    if (PASSED_OVER.includes(key)) continue;
    if (!inner.properties) {
      single.push(fieldOf([key], inner, fields));
      continue;
    }
    const box = make('div', { class: 'fields' });
    for (const leaf of leaves(inner, [key])) box.append(fieldOf(leaf.path, leaf.schema, fields));
    const about = make('span', {}, inner.description ? `: ${inner.description}` : '');
    place.append(make('details', {}, make('summary', {}, words(key), about), box));
  }
  place.append(...single);
  return {
    read: () => settingsOf(fields),
    show(settings) {
      for (const field of fields) field.show(valueAt(settings, field.path));
      for (const group of place.querySelectorAll('details'))
        group.open = [...group.querySelectorAll('input, select')].some(
          (e) => (e as HTMLInputElement).value !== '',
        );
    },
  };
}

function leaves(schema: Schema, path: readonly string[]): { path: string[]; schema: Schema }[] {
  return Object.entries(schema.properties ?? {}).flatMap(([key, inner]) =>
    inner.properties ? leaves(inner, [...path, key]) : [{ path: [...path, key], schema: inner }],
  );
}

function fieldOf(path: readonly string[], schema: Schema, fields: Field[]): HTMLElement {
  const id = `set-${path.join('-')}`;
  const label = path
    .slice(path.length > 1 ? 1 : 0)
    .map(words)
    .join(', ');
  const input = inputOf(id, schema);
  const show = (value: unknown): void => {
    const standard = JSON.stringify(value) === JSON.stringify(schema.default);
    input.value = value === undefined || standard ? '' : textOf(value, input);
  };
  fields.push({ path, read: () => valueOf(input, schema), show });
  return make(
    'p',
    {},
    make('label', { for: id }, label),
    ...(schema.description
      ? [make('span', { class: 'hint', id: `${id}-hint` }, schema.description)]
      : []),
    input,
  );
}

function inputOf(id: string, schema: Schema): HTMLInputElement | HTMLSelectElement {
  const shared = { id, 'aria-describedby': schema.description && `${id}-hint` };
  const choices = schema.type === 'boolean' ? [true, false] : schema.enum;
  if (choices) {
    const standard = schema.default === undefined ? 'not set' : shown(schema.default);
    const options = choices.map((c) => make('option', { value: JSON.stringify(c) }, shown(c)));
    return make('select', shared, make('option', { value: '' }, standard), ...options);
  }
  const placeholder = schema.default === undefined ? 'not set' : shown(schema.default);
  const number = schema.type === 'number' || schema.type === 'integer';
  return make('input', {
    ...shared,
    placeholder,
    inputmode: number ? 'decimal' : undefined,
    autocomplete: 'off',
  });
}

const shown = (value: unknown): string => {
  if (typeof value === 'boolean') return value ? 'yes' : 'no';
  return typeof value === 'string' ? value : JSON.stringify(value);
};

/** What a field says: JSON where it is JSON, otherwise text; the service judges it. */
function valueOf(input: HTMLInputElement | HTMLSelectElement, { type }: Schema): unknown {
  const text = input.value.trim();
  if (text === '') return undefined;
  if (type === 'string' && input instanceof HTMLInputElement) return text;
  try {
    return JSON.parse(text) as unknown;
  } catch {
    return text;
  }
}

/** The text of a field that reads back as the value. */
const textOf = (value: unknown, input: HTMLInputElement | HTMLSelectElement): string =>
  typeof value === 'string' && input instanceof HTMLInputElement ? value : JSON.stringify(value);

const valueAt = (settings: object, path: readonly string[]): unknown =>
  path.reduce<unknown>((v, key) => (v as Record<string, unknown> | undefined)?.[key], settings);

function settingsOf(fields: readonly Field[]): object {
  const settings: Record<string, unknown> = {};
  for (const { path, read } of fields) {
    const value = read();
    if (value === undefined) continue;
    let level = settings;
    for (const key of path.slice(0, -1)) level = (level[key] ??= {}) as Record<string, unknown>;
    level[path.at(-1)!] = value;
  }
  return settings;
}

/** `firstLayer` as people write it. */
function words(key: string): string {
  const text = key.replace(/[A-Z]/g, (c) => ` ${c.toLowerCase()}`);
  return text.charAt(0).toUpperCase() + text.slice(1);
}
