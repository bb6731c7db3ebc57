/** The few things that the page does with its document. */

type Child = Node | string;

/** A new element with attributes (undefined ones left out) and children. */
export function make<K extends keyof HTMLElementTagNameMap>(
  tag: K,
  attributes: Readonly<Record<string, string | undefined>> = {},
  ...children: Child[]
): HTMLElementTagNameMap[K] {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes))
    if (value !== undefined) element.setAttribute(name, value);
  element.append(...children);
  return element;
}

/** The element of the markup with this id. */
export function at<T extends HTMLElement = HTMLElement>(id: string): T {
  const element = document.getElementById(id);
  if (!element) throw new Error(`no element ${id}`);
  return element as T;
}

/** Replaces what an element holds, but only if the words differ: a live region speaks when it changes. */
export function say(element: HTMLElement, text: string): void {
  if (element.textContent !== text) element.textContent = text;
}
