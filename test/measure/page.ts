/**
 * The tables of a page of measurements stand between markers, `<!-- measured: name -->` and
 * `<!-- end -->`, and are put there whole: what a person writes stands outside of them.
 */

/** What stands between the markers of one table. */
export interface Measured {
  readonly name: string;
  /** The command that prints it. */
  readonly command: string;
  /** When and on what it was measured. */
  readonly where: string;
  /** Lines of a Markdown table, header and rule among them. */
  readonly table: readonly string[];
}

const between = (name: string): RegExp =>
  new RegExp(`(<!-- measured: ${name} -->\\n)[^]*?(<!-- end -->)`);

/** The Markdown tables among the lines that a command prints. */
export const tableOf = (output: string): string[] =>
  output.split('\n').filter((line) => line.startsWith('|'));

/** @throws Error for a page without the markers, and for a table without a row */
export function put(page: string, { name, command, where, table }: Measured): string {
  if (!between(name).test(page)) throw new Error(`the page has no markers for "${name}"`);
  if (table.length < 3) throw new Error(`${command} printed a table of ${table.length} lines`);
  const content = [`\`${command}\`, ${where}:`, '', ...table].join('\n');
  return page.replace(between(name), (_, begin: string, end: string) => {
    return `${begin}\n${content}\n\n${end}`;
  });
}
