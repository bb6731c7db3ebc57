/**
 * The choice of a machine or a material. Nothing is chosen until the user has chosen; the last choice is
 * remembered on this device. A choice may also be what an earlier job had, where the library no longer
 * holds it.
 */
import { ask } from './api.js';
import { at, make, say } from './dom.js';

export type Kind = 'machine' | 'material';
/** A name in the library, or the content of a file. */
export type Chosen = string | object;

export class Choice {
  readonly #kind: Kind;
  readonly #select: HTMLSelectElement;
  /** Shows what is chosen, if it is in the library. */
  readonly #link: HTMLAnchorElement | undefined;
  #names: readonly string[] = [];
  /** Of an earlier job: its label, and what it had. */
  #earlier: { readonly label: string; readonly content: object } | undefined;

  constructor(kind: Kind, link?: HTMLAnchorElement) {
    this.#kind = kind;
    this.#select = at<HTMLSelectElement>(kind);
    this.#link = link;
    this.#select.addEventListener('change', () => {
      this.#showLink();
      if (typeof this.value === 'string') localStorage.setItem(kind, this.value);
    });
  }

  get kind(): Kind {
    return this.#kind;
  }

  get value(): Chosen | undefined {
    const { value } = this.#select;
    if (value === EARLIER) return this.#earlier?.content;
    return value === '' ? undefined : value.slice(NAME.length);
  }

  has(name: string): boolean {
    return this.#names.includes(name);
  }

  focus(): void {
    this.#select.focus();
  }

  /** Reads the names anew and chooses one, or leaves the choice as it is. */
  async refresh(name?: string): Promise<void> {
    const { names } = await ask<{ names: string[] }>(`/v1/${this.#kind}s`);
    this.#names = names;
    this.#fill(name ?? this.value ?? localStorage.getItem(this.#kind) ?? undefined);
    if (name !== undefined) localStorage.setItem(this.#kind, name);
  }

  /** Chooses what an earlier job had. */
  choose(chosen: Chosen, job: number): void {
    if (typeof chosen === 'object') {
      const name = (chosen as { name?: string }).name ?? '';
      this.#earlier = { label: `as in job ${job}: ${name}`, content: chosen };
    }
    this.#fill(chosen);
  }

  #fill(chosen: Chosen | undefined): void {
    const options = this.#names.map((n) => make('option', { value: NAME + n }, n));
    if (this.#earlier) options.push(make('option', { value: EARLIER }, this.#earlier.label));
    this.#select.replaceChildren(
      make('option', { value: '' }, `Choose a ${this.#kind}`),
      ...options,
    );
    if (typeof chosen === 'object') this.#select.value = EARLIER;
    else if (chosen !== undefined && this.has(chosen)) this.#select.value = NAME + chosen;
    else this.#select.value = '';
    this.#showLink();
  }

  #showLink(): void {
    const { value } = this;
    if (!this.#link) return;
    this.#link.hidden = typeof value !== 'string';
    if (typeof value !== 'string') return;
    this.#link.href = `/v1/${this.#kind}s/${encodeURIComponent(value)}/page`;
    say(this.#link, `Show ${value}`);
  }
}

/** A name may be any text, so it never is the value alone. */
const NAME = 'name:';
const EARLIER = 'earlier';
