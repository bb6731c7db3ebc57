/**
 * The page that shows a machine: one file of HTML that needs no network. Its looks and behaviour come from a
 * template that the build makes of `page/client/machine`; here the content of the machine file and what its check
 * has found are put into it. The page reads the machine file by the same code as every command.
 */
import type { Finding } from '../base/fault.js';
import { escapeHtml, jsonForScript } from './page-text.js';

/** What stands in the page. */
export interface MachinePageData {
  /** Content of the machine file that needs no file beside it. */
  readonly content: unknown;
  readonly findings: readonly Finding[];
}

const SLOT = '<!--data-->';
const TITLE = '<!--title-->';

/**
 * @param template what the build leaves as dist/page/machine.html
 * @param name of the machine
 */
export function machinePage(template: string, name: string, data: MachinePageData): string {
  const [before, after] = template.split(SLOT);
  if (after === undefined) throw new Error(`the template of the machine's page has no ${SLOT}`);
  return before!.replace(TITLE, () => escapeHtml(name)) + jsonForScript(data) + after;
}
