/** Creating and finding the page's elements. */

export type Child = Node | string;
type ElementAttributes = Readonly<
  Record<string, string | number | boolean | ((event: Event) => void)>
>;

export function el<K extends keyof HTMLElementTagNameMap>(
  name: K,
  attributes: ElementAttributes = {},
  ...children: readonly Child[]
): HTMLElementTagNameMap[K] {
  const element = document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) {
    if (typeof value === 'function') element.addEventListener(key, value);
    else if (value === true) element.setAttribute(key, '');
    else if (value !== false) element.setAttribute(key, String(value));
  }
  element.append(...children);
  return element;
}

/** The element of the template with this id. */
export function byId<T extends HTMLElement = HTMLElement>(id: string): T {
  const element = document.getElementById(id);
  if (!element) throw new Error(`the page has no #${id}`);
  return element as T;
}

/** A table with a heading row; cells that hold numbers are set to the right. */
export function table(
  caption: string,
  heads: readonly string[],
  rows: readonly (readonly Child[])[],
): HTMLTableElement {
  const body = el('tbody');
  for (const row of rows) {
    const cells = row.map((cell, i) =>
      i === 0 ? el('th', { scope: 'row' }, cell) : el('td', {}, cell),
    );
    body.append(el('tr', {}, ...cells));
  }
  const head = el('thead', {}, el('tr', {}, ...heads.map((h) => el('th', { scope: 'col' }, h))));
  return el('table', {}, el('caption', {}, caption), head, body);
}

/** A table or a picture that may be wider than its place. */
export const scroller = (inner: HTMLElement, label = 'table'): HTMLElement =>
  el('div', { class: 'scroller', tabindex: 0, role: 'region', 'aria-label': label }, inner);
