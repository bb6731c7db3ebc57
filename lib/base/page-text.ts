/** Text and data inside a page of HTML. */

/** Text that shows itself. */
export const escapeHtml = (text: string): string =>
  text.replace(/[&<>"]/g, (c) => ({ '&': '&amp;', '<': '&lt;', '>': '&gt;', '"': '&quot;' })[c]!);

/** JSON inside a script element, in which nothing ends that element. */
export const jsonForScript = (value: unknown): string =>
  JSON.stringify(value).replaceAll('<', '\\u003c');
